"""Own folders beside a book: what they add and replace, what they may not, and where everything came from."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from importlib.metadata import EntryPoint
from pathlib import Path
from typing import Any

import pytest

from diagnose.book import place
from diagnose.book.cache import decode, encode
from diagnose.book.load import read_book
from diagnose.book.model import Book
from diagnose.book.place import adds_to, rule_folders, shipped_rules
from diagnose.book.shelf import load_book
from diagnose.errors import BookError, Location
from tests.book.broken_books import lay_small

OWN = Path(__file__).with_name("own")


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """The small book."""
    return lay_small(tmp_path)


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A copy of the own folder beside it."""
    return Path(shutil.copytree(OWN, tmp_path / "own"))


def read_well(*folders: Path) -> Book:
    """The book of these folders, which must be free of errors."""
    book, problems = read_book(*folders)
    assert [problem for problem in problems if problem.severity == "error"] == []
    assert book
    return book


def errors(*folders: Path) -> list[tuple[str, str, int]]:
    """Code, file and line of every error."""
    _, problems = read_book(*folders)
    return [(one.code, Path(one.where.file).name, one.where.line) for one in problems if one.severity == "error"]


def write(folder: Path, file: str, text: str) -> None:
    """Write a file of an own folder."""
    path = folder / file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def change(folder: Path, file: str, old: str, new: str) -> None:
    """Change a word of a file, which must be there."""
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    write(folder, file, text.replace(old, new))


# --- what a folder adds and replaces ---------------------------------------------------------------------------------


def test_what_is_added_has_the_folders_name_before_its_id(base: Path, own: Path) -> None:
    """In every kind of thing, and in every mention of it; what is the book's keeps its bare id."""
    book = read_well(base, own)
    assert {"our-shop:basket-slaps", "gap-wrong", "preload-lost"} <= set(book.causes)
    cause = book.causes["our-shop:basket-slaps"]
    assert cause.applies == {"our-shop:carries": ("basket",)}
    assert set(cause.shares) == {"front-knock"}
    assert set(cause.shows) == {"play-at-headset", "our-shop:basket-hooks"}
    fix = book.fixes["our-shop:wrap-hooks"]
    assert (fix.home, fix.tools) == ("our-shop:basket-slaps", ("our-shop:hook-tape",))
    assert fix.steps[0].text.endswith("the strap holds {our-shop:strap-pull}.")
    assert (fix.steps[0].limits, fix.steps[0].cautions) == (("our-shop:strap-pull",), ("pinch",))
    assert book.checks["our-shop:lift-the-basket"].finding == "our-shop:basket-hooks"
    deduction = book.deductions["our-shop:basket-and-knock"]
    assert [when.key for when in deduction.when] == ["our-shop:carries", "complaint"]
    assert set(deduction.likelier) == {"our-shop:basket-slaps", "preload-lost"}
    assert book.facts["our-shop:carries"].name == "carries"


def test_places_are_those_of_the_folders_files(base: Path, own: Path) -> None:
    """Of entries and of what stands under an id."""
    book = read_well(base, own)
    share = book.causes["our-shop:basket-slaps"].shares["front-knock"]
    assert share.where == Location((own / "causes/basket-slaps.yaml").as_posix(), 5, 27)


def test_what_replaces_takes_the_id_and_all_ties(base: Path, own: Path) -> None:
    """Deductions, worked cases and other causes go on speaking of it; only its content is the folder's."""
    before, book = read_well(base), read_well(base, own)
    assert book.causes["gap-wrong"].name == "gap above the steerer not ours"
    assert book.causes["gap-wrong"].shares["front-knock"].of_100 == 25
    assert book.fixes["correct-gap"].name == "Add one of our spacers"
    assert book.cured["preload-lost", "correct-gap"] == before.cured["preload-lost", "correct-gap"]
    assert book.tools["hex-keys"] == "our long hex keys"
    assert (before.constants.rate, book.constants.rate) == (1.0, 1.5)
    assert book.constants._replace(rate=1.0) == before.constants


SAYING = 'front-knock: {adds_to: front-knock, rider_says: ["it clonks on cobbles"]}\n'


def test_a_folder_adds_a_riders_sentence_to_a_complaint(base: Path, own: Path) -> None:
    """All else of the complaint stays the book's, and the sentence says whose it is; the cache keeps it."""
    before = read_well(base, own).complaints["front-knock"]
    write(own, "complaints.yaml", SAYING)
    book = read_well(base, own)
    after = book.complaints["front-knock"]
    assert after.rider_says == (*before.rider_says, "it clonks on cobbles")
    assert after.added == {"our-shop": ("it clonks on cobbles",)}
    assert after._replace(rider_says=before.rider_says, added={}) == before
    assert book.volume_of("front-knock").id == "small"
    assert decode(encode(book)) == book


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (SAYING.replace("adds_to: front-knock", "adds_to: front-knok"), "adds.unknown"),
        (SAYING.replace("front-knock:", "our-knock:"), "adds.name"),
        (SAYING.replace("rider_says", "rider_say"), "key.unknown"),
        (SAYING.replace("}", ", something_else: 3 in 100}"), "key.unknown"),
    ],
)
def test_sentences_that_go_nowhere_are_told(base: Path, own: Path, text: str, code: str) -> None:
    """Another name, a complaint that is not there, and anything else than sentences."""
    write(own, "complaints.yaml", text)
    assert code in [one for one, file, _ in errors(base, own) if file == "complaints.yaml"]


def test_everything_says_where_it_came_from(base: Path, own: Path) -> None:
    """By its id: the folder's name, or the book itself; what was replaced is of the folder now."""
    book = read_well(base, own)
    assert [(one.id, one.title, one.adds_to) for one in book.volumes] == [
        ("small", "A small book", ""),
        ("our-shop", "Rules of our shop", "small"),
    ]
    for name, volume in {
        "our-shop:basket-slaps": "our-shop",
        "our-shop:lift-the-basket": "our-shop",
        "gap-wrong": "our-shop",
        "correct-gap": "our-shop",
        "hex-keys": "our-shop",
        "preload-lost": "small",
        "set-preload": "small",
    }.items():
        assert book.volume_of(name).id == volume, name


def test_the_fingerprint_is_of_all_folders(base: Path, own: Path) -> None:
    """Alone a book keeps its own; any change in any folder changes that of the whole."""
    alone, both = read_well(base), read_well(base, own)
    assert alone.fingerprint == alone.volumes[0].fingerprint == both.volumes[0].fingerprint
    assert both.fingerprint != alone.fingerprint
    change(own, "tools.yaml", "tape for hooks", "tape")
    after = read_well(base, own)
    assert after.volumes[0].fingerprint == both.volumes[0].fingerprint
    assert len({alone.fingerprint, both.fingerprint, after.fingerprint}) == 3


def test_the_cache_keeps_the_folders(base: Path, own: Path) -> None:
    """A copy says the same as the reading, and belongs to these folders only."""
    book = read_well(base, own)
    assert decode(encode(book)) == book
    assert load_book(base, own) == book
    assert load_book(base, own) == book
    assert load_book(base).volumes == (book.volumes[0],)


def without(folder: str, value: Any) -> Any:
    """A book's content without the folder's name, and without places and origin."""
    if isinstance(value, Location):
        return None
    if isinstance(value, str):
        return value.replace(f"{folder}:", "")
    if isinstance(value, Book):
        own = ("fingerprint", "volumes", "replaced", "constants")
        return {name: without(folder, getattr(value, name)) for name in Book.__dataclass_fields__ if name not in own}
    if isinstance(value, dict):
        return {without(folder, key): without(folder, one) for key, one in value.items()}
    if isinstance(value, tuple):
        return [without(folder, one) for one in value]
    return value


def test_a_folder_says_the_same_as_if_it_stood_in_the_book(base: Path, own: Path) -> None:
    """The book with the folder against one book into which the same files were copied by hand."""
    beside = read_well(base, own)
    (base / "front/causes/gap-wrong.yaml").unlink()
    tools = (base / "tools.yaml").read_text(encoding="utf-8")
    write(base, "tools.yaml", re.sub(r"^hex-keys:.*\n", 'hex-keys: "our long hex keys"\n', tools, flags=re.MULTILINE))
    change(own, "causes/gap-wrong.yaml", "replaces: gap-wrong\n", "")
    change(own, "tools.yaml", 'hex-keys: {text: "our long hex keys", replaces: hex-keys}\n', "")
    (own / "book.yaml").unlink()
    shutil.copytree(own, base / "ours")
    assert without("our-shop", read_well(base)) == without("our-shop", beside)


# --- names ------------------------------------------------------------------------------------------------------------


def test_two_folders_may_have_one_id_and_speak_of_each_other(base: Path, own: Path, tmp_path: Path) -> None:
    """`folder:id` says whose; without it the folder's own is meant, then the book's."""
    other = tmp_path / "other"
    write(other, "book.yaml", 'book: other\ntitle: "Another"\nadds_to: small\n')
    write(other, "facts.yaml", (own / "facts.yaml").read_text(encoding="utf-8"))
    rule = "{when: {%s}, then: {rule_out: [%s]}, because: It is so., basis: memory}\n"
    write(
        other,
        "deductions.yaml",
        "a: "
        + rule % ("carries: nothing", "our-shop:basket-slaps")
        + "b: "
        + rule % ("our-shop:carries: nothing", "small:preload-lost"),
    )
    book = read_well(base, own, other)
    assert {"our-shop:carries", "other:carries"} <= set(book.facts)
    one, two = book.deductions["other:a"], book.deductions["other:b"]
    assert (one.when[0].key, one.rule_out) == ("other:carries", ("our-shop:basket-slaps",))
    assert (two.when[0].key, two.rule_out) == ("our-shop:carries", ("preload-lost",))


def test_a_former_id_is_of_the_folder_too(base: Path, own: Path) -> None:
    """So that stored jobs find what was renamed."""
    change(own, "causes/basket-slaps.yaml", "danger: none", "formerly: [basket-jumps]\ndanger: none")
    assert read_well(base, own).formerly == {"our-shop:basket-jumps": "our-shop:basket-slaps"}


# --- never by accident ------------------------------------------------------------------------------------------------

FIX = "  - fix: wrap-hooks\n"
ACCIDENTS: dict[str, tuple[Callable[[Path], None], list[tuple[str, str, int]]]] = {
    "a cause of the book's name": (
        lambda own: change(own, "causes/gap-wrong.yaml", "replaces: gap-wrong\n", ""),
        [("id.clash", "gap-wrong.yaml", 1), ("id.clash", "gap-wrong.yaml", 13)],
    ),
    "a fix of the book's name": (
        lambda own: change(own, "causes/basket-slaps.yaml", FIX, "  - fix: set-preload\n"),
        [("id.clash", "basket-slaps.yaml", 12)],
    ),
    "a check of the book's name": (
        lambda own: change(own, "findings.yaml", "lift-the-basket", "turn-bars"),
        [("id.clash", "findings.yaml", 7)],
    ),
    "a limit named like a cause": (
        lambda own: write(own, "limits.yaml", (own / "limits.yaml").read_text().replace("strap-pull", "preload-lost")),
        [
            ("id.clash", "limits.yaml", 1),
            ("id.unknown", "basket-slaps.yaml", 19),
            ("id.unknown", "basket-slaps.yaml", 19),
        ],
    ),
    "a tool of the book's name": (
        lambda own: write(own, "tools.yaml", 'hook-tape: "tape"\nhex-keys: "ours"\n'),
        [("id.clash", "tools.yaml", 2)],
    ),
    "a constant that is not named": (
        lambda own: change(own, "book.yaml", "replaces: [labour_rate]\n", ""),
        [("id.clash", "book.yaml", 4)],
    ),
    "a constant that is not given": (
        lambda own: change(own, "book.yaml", "labour_rate: 90\n", ""),
        [("replaces.unknown", "book.yaml", 4)],
    ),
    "what replaces nothing": (
        lambda own: change(own, "causes/gap-wrong.yaml", "replaces: gap-wrong", "replaces: gap-wrnog"),
        [
            ("id.clash", "gap-wrong.yaml", 1),
            ("id.clash", "gap-wrong.yaml", 14),
            ("replaces.unknown", "gap-wrong.yaml", 3),
        ],
    ),
    "what replaces another kind": (
        lambda own: change(own, "causes/gap-wrong.yaml", "replaces: gap-wrong", "replaces: front-knock"),
        [
            ("id.clash", "gap-wrong.yaml", 1),
            ("id.clash", "gap-wrong.yaml", 14),
            ("replaces.unknown", "gap-wrong.yaml", 3),
        ],
    ),
    "what replaces under another name": (
        lambda own: change(own, "causes/basket-slaps.yaml", "basis:", "replaces: preload-lost\nbasis:"),
        [("replaces.name", "basket-slaps.yaml", 6)],
    ),
    "a fix that others need goes with the cause": (
        lambda own: change(own, "causes/gap-wrong.yaml", "fix: correct-gap", "fix: our-gap"),
        [("id.unknown", "bearings-worn.yaml", 0), ("id.unknown", "preload-lost.yaml", 0)],
    ),
    "another book": (
        lambda own: change(own, "book.yaml", "adds_to: small", "adds_to: large"),
        [("book.adds-to", "book.yaml", 3)],
    ),
    "the book's own name": (
        lambda own: change(own, "book.yaml", "book: our-shop", "book: small"),
        [("book.twice", "book.yaml", 1)],
    ),
    "an id with a colon": (
        lambda own: write(own, "parts.yaml", "our-shop:bell: {name: bell, price: {low: 1, high: 2}}\n"),
        [("id.malformed", "parts.yaml", 1)],
    ),
    "another folder's thing that is not there": (
        lambda own: change(own, "causes/basket-slaps.yaml", "carries: basket", "other:carries: basket"),
        [("id.unknown", "basket-slaps.yaml", 4)],
    ),
}


@pytest.mark.parametrize("name", ACCIDENTS)
def test_nothing_of_the_book_is_changed_by_accident(name: str, base: Path, own: Path) -> None:
    """Each is an error with its place; line 0 stands for any."""
    spoil, expected = ACCIDENTS[name]
    spoil(own)
    found = errors(base, own)
    marked = [(code, file, 0 if (code, file, 0) in expected else line) for code, file, line in found]
    assert sorted(marked) == sorted(expected)


def test_a_clash_says_where_the_other_stands_and_what_to_write(base: Path, own: Path) -> None:
    """Place, and both ways out; of another kind only one."""
    change(own, "causes/gap-wrong.yaml", "replaces: gap-wrong\n", "")
    change(own, "causes/basket-slaps.yaml", FIX, "  - fix: preload-lost\n")
    _, problems = read_book(base, own)
    told = {Path(one.where.file).name + str(one.where.line): (one.message, one.hint) for one in problems}
    there = (base / "front/causes/gap-wrong.yaml").as_posix()
    assert told["gap-wrong.yaml1"] == (
        f"'gap-wrong' is a cause of the book 'small' too, at {there}:1:1",
        (
            "Delete it here to use the book's, give it another id, "
            "or say `replaces: gap-wrong` if it is to take that one's place."
        ),
    )
    assert told["basket-slaps.yaml12"][1] == "Give it another id."


def test_two_folders_cannot_replace_one_thing(base: Path, own: Path, tmp_path: Path) -> None:
    """The second is told."""
    other = Path(shutil.copytree(own, tmp_path / "second"))
    change(other, "book.yaml", "book: our-shop", "book: second")
    assert ("replaces.twice", "gap-wrong.yaml", 3) in errors(base, own, other)


def test_nothing_is_replaced_in_the_book_itself(base: Path) -> None:
    """There it would be a slip."""
    change(base, "front/causes/gap-wrong.yaml", "basis:", "replaces: preload-lost\nbasis:")
    assert [code for code, *_ in errors(base)] == ["replaces.base"]


def test_a_folder_without_a_name_is_told(base: Path, own: Path) -> None:
    """It is read all the same."""
    (own / "book.yaml").unlink()
    codes = [code for code, *_ in errors(base, own)]
    assert "book.constants" in codes


# --- which folders ----------------------------------------------------------------------------------------------------


@pytest.fixture
def brought(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Says what other packages bring: entry points by name, each a value as a package declares it."""

    def bring(**values: str) -> None:
        points = [EntryPoint(name, value, place.GROUP) for name, value in values.items()]
        monkeypatch.setattr("importlib.metadata.entry_points", lambda group: points if group == place.GROUP else [])

    return bring


FOR_SHIPPED = OWN
A_FUNCTION = f"{__name__}:FOR_SHIPPED"


def test_the_shipped_book_comes_first_then_own_folders(own: Path) -> None:
    """Each once, however often it is named."""
    assert rule_folders() == (shipped_rules(),)
    assert rule_folders([own, own / ".." / "own"]) == (shipped_rules(), own)
    assert (adds_to(own), adds_to(shipped_rules()), adds_to(own / "nowhere")) == ("small", None, None)


def test_a_whole_book_stands_instead_of_the_shipped_one(base: Path, own: Path) -> None:
    """Wherever it is named among the own folders; two of them are refused."""
    assert rule_folders([own, base]) == (base, own)
    with pytest.raises(BookError, match="two books, each whole in itself"):
        rule_folders([base, shipped_rules()])


def test_the_environment_names_folders_too(base: Path, own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before those of the command line."""
    monkeypatch.setenv(place.VARIABLE, f"{base}:{own}")
    assert rule_folders() == (base, own)


def test_settings_name_folders_too(base: Path, own: Path, tmp_path: Path) -> None:
    """Where they fit the book; a whole book among them gives way to one that is given, a lost folder is told."""
    assert rule_folders([base], [own]) == (base, own)
    assert rule_folders([own], [base]) == (base, own)
    assert rule_folders([], [own]) == (shipped_rules(),)
    assert rule_folders([shipped_rules()], [base, own]) == (shipped_rules(),)
    with pytest.raises(BookError, match="the settings name a folder of rules that has no book") as why:
        rule_folders([], [tmp_path / "lost"])
    assert why.value.code == "book.settled"


def test_another_package_brings_a_folder(base: Path, brought: Callable[..., None]) -> None:
    """For the book that it adds to; with another book it is left out."""
    brought(shop=A_FUNCTION)
    assert rule_folders([base]) == (base, OWN)
    assert rule_folders() == (shipped_rules(),)


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("no_such_module:folder", "ModuleNotFoundError"),
        ("pathlib:nothing", "AttributeError"),
        ("os:getpid", "TypeError"),
        ("os:sep", "there is no book.yaml in /"),
    ],
)
def test_a_package_that_brings_no_folder_is_told(value: str, told: str, brought: Callable[..., None]) -> None:
    """By its name, whatever it does."""
    brought(shop=value)
    with pytest.raises(BookError) as why:
        rule_folders()
    assert why.value.code == "book.package"
    assert "'shop'" in why.value.message
    assert told in why.value.message
