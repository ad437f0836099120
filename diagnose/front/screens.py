"""The screens of the stand, each drawn from a View: questions, fixes, what is likely, why, the plan, the hand-off.

Cast: one `show_*` function a screen. Nothing here computes; a screen says what the View says.
"""

from __future__ import annotations

from typing import Any

from diagnose.front import wording
from diagnose.front.paper import Paper

View = dict[str, Any]
EVEN = 0.5
"""Below this chance of a danger the verdict is worded as one to be looked at."""


def of_100(share: float) -> str:
    """A share as so many of 100, for the screen."""
    if 0 < share < 0.005:
        return "<1"
    if 0.995 < share < 1:
        return ">99"
    return f"{share * 100:.0f}"


def show_ride(paper: Paper, view: View) -> None:
    """The ride verdict in one line, with its first reason."""
    ride = view["ride"]
    text = wording.VERDICT[ride["verdict"]]
    if ride["verdict"] == "stop" and ride["stop"] < EVEN and not any(one["conclusion"] for one in ride["because"]):
        text = wording.STOP_UNTIL
    strong = "bold" if ride["verdict"] in ("stop", "not-cleared") else ""
    paper.say(f"[{text}]", style=strong)
    if ride["because"] and ride["verdict"] != "ride":
        paper.say(ride["because"][0]["text"], indent=1)


def show_top(paper: Paper, view: View) -> None:
    """The likeliest of each complaint in one line."""
    for complaint in view["complaints"]:
        if complaint["gone"]:
            paper.say(f"{complaint['text']}: gone.")
            continue
        tops = [f"{one['name']} {of_100(one['share'])}" for one in complaint["causes"][:2] if one["share"] >= 0.05]
        rest = f"not in the book {of_100(complaint['something_else'])}"
        paper.say(f"{complaint['text']}, of 100 such bikes: " + "; ".join([*tops, rest]), style="dim")


def show_question(paper: Paper, view: View) -> None:
    """The next check, with its answers by key."""
    step = view["next"]
    check = step["check"]
    paper.rule()
    show_ride(paper, view)
    show_top(paper, view)
    paper.say()
    if step["demanded_by"]:
        paper.say("Danger first:", style="bold")
    paper.say(step["text"], style="bold")
    show_check(paper, check)
    if step["answers"]:
        paper.say()
        for number, answer in enumerate(step["answers"], 1):
            paper.item(str(number), answer["text"])
    elif check["measure"]:
        measure = check["measure"]
        paper.say(
            f"Type the reading in {measure['unit']} ({measure['from']:g} to {measure['to']:g}), then Enter.", indent=1
        )


def show_check(paper: Paper, check: View) -> None:
    """What a check needs: opening, tools, limits, cautions."""
    if check["teardown"]:
        paper.say(f"Needs: {check['teardown']}.", indent=1)
    if check["tools"]:
        paper.say(f"Tools: {', '.join(check['tools'])}.", indent=1)
    for limit in check["limits"]:
        paper.item("-", limit_line(limit))
    for caution in check["cautions"]:
        paper.item("!", caution)


def limit_line(limit: View) -> str:
    """A limit with its basis."""
    return f"{limit['quantity']}: {limit['text']} ({wording.BASIS[limit['basis']]})"


def show_keys(paper: Paper, keys: str) -> None:
    """The keys that work here."""
    paper.say("  ".join(f"{key} {wording.KEYS[key]}" for key in keys), style="dim", indent=1)


# --- fixes ---------------------------------------------------------------------------------------------------------


def show_fix(paper: Paper, view: View) -> None:
    """The fix that comes next, with all that is done together with it."""
    paper.rule()
    show_ride(paper, view)
    show_top(paper, view)
    wanted = [*view["next"]["with"], view["next"]["id"]]
    items = [item for name in wanted for item in view["plan"] if item["fix"] == name]
    for item in items:
        show_plan_item(paper, item, full=True)
    if len(items) > 1:
        paper.say()
        paper.say("Do these in one go, then the repeat test once.")
    paper.say()
    paper.say(wording.GOVERNS, style="dim")


def show_plan_item(paper: Paper, item: View, full: bool) -> None:
    """One fix of the plan: in one line, or with steps, limits and cautions."""
    minutes = f"{item['minutes']['low']:.0f} to {item['minutes']['high']:.0f} min"
    chance = f"Puts it right on {of_100(item['chance'])} of 100 such bikes"
    paper.head(f"FIX: {item['name']}" if full else item["name"])
    paper.say(f"{chance}; {minutes} with closing up and the test.", indent=1)
    if not full:
        return
    for need in item["needs"]:
        paper.item("First:", need["text"])
    if item["tools"]:
        paper.say(f"Tools: {', '.join(item['tools'])}.", indent=1)
    for part in item["parts"]:
        price = part["price"]
        paper.say(
            f"Part: {part['count']} {part['name']}, {price['low']:g} to {price['high']:g} {price['currency']} each.",
            indent=1,
        )
    for caution in item["cautions"]:
        paper.item("!", caution)
    paper.say()
    for number, step in enumerate(item["steps"], 1):
        show_step(paper, number, step)
    paper.say()
    paper.say(f"It worked if: {item['works_if']}", indent=1)
    paper.say(f"If not: {item['if_not']}", indent=1)
    for text in item["hand_off_when"]:
        paper.say(f"Hand off when: {text}", indent=1)


def show_step(paper: Paper, number: int, step: View) -> None:
    """One step with its limits and cautions."""
    paper.item(f"{number}.", step["text"])
    for limit in step["limits"]:
        paper.item("->", limit_line(limit), indent=4)
        if limit["note"]:
            paper.say(limit["note"], indent=7, style="dim")
    for caution in step["cautions"]:
        paper.item("!", caution, indent=4)


# --- one key away --------------------------------------------------------------------------------------------------


def show_why(paper: Paper, view: View) -> None:
    """Why this comes next: what it separates, what it saves, the runner-up."""
    step, why = view["next"], view["why"]
    paper.head("Why this")
    if why["demanded"]:
        paper.say(f"Danger first. {why['demanded']}")
    for report in why["separates"]:
        tops = ", ".join(f"{top['name'] or 'not in the book'} {of_100(top['share'])} of 100" for top in report["top"])
        paper.item("-", f'"{report["value"]}" (on {of_100(report["chance"])} of 100 bikes): then {tops}')
    if step["kind"] == "check" and step["check"]["how"]:
        paper.say(step["check"]["how"], indent=1)
    if step["saves"] is not None and step["runner_up"] and not why["demanded"]:
        paper.say(f"Saves about {step['saves']:.1f} min over: {step['runner_up']['text']}", indent=1)
    if step["kind"] == "fix" and view["plan"]:
        paper.say(
            f"It puts it right on {of_100(view['plan'][0]['chance'])} of 100 such bikes for what it costs.", indent=1
        )
    if why["would_change"]:
        paper.say("What would put another fix first:")
        for one in why["would_change"][:3]:
            paper.item("-", f'{one["text"]} "{one["value"]}"')


def show_likely(paper: Paper, view: View) -> None:
    """What is likely now, how the answers moved it, what is ruled out, what one would have to see for another."""
    for complaint in view["complaints"]:
        paper.head(f"{complaint['text']}: of 100 such bikes")
        for cause in complaint["causes"][:8]:
            if cause["share"] >= 0.005:
                paper.say(
                    f"{of_100(cause['share']):>3} {paper.bar(cause['share'], 12)} {cause['name']}", indent=1, hang=17
                )
        rest = complaint["something_else"]
        paper.say(f"{of_100(rest):>3} {paper.bar(rest, 12)} not in the book", indent=1)
    show_moves(paper, view["moves"] or [])
    for one in view["ruled_out"]:
        because = next((c["because"] for c in view["conclusions"] if c["id"] == one["conclusion"]), "")
        paper.say(f"Ruled out: {one['name']}. {because}")
    for one in view["why"]["against"][:3]:
        paper.say(
            f'For {one["name"]} ({of_100(one["share"])}) one would have to see: {one["check"]} "{one["value"]}"', hang=2
        )


def show_moves(paper: Paper, moves: list[View]) -> None:
    """How the answers moved the shares."""
    if moves:
        paper.say("How the answers moved it:")
    for move in moves:
        show_move(paper, move)


def show_move(paper: Paper, move: View) -> None:
    """How one answer moved the shares."""
    changes = [one for one in move["shares"] if abs(one["after"] - one["before"]) >= 0.005][:3]
    shown = ", ".join(
        f"{one['name'] or 'not in the book'} {of_100(one['before'])} -> {of_100(one['after'])}" for one in changes
    )
    paper.item("-", f"{move['finding']}: {move['value'] or wording.CANNOT}: {shown or 'nothing moved'}")


def show_plan(paper: Paper, view: View) -> None:
    """The plan so far, what it may take, and to whom it would go."""
    paper.head("The plan so far")
    if not view["plan"]:
        paper.say("No fix is worth trying here.", indent=1)
    for number, item in enumerate(view["plan"], 1):
        minutes = f"{item['minutes']['low']:.0f} to {item['minutes']['high']:.0f} min"
        lead = "puts it right on" if number == 1 else "if it comes to that,"
        paper.item(f"{number}.", f"{item['name']}: {lead} {of_100(item['chance'])} of 100; {minutes}")
    show_estimate(paper, view)
    for one in view["hand_off"]:
        paper.say(f"Hand off, {one['urgency']}, to {one['to']}: {one['reason']}", indent=1)


def show_estimate(paper: Paper, view: View) -> None:
    """What the plan may take."""
    made = view["estimate"]
    if not made:
        return
    minutes, parts = made["minutes"], made["parts_price"]
    paper.say(
        f"It may take {minutes['p10']:.0f} to {minutes['p90']:.0f} min (half the time under {minutes['p50']:.0f}) and parts for "
        f"{parts['p10']:.0f} to {parts['p90']:.0f} {parts['currency']}. An estimate, not a quote.",
        indent=1,
    )
    open_question = view["next"]["kind"] == "check"
    lead = "If nothing more were asked it would end" if open_question else "It ends"
    paper.say(f"{lead} in a hand-off on {of_100(made['hand_off_chance'])} of 100.", indent=1)


def show_hand_off(paper: Paper, view: View) -> None:
    """Stop here: to whom, why, how urgent, and the note that goes along."""
    paper.rule()
    show_ride(paper, view)
    paper.head("STOP HERE AND HAND IT ON")
    for one in view["hand_off"]:
        paper.item("-", f"To {one['to']}, {one['urgency']}: {one['reason']}")
    if view["hand_off"]:
        paper.head("Note to go with the bike")
        paper.say(view["hand_off"][0]["note"], indent=1, hang=2)


def show_done(paper: Paper, view: View) -> None:
    """The end of a job."""
    paper.rule()
    paper.say(view["next"]["text"], style="bold")
    for caution in view["cautions"]:
        paper.item("!", caution["text"])
    paper.say()
    paper.say(wording.FINAL_CHECK)
