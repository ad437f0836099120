"""What a file lets stand with a reason: where it may say so, of what, and what becomes of a line that does nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.book.broken_books import lay_small, told

UNUSED = """
crown-race-seat:
  quantity: "seat of the crown race"
  low: 26.4
  unit: mm
  kind: minimum
  basis: memory
"""
ALIKE = """
name: "crown race loose"
in_short: "The lower race turns on the fork."
common_for: {front-knock: 3 in 100}
basis: memory
shows: {play-at-headset: {clear: very likely}, steerer-gap: {right: very likely}}
danger: none
hand_off: {class: frame-builder, urgency: soon, reason: "The seat is cut anew."}
"""


def said(place: Path, file: str, text: str) -> list[str]:
    """What is told of the small book with this added to a file, line by line, without the reasons."""
    folder = lay_small(place)
    path = folder / file
    before = path.read_text(encoding="utf-8") if path.exists() else ""
    path.write_text(before + text.lstrip("\n"), encoding="utf-8")
    return [line for line in told(folder).splitlines() if not line.startswith("    ")]


def test_a_reason_lets_a_finding_stand(tmp_path: Path) -> None:
    """It is counted and not told."""
    lines = said(tmp_path, "front/limits.yaml", f'{UNUSED}  let_stand: {{limit.unused: "The next system needs it."}}\n')
    assert lines[-2:] == ["0 errors, 0 warnings, 1 let stand with a reason.", "exit 0"]
    assert not any("crown-race-seat" in line for line in lines)


def test_a_finding_without_a_reason_stands_for_nothing(tmp_path: Path) -> None:
    """The same without the line is a warning."""
    lines = said(tmp_path, "front/limits.yaml", UNUSED)
    assert any("'crown-race-seat'" in line and line.endswith("[limit.unused]") for line in lines)


NOT_KNOWN = (
    "error: the check knows no finding 'limit.unsed' that could be let stand. Did you mean 'limit.unused'? "
    "[let-stand.unknown]"
)
NOT_HERE = "warning: there is no finding '{}' here (any more) to let stand. Delete the line. [let-stand.unused]"
OF_NOBODY = NOT_HERE.format("limit.unused' about 'stem-clamp")


@pytest.mark.parametrize(
    ("line", "told_of_it"),
    [
        ('{limit.unsed: "Later."}', NOT_KNOWN),
        ('{deduction.conflict: "Later."}', NOT_HERE.format("deduction.conflict")),
        ('{limit.unused: {stem-clamp: "Later."}}', OF_NOBODY),
    ],
)
def test_a_reason_that_lets_nothing_stand_is_told(line: str, told_of_it: str, tmp_path: Path) -> None:
    """With its own place; the finding is told as before."""
    lines = said(tmp_path, "front/limits.yaml", f"{UNUSED}  let_stand: {line}\n")
    assert any(one.startswith("book/front/limits.yaml:23:") and one.endswith(told_of_it) for one in lines), lines
    assert any(one.endswith("[limit.unused]") for one in lines)


@pytest.mark.parametrize("line", ["Later.", "[limit.unused]", "{limit.unused: }", "{limit.unused: []}", "{}"])
def test_a_reason_is_wanted(line: str, tmp_path: Path) -> None:
    """A code alone, or a reason of nothing, is refused when the book is read."""
    lines = said(tmp_path, "front/limits.yaml", f"{UNUSED}  let_stand: {line}\n")
    assert lines[0].startswith("book/front/limits.yaml:23:")
    assert lines[0].split(": ")[1] == "error"
    assert lines[-1] == "exit 1"


@pytest.mark.parametrize("owner", ["race-loose", "preload-lost"])
def test_either_of_two_that_a_finding_is_about_may_let_it_stand(owner: str, tmp_path: Path) -> None:
    """By naming the other; only that pair is let stand."""
    other = {"race-loose": "preload-lost", "preload-lost": "race-loose"}[owner]
    reason = f'let_stand: {{cause.not-separable: {{{other}: "Told apart at the bench only."}}}}\n'
    folder = lay_small(tmp_path)
    causes = folder / "front" / "causes"
    (causes / "race-loose.yaml").write_text(ALIKE.lstrip(), encoding="utf-8")
    before = (causes / f"{owner}.yaml").read_text(encoding="utf-8")
    assert "[cause.not-separable]" in told(folder)
    (causes / f"{owner}.yaml").write_text(before + reason, encoding="utf-8")
    assert "[cause.not-separable]" not in told(folder)
    (causes / f"{owner}.yaml").write_text(before + reason.replace(f"{{{other}:", "{gap-wrong:"), encoding="utf-8")
    assert "[cause.not-separable]" in told(folder)
    assert "[let-stand.unused]" in told(folder)


KINDS = {
    "facts.yaml": "headset",
    "conclusions.yaml": "front-end-history",
    "teardowns.yaml": "wheel-out",
    "parts.yaml": "headset-bearings",
    "hand-offs.yaml": "workshop",
    "front/limits.yaml": "stem-clamp",
    "front/complaints.yaml": "front-knock",
    "front/findings.yaml": "steering-feel",
    "front/deductions.yaml": "stem-was-off",
}


@pytest.mark.parametrize("file", [*KINDS, "front/causes/gap-wrong.yaml", "check", "fix"])
def test_every_kind_of_entry_may_let_something_stand(file: str, tmp_path: Path) -> None:
    """The line is read wherever it stands: one that lets nothing stand is told, at its place."""
    folder = lay_small(tmp_path)
    line = 'let_stand: {limit.unused: "So."}'
    files = {"check": "front/findings.yaml", "fix": "front/causes/gap-wrong.yaml"}
    path = folder / files.get(file, file)
    text = path.read_text(encoding="utf-8")
    if file == "check":
        text = text.replace("    turn-bars:\n", f"    turn-bars:\n      {line}\n")
    elif file == "fix":
        text = text.replace('    name: "Add a spacer"\n', f'    name: "Add a spacer"\n    {line}\n')
    elif file in KINDS and f"{KINDS[file]}: {{" in text:
        text = text.replace(f"{KINDS[file]}: {{", f"{KINDS[file]}: {{{line}, ")
    elif file in KINDS:
        text = text.replace(f"{KINDS[file]}:\n", f"{KINDS[file]}:\n  {line}\n")
    else:
        text += f"{line}\n"
    path.write_text(text, encoding="utf-8")
    assert "[let-stand.unused]" in told(folder)
    assert "0 errors, 1 warning." in told(folder)
