"""The torque list: the joints of the work done that this bike has, on the shipped book."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from diagnose.book.model import Book
from diagnose.casework import events
from diagnose.casework.desk import Desk
from diagnose.casework.memory import MemoryStore
from diagnose.casework.sheet import make_sheet
from diagnose.casework.torques import joints
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Answer, Situation
from tests.shipped import shipped_book

SIX, LOCK = "disc-bolt-torque", "disc-lockring-torque"
SPROCKETS = "sprocket-lockring"
THROUGH, FRONT, REAR = "through-axle-torque", "wheel-nuts-front", "wheel-nuts-rear"


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped book."""
    return shipped_book()


@pytest.mark.parametrize(
    ("fix", "profile", "listed"),
    [
        ("replace-spoke", {"brake": "rim", "axle": "quick-release"}, [SPROCKETS]),
        ("replace-spoke", {"brake": "hydraulic-disc", "axle": "through-axle"}, [SPROCKETS, SIX, f"or {LOCK}", THROUGH]),
        ("reset-steerer-anchor", {"steerer": "metal"}, ["stem-steerer-clamp"]),
        ("reset-steerer-anchor", {"steerer": "carbon"}, ["expander-bolt", "stem-steerer-clamp"]),
        ("refasten-brake", {"brake": "rim"}, ["rim-caliper-bolt", "or rim-brake-boss-bolt"]),
        ("refasten-brake", {"brake": "cable-disc"}, ["caliper-bolt-torque"]),
        ("free-dragging-brake", {"brake": "coaster", "axle": "nuts"}, [REAR]),
        ("tighten-axle", {"axle": "quick-release"}, []),
        ("tighten-axle", {"axle": "nuts"}, [FRONT, f"or {REAR}"]),
        ("tighten-axle", {}, [THROUGH, f"or {FRONT}", f"or {REAR}"]),
        ("replace-rear-mech", {"shifting": "electronic"}, ["mech-mount-bolt"]),
        ("renew-gear-cable", {"shifting": "hub-gear"}, []),
        ("tighten-saddle-clamp", {}, ["saddle-clamp-one-bolt", "or saddle-clamp-two-bolts"]),
        (
            "reassemble-headset",
            {},
            ["top-cap-bolt", "or threaded-lock-nut", "stem-steerer-clamp", "or quill-wedge-bolt"],
        ),
        ("reassemble-headset", {"headset": "threaded"}, ["threaded-lock-nut", "quill-wedge-bolt"]),
        ("air-seal-service", {"suspension": "fork", "spring": "air"}, ["air-cap-torque", "fork-foot-torque"]),
    ],
)
def test_only_what_the_bike_has_is_listed(book: Book, fix: str, profile: Mapping[str, str], listed: list[str]) -> None:
    """What the profile rules out is left out; of what it leaves open the bike has this or that."""
    told = Situation((), profile={fact: (value,) for fact, value in profile.items()})
    found = [f"or {limit.id}" if instead else limit.id for limit, instead, _ in joints(book, told, [fix])]
    assert found == listed


@pytest.mark.parametrize(
    ("held_by", "listed", "lever"),
    [("bolt", ["post-collar-bolt"], False), ("lever-firm", [], True), (None, ["post-collar-bolt"], True)],
)
def test_a_post_held_by_a_lever_has_no_bolt_to_torque(
    book: Book, held_by: str | None, listed: list[str], lever: bool
) -> None:
    """The step with the torque is for a bolt, another for a lever; both are told where nobody has looked."""
    told = Situation(("part-slips",), answers=(Answer("look-how-post-is-held", "post-held-by", held_by, "mechanic"),))
    assert [one.limit.id for one in joints(book, told, ["set-insertion"])] == listed
    steps = [step.text for step in book.fixes["set-insertion"].steps if told.takes(step)]
    assert any(text.startswith("A lever:") for text in steps) == lever
    assert any(text.startswith("A bolt:") for text in steps) == bool(listed)


def test_what_another_fix_touches_for_certain_stands_by_itself(book: Book) -> None:
    """Rear nuts that belong to the work on the hub brake are no choice between front and rear."""
    told = Situation((), profile={"axle": ("nuts",), "brake": ("coaster",)})
    found = joints(book, told, ["replace-tube", "set-brake-hub-cones"])
    assert [(limit.id, instead) for limit, instead, _ in found] == [
        (FRONT, False),
        (REAR, False),
        ("reaction-arm-torque", False),
    ]


@pytest.mark.parametrize(
    ("fix", "profile", "perhaps"),
    [
        ("tighten-axle", {}, True),
        ("tighten-axle", {"axle": "nuts"}, False),
        ("replace-tube", {"which-wheel": "front"}, True),
        ("reassemble-headset", {}, False),
    ],
)
def test_an_axle_that_nobody_told_may_have_nothing_to_torque(
    book: Book, fix: str, profile: Mapping[str, str], perhaps: bool
) -> None:
    """A quick release has no figure in N.m; a headset is of one kind or the other."""
    told = Situation((), profile={fact: (value,) for fact, value in profile.items()})
    found = joints(book, told, [fix])
    assert found
    assert {one.perhaps for one in found} == {perhaps}


def test_every_limit_in_place_of_another_can_stand_on_the_torque_list(book: Book) -> None:
    """Both are torques, and those that stand for one another all name the same one."""
    for limit in book.limits.values():
        if limit.instead_of:
            other = book.limits[limit.instead_of]
            assert (limit.unit, other.unit, other.instead_of) == ("N.m", "N.m", "")


def test_sheet_and_screen_list_the_same(book: Book) -> None:
    """What is to be signed on paper is what is ticked off on the screen."""
    with MemoryStore() as store:
        desk = Desk(Reasoner(book), store)
        case = desk.open()
        desk.submit(case, events.profile("brake", ["hydraulic-disc"]))
        desk.submit(case, events.profile("axle", ["quick-release"]))
        desk.submit(case, events.complaint("wheel-wobbles"))
        desk.submit(case, events.fix_done("replace-spoke", {"wheel-wobbles": "gone"}))
        screen = [(one["quantity"], one["instead"]) for one in desk.torques(case)]
        assert screen == [(one.quantity, one.instead) for one in make_sheet(desk, case).signed]
    assert screen == [
        ("sprockets' lockring", False),
        ("bolts of a six-bolt disc", False),
        ("lockring of a centre-lock disc", True),
    ]
