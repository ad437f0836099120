"""Case files run against a book, and held against what they expect.

Cast: `replay(reasoner, case)` gives the View of a case with its expectations filled in, `verdict` the expectations
alone, `situation_of` what is known at its end; `find_cases` lists the files of a folder.
"""

from __future__ import annotations

import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from diagnose.book.files import Refuse, yaml_files
from diagnose.book.shape import Fields
from diagnose.casework.casefile import CaseFile
from diagnose.casework.fold import Folded, fold
from diagnose.casework.view import View, glimpse, make_view
from diagnose.errors import CaseError, Location
from diagnose.reason.reasoner import Reasoner
from diagnose.reason.situation import Situation


def find_cases(path: Path, refuse: Refuse | None = None) -> list[Path]:
    """The case files of a folder, sorted, or the file itself (which reading it may find missing).

    Args:
        path: a file or folder.
        refuse: takes folders in it that cannot be read; raised as well when None.

    Raises:
        DiagnoseError: the folder is unreadable or holds no case file.
    """
    try:
        is_folder = stat.S_ISDIR(path.stat().st_mode)
    except (OSError, ValueError):
        return [path]
    if not is_folder:
        return [path]
    found = sorted(yaml_files(path, refuse))
    if not found:
        raise CaseError("case.none", "this folder holds no case file", Location(str(path)), "Name a folder of cases.")
    return found


def replay(reasoner: Reasoner, case: CaseFile, *, with_estimate: bool = False, with_why: bool = False) -> View:
    """The View at the end of a case, with `expectations` and `holds`."""
    view = make_view(
        reasoner,
        _folded(reasoner, case),
        sentence=case.sentence,
        file=case.file,
        with_estimate=with_estimate,
        with_why=with_why,
    )
    view["expectations"] = _expectations(case, view)
    view["holds"] = all(one["holds"] for one in view["expectations"])
    return view


def verdict(reasoner: Reasoner, case: CaseFile) -> View:
    """Of a View only `case`, `file`, `expectations` and `holds`: nothing else is worked out."""
    expectations = _expectations(case, glimpse(reasoner, _folded(reasoner, case)))
    holds = all(one["holds"] for one in expectations)
    return {"case": case.sentence, "file": case.file, "expectations": expectations, "holds": holds}


def situation_of(reasoner: Reasoner, case: CaseFile) -> Situation:
    """All that reasoning sees of a case at its end."""
    return _folded(reasoner, case).situation


def _folded(reasoner: Reasoner, case: CaseFile) -> Folded:
    try:
        return fold(reasoner.book, case.told)
    except CaseError as why:
        raise CaseError(why.code, why.message, why.location or Location(case.file, 1, 1), why.hint) from None


def _expectations(case: CaseFile, view: View) -> list[View]:
    return [
        {"path": path, "expected": expected, "found": found, "holds": holds}
        for path, expected, found, holds in _compare(case, view)
    ]


Compared = tuple[str, Any, Any, bool]


def _compare(case: CaseFile, view: View) -> Iterator[Compared]:
    yield from _compare_belief(case.expect, view)
    yield from _compare_steps(case.expect, view)
    most = case.expect["questions_at_most"]
    if most is not None:
        yield "questions_at_most", most, case.questions, case.questions <= most


def _compare_belief(expect: Fields, view: View) -> Iterator[Compared]:
    if expect["top"] is not None:
        yield _top(expect["top"], view)
    for cause in expect["in_first_three"]:
        firsts = {one["id"] for complaint in view["complaints"] for one in complaint["causes"][:3]}
        yield "in_first_three", cause, sorted(firsts), cause in firsts
    for share in expect["share"]:
        yield _share(share, view)
    for cause in expect["ruled_out"]:
        out = [one["cause"] for one in view["ruled_out"]]
        yield "ruled_out", cause, out, cause in out or not _share_of(cause, view)


def _compare_steps(expect: Fields, view: View) -> Iterator[Compared]:
    if expect["next"] is not None:
        yield "next", expect["next"], view["next"]["id"], view["next"]["id"] == expect["next"]
    if expect["ride"] is not None:
        yield "ride", expect["ride"], view["ride"]["verdict"], view["ride"]["verdict"] == expect["ride"]
    if expect["plan_order"]:
        found = [one["fix"] for one in view["plan"]]
        yield "plan_order", list(expect["plan_order"]), found, _in_order(expect["plan_order"], found)
    if expect["hand_off"] is not None:
        classes = [one["class"] for one in view["hand_off"]]
        yield "hand_off", expect["hand_off"], classes, expect["hand_off"] in classes
    for name in expect["never"]:
        yield _never(name, view)


def _tops(view: View) -> dict[str, str]:
    """The likeliest of each complaint, `something-else` included."""
    tops = {}
    for complaint in view["complaints"]:
        best = complaint["causes"][0] if complaint["causes"] else None
        known = best["share"] if best else 0.0
        tops[complaint["id"]] = best["id"] if best and known >= complaint["something_else"] else "something-else"
    return tops


def _top(expected: Any, view: View) -> Compared:
    tops = _tops(view)
    if isinstance(expected, dict):
        return "top", expected, tops, all(tops[complaint] == cause for complaint, cause in expected.items())
    found = list(tops.values())
    return "top", expected, found[0] if len(found) == 1 else found, expected in found


def _share_of(cause: str, view: View) -> float:
    if cause == "something-else":
        return max(float(complaint["something_else"]) for complaint in view["complaints"])
    shares = [
        float(one["share"]) for complaint in view["complaints"] for one in complaint["causes"] if one["id"] == cause
    ]
    return max(shares, default=0.0)


def _share(expected: Any, view: View) -> Compared:
    found = _share_of(expected["cause"], view)
    wanted = f"{expected['cause']} {expected['low']:g} to {expected['high']:g}"
    return "share", wanted, round(found, 4), expected["low"] <= found <= expected["high"]


def _in_order(wanted: tuple[str, ...], found: list[str]) -> bool:
    places = [found.index(name) if name in found else -1 for name in wanted]
    return -1 not in places and places == sorted(places)


def _never(name: str, view: View) -> Compared:
    first = [*_tops(view).values(), view["next"]["id"]]
    return "never", name, first, name not in first
