"""The screens that are one key away from any question: why this, what is likely, the plan so far, the keys.

Cast: `show_why`, `show_likely`, `show_plan`, `show_help`, each drawn from a View made with its reasons and estimate.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from diagnose.front import wording
from diagnose.front.paper import Paper
from diagnose.front.screens import estimate_line, fixes_now, limit_line, minutes, of_100, says_something, show_also

View = dict[str, Any]
MOST_CAUSES = 6
LEAST_SHARE = 0.01
LEAST_MOVE = 0.005


def show_why(paper: Paper, view: View) -> None:
    """Why this comes next: what it separates, what it saves, how to go about it."""
    step, why = view["next"], view["why"]
    paper.head(wording.WHY)
    if why["demanded"]:
        paper.say(wording.WHY_FIRST.format(text=why["demanded"]))
    if step["kind"] == "check" and step["check"]["how"]:
        paper.say(wording.HOW.format(text=step["check"]["how"]))
    if why["separates"]:
        paper.say(wording.WOULD_MEAN)
    for report in why["separates"]:
        tops = "; ".join(f"{top['name'] or wording.NOT_IN_BOOK} {of_100(top['share'])}" for top in report["top"])
        paper.item("-", wording.ONE_MEANS.format(value=report["value"], chance=of_100(report["chance"]), tops=tops))
    if step["kind"] == "fix":
        _why_fix(paper, view)
    if step["kind"] in ("hand-off", "done"):
        paper.say(wording.HAND_OFF_WHY if step["kind"] == "hand-off" else wording.DONE_WHY)
    if step["saves"] is not None and step["saves"] >= 0.05 and step["runner_up"] and not why["demanded"]:
        saved = f"{step['saves']:.1f}"
        paper.say(wording.RUNNER_UP.format(minutes=saved, text=step["runner_up"]["text"]), hang=2)
    if why["would_change"]:
        paper.say(wording.CHANGES)
    for one in why["would_change"][:2]:
        paper.item("-", wording.ONE_CHANGES.format(**one))


def show_why_together(paper: Paper, view: View, looks: Sequence[View]) -> None:
    """Why several looks come next, and for each how to go about it and its figures."""
    paper.head(wording.WHY)
    if view["why"]["demanded"]:
        paper.say(wording.WHY_FIRST.format(text=view["why"]["demanded"]))
    for place, look in enumerate(looks, 1):
        below = paper.numbered(place, look["finding"])
        if look["how"]:
            paper.say(wording.HOW.format(text=look["how"]), indent=below)
        for limit in look["limits"]:
            paper.say(limit_line(limit), indent=below, hang=2)


def _why_fix(paper: Paper, view: View) -> None:
    items = fixes_now(view)
    if items:
        paper.say(wording.FIX_WHY.format(chance=of_100(items[-1]["chance"])))
    limits = [limit for item in items for step in item["steps"] for limit in step["limits"] if limit["note"]]
    notes = {limit["quantity"]: limit["note"] for limit in limits}
    if notes:
        paper.say(wording.FIGURES)
    for quantity, note in notes.items():
        paper.item("-", f"{quantity}: {note}")


def named(cause: View) -> str:
    """A cause by its name, with the own folder that it comes from."""
    if not cause["from"]:
        return str(cause["name"])
    return wording.NAME_FROM.format(name=cause["name"], title=cause["from"]["title"])


def show_likely(paper: Paper, view: View) -> None:
    """What is likely now, how the answers moved it, what is ruled out, what one would have to see for another."""
    for complaint in view["complaints"]:
        if complaint["gone"]:
            paper.say(wording.GONE.format(complaint=complaint["text"]))
            continue
        paper.head(wording.LIKELY.format(complaint=complaint["text"]))
        for cause in complaint["causes"][:MOST_CAUSES]:
            if cause["share"] >= LEAST_SHARE:
                _show_share(paper, cause["share"], named(cause))
        _show_share(paper, complaint["something_else"], wording.NOT_IN_BOOK)
    show_moves(paper, view["moves"] or [])
    because = {one["id"]: one["because"] for one in view["conclusions"]}
    for one in view["ruled_out"]:
        paper.say(wording.RULED_OUT.format(name=one["name"], because=because.get(one["conclusion"], "")), hang=2)
    for one in view["why"]["against"][:2]:
        paper.say(wording.TO_SEE.format(**{**one, "share": of_100(one["share"])}), hang=2)


def _show_share(paper: Paper, share: float, name: str) -> None:
    paper.say(f"{of_100(share):>3} {paper.bar(share)} {name}", hang=17)


def show_moves(paper: Paper, moves: list[View]) -> None:
    """How the answers moved the shares, the last one first; one that moved nothing is told once."""
    if moves:
        paper.say(wording.MOVED)
    told: dict[str, list[str]] = {}
    for move in reversed(moves):
        changes = [one for one in move["shares"] if abs(one["after"] - one["before"]) >= LEAST_MOVE][:3]
        shown = "; ".join(
            wording.MOVE.format(
                name=one["name"] or wording.NOT_IN_BOOK, before=of_100(one["before"]), after=of_100(one["after"])
            )
            for one in changes
        )
        said = wording.ONE_MOVED.format(finding=move["finding"], value=move["value"] or wording.CANNOT)
        told.setdefault(said, []).extend([shown] if shown else [])
    for said, shown_of in told.items():
        for shown in shown_of or [wording.NOTHING_MOVED]:
            paper.item("-", f"{said}: {shown}")


def show_plan(paper: Paper, view: View) -> None:
    """The plan so far, what it may take, and to whom it would go.

    A bike that is handed on and not to be ridden has no plan here: what might be tried would be tried on it.
    """
    paper.head(wording.PLAN)
    if view["next"]["kind"] == "hand-off" and view["ride"]["verdict"] == "stop":
        paper.say(wording.HANDED_ON_FIRST)
        _show_hand_offs(paper, view)
        return
    if view["plan"]:
        paper.say(wording.PLAN_HOW)
    else:
        paper.say(wording.NOTHING_LEFT if view["next"]["kind"] == "done" else wording.NO_FIX)
    for number, item in enumerate(view["plan"], 1):
        line = wording.PLAN_ITEM.format(chance=of_100(item["chance"]), name=item["name"], minutes=minutes(item))
        paper.item(f"{number}.", line)
    tools = list(dict.fromkeys(tool for item in view["plan"] for tool in item["tools"]))
    if tools:
        paper.say(wording.ALL_TOOLS.format(text=", ".join(tools)))
    show_estimate(paper, view)
    show_also(paper, view)
    _show_hand_offs(paper, view)


def _show_hand_offs(paper: Paper, view: View) -> None:
    for one in view["hand_off"]:
        paper.say(wording.HAND_OFF.format(urgency=one["urgency"], to=one["to"], reason=one["reason"]))


def show_estimate(paper: Paper, view: View) -> None:
    """What the plan may take."""
    made = view["estimate"]
    if not says_something(made):  # nothing is done here: no work to reckon
        return
    asking = view["next"]["kind"] == "check"
    line = estimate_line(made)
    paper.say(wording.ASKING_FIRST.format(estimate=line) if asking else line)
    chance = of_100(made["hand_off_chance"])
    paper.say(f"{wording.ENDS_IN_HAND_OFF.format(chance=chance)} {wording.NO_QUOTE}")


def show_help(paper: Paper) -> None:
    """The keys, in words."""
    paper.head(wording.KEYS_HEAD)
    for key, text in wording.KEYS.items():
        paper.item(f"{key:5}", text)
    paper.say()
    paper.say(wording.SAFETY)
