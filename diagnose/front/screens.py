"""The screens of the stand, each drawn from a View: questions, fixes, the hand-off, how it ended.

Cast: one `show_*` function a screen; what is one key away from them stands in `asides`. Nothing here computes; a screen
says what the View says. What matters most is in capitals or bold; nothing is said by bold alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from diagnose.front import gauges, wording
from diagnose.front.paper import Paper

View = dict[str, Any]
EVEN = 0.5
"""Below this chance of a danger the verdict is worded as one to be looked at."""
NAMED = 0.05
"""A cause below this share is not named as likely."""


def of_100(share: float) -> str:
    """A share as so many of 100, for the screen."""
    if 0 < share < 0.005:
        return "<1"
    if 0.995 < share < 1:
        return ">99"
    return f"{share * 100:.0f}"


def money(amount: float) -> str:
    """An amount without its currency: whole, or with two places."""
    return f"{amount:.0f}" if round(amount, 2) == round(amount) else f"{amount:.2f}"


def verdict(view: View) -> str:
    """The ride verdict in words."""
    ride = view["ride"]
    return wording.STOP_UNTIL if ride["verdict"] == "stop" and by_chance(ride) else wording.VERDICT[ride["verdict"]]


def by_chance(ride: View) -> bool:
    """Whether chances below even are all that speaks against riding: nothing of it was seen."""
    speaks = ride["stop"] if ride["verdict"] == "stop" else ride["care"]
    return speaks < EVEN and not any(one["conclusion"] for one in ride["because"])


def show_ride(paper: Paper, view: View, because: bool = True, guards: str = "") -> None:
    """The ride verdict in one line, with its first reason; beside a look the danger that it `guards`."""
    ride = view["ride"]
    paper.say(verdict(view), style="" if ride["verdict"] == "ride" else "bold")
    if because:
        for text in reasons(view, 1, guards):
            paper.say(text, indent=1)


def reasons(view: View, most: int, before: str = "") -> list[str]:
    """Why it must not be ridden, or only with care; a cause that is not likelier than not only may be so.

    The causes come in their order, but for `before`, which comes before other causes.
    """
    ride = view["ride"]
    causes = {one["id"]: one for complaint in view["complaints"] for one in complaint["causes"]}
    told: list[str] = []
    for one in _listed(ride["because"], before) if ride["verdict"] != "ride" else ():
        cause = causes.get(one["cause"])
        may_be = cause and cause["share"] < EVEN and one["text"].startswith(f"{cause['name']}: ")
        told.append(wording.MAY_BE.format(text=one["text"]) if may_be else str(one["text"]))
    if not told and ride["verdict"] != "ride":
        told.append(wording.MAY_BE_UNKNOWN)
    return list(dict.fromkeys(told))[:most]


def _listed(because: Sequence[View], before: str) -> list[View]:
    """The reasons of a verdict, where a cause comes first this one before it."""
    may_move = bool(before and because and because[0]["cause"])
    return sorted(because, key=lambda one: may_move and one["cause"] != before)


def ranked(complaints: Sequence[View]) -> list[tuple[str, str]]:
    """The complaints that still stand or are gone, each with its mark: its place in the rider's order, if any."""
    texts = [wording.GONE.format(complaint=one["text"]) if one["gone"] else str(one["text"]) for one in complaints]
    return [(f"{place}.", text) for place, text in enumerate(texts, 1)] if len(texts) > 1 else [("-", texts[0])]


def show_danger(paper: Paper, view: View, changed: bool) -> None:
    """The verdict where it speaks against riding, or where it has just changed; its reason then, or if a check is open.

    "Not cleared" by itself does not say which look is still to be made: it is named on every screen.
    """
    verdict_now = view["ride"]["verdict"]
    if changed or verdict_now != "ride":
        step = view["next"]
        guards = step["demanded_by"] or "" if step["kind"] == "check" else ""
        show_ride(paper, view, because=changed or verdict_now == "not-cleared", guards=guards)


def show_now(paper: Paper, view: View) -> None:
    """The likeliest of each complaint in one line."""
    several = len(view["complaints"]) > 1
    for complaint in view["complaints"]:
        if complaint["gone"]:
            paper.say(wording.GONE.format(complaint=complaint["text"]), style="dim")
            continue
        ranked = [(one["share"], one["name"]) for one in complaint["causes"][:1] if one["share"] >= NAMED]
        ranked.append((complaint["something_else"], wording.NOT_IN_BOOK))
        share, name = max(ranked, key=lambda one: one[0])
        causes = wording.OF_100.format(name=name, share=of_100(share))
        line = wording.NOW_OF if several else wording.NOW
        paper.say(line.format(complaint=complaint["text"], causes=causes), style="dim")


# --- questions -----------------------------------------------------------------------------------------------------


def show_fact(paper: Paper, wanted: View, lead: str = "", helped: bool = False) -> None:
    """A fact of the bike; `helped`: with how to tell."""
    paper.rule()
    if lead:
        paper.say(lead)
        paper.say()
    paper.say(wanted["text"], style="bold")
    if helped and wanted["how"]:
        paper.say(wanted["how"])
    paper.say()


def show_question(paper: Paper, view: View, changed: bool, lead: str = "") -> None:
    """The next check, above its answers."""
    step = view["next"]
    check = step["check"]
    paper.rule()
    if lead:
        paper.say(lead)
    show_danger(paper, view, changed)
    if any(one["told"] for one in (check["measure"] or {}).get("readings") or ()):
        paper.say()
        paper.say(step["text"])
        show_reading_wanted(paper, check["measure"])
        return
    if step["demanded_by"]:
        causes = {one["id"] for complaint in view["complaints"] for one in complaint["causes"]}
        danger = check["danger"] or step["demanded_by"] in causes
        paper.say(wording.DANGER_FIRST if danger else wording.THIS_FIRST, style="bold")
    paper.say()
    paper.say(step["text"], style="bold")
    show_origin(paper, step)
    if check["teardown"] and check["teardown"] not in view["open"]:
        paper.say(wording.NEEDS.format(text=check["teardown"]), indent=1)
    if check["tools"]:
        paper.say(wording.TOOLS.format(text=", ".join(check["tools"])), indent=1)
    for limit in check["limits"]:
        paper.item("-", limit_line(limit))
    for caution in check["cautions"]:
        paper.item("!", caution)
    paper.say()
    if check["measure"]:
        show_reading_wanted(paper, check["measure"])


def show_reading_wanted(paper: Paper, measure: View) -> None:
    """What is to be typed: the reading, or the next of those that it is made of, with what was told of them."""
    if measure["readings"]:
        show_raw_wanted(paper, measure["readings"])
    else:
        paper.say(wording.TYPE_READING.format(range=reading_range(measure)))
    paper.item("c ", wording.CANNOT)


def show_raw_wanted(paper: Paper, readings: list[View]) -> None:
    """The next of several readings, below what was told of the others."""
    place = next((at for at, one in enumerate(readings) if one["told"] is None), len(readings) - 1)
    for at, one in enumerate(readings):
        if one["told"] and at != place:
            told = one["told"]["text"] or one["default"] or wording.LEFT_OUT
            paper.say(wording.TAKEN.format(text=one["text"], told=told), indent=1, hang=2)
    asked = readings[place]
    text = asked["text"]
    if len(readings) > 1:
        text = wording.READING_OF.format(place=place + 1, count=len(readings), text=text)
    paper.say(text, style="bold")
    line = wording.TYPE_READINGS if asked["several"] else wording.TYPE_READING
    line = wording.TYPE_WORD if asked["unit"] == "text" else line
    paper.say(line.format(range=asked["shape"]))


def show_measured(paper: Paper, told: View) -> None:
    """What a reading means: its value, its gauge, and what its sum says beside it."""
    paper.say(wording.READ_AS.format(reading=told["typed"], value=told["value_text"]), indent=1, style="bold")
    paper.say()
    gauges.show_gauge(paper, told["gauge"])
    worked = told["worked"]
    if not worked:
        return
    for part in worked["parts"]:
        paper.say(wording.FURTHER.format(**part), indent=1, hang=2)
    for note in worked["notes"]:
        paper.say(note, indent=1, hang=2)


def show_origin(paper: Paper, told: View) -> None:
    """Which own folder of rules something comes from; nothing for what the book itself says."""
    if told["from"]:
        paper.say(wording.FROM.format(title=told["from"]["title"]), indent=1, style="dim")


def reading_range(measure: View) -> str:
    """Which readings are taken."""
    from diagnose.bench.units import show_range

    return show_range(measure["from"], measure["to"], measure["unit"])


def show_below(paper: Paper, view: View, changed: bool) -> None:
    """What stands below the answers of a question: what is likely now, and what the question is for."""
    paper.say()
    show_now(paper, view)
    demanded = view["why"]["demanded"]
    if demanded:
        because = _listed(view["ride"]["because"], view["next"]["demanded_by"])
        if not (changed and because and because[0]["text"] == demanded):  # it stands beside the verdict already
            paper.say(wording.WHY_FIRST.format(text=demanded), style="dim")
        return
    tops = [top["name"] or wording.NOT_IN_BOOK for one in view["why"]["separates"] for top in one["top"]]
    apart = list(dict.fromkeys(tops))
    if len(apart) > 1:
        paper.say(wording.TELLS.format(causes=" / ".join(apart[:3])), style="dim")


def limit_line(limit: View) -> str:
    """A limit: the figure first, then what it is of, and who says so."""
    return wording.LIMIT.format(text=limit["text"], quantity=limit["quantity"], basis=wording.BASIS[limit["basis"]])


# --- fixes ---------------------------------------------------------------------------------------------------------


def fixes_now(view: View) -> list[View]:
    """The fixes of the next action in the order in which they are done, as items of the plan."""
    wanted = [*view["next"]["with"], view["next"]["id"]]
    return [item for name in wanted for item in view["plan"] if item["fix"] == name]


def show_fix(paper: Paper, view: View, changed: bool) -> None:
    """The fix that comes next, with all that is done together with it."""
    items = fixes_now(view)
    paper.rule()
    anyway = [extra for extra in view["also"] if extra["fix"] == view["next"]["id"]]
    said_below = reasons(view, 1) and reasons(view, 1)[0] in [extra["because"] for extra in anyway]
    # The verdict always: nobody at the bike remembers it from an earlier screen.
    show_ride(paper, view, because=changed and not said_below)
    show_now(paper, view)
    told: set[str] = set()
    if len(items) > 1:
        paper.head(wording.FIXES.format(count=len(items)))
    for extra in anyway:
        paper.head(wording.ANYWAY[extra["level"]].format(because=extra["because"]))
    for place, item in enumerate(items, 1):
        lead = wording.FIX_OF.format(place=place, name=item["name"]) if len(items) > 1 else item["name"]
        paper.head(wording.FIX.format(name=lead))
        show_fix_item(paper, view, item, told)
    if any(step["limits"] for item in items for step in item["steps"]):
        paper.say()
        paper.say(wording.GOVERNS)
    if items and view["next"]["complaints"] and not view["next"]["in_a_round"]:
        show_repeat_test(paper, items[-1]["confirm"])
    for item in items:
        show_outcome(paper, item)
    if view["next"]["in_a_round"]:
        paper.say(wording.THEN_ROUND)
    paper.say()


def show_fix_item(paper: Paper, view: View, item: View, told: set[str]) -> None:
    """One fix of the plan: what it promises, what it needs, its steps."""
    show_origin(paper, item)
    named = [cause_name(view, one["id"], one["complaint"]) for one in item["causes"]]
    names = list(dict.fromkeys(named))[:2]
    if names:
        paper.say(wording.FOR_CAUSE.format(names="; ".join(names)), indent=1)
    must = any(one["fix"] == item["fix"] and one["level"] == "must" for one in view["also"])
    if must and item["chance"] < EVEN:  # done whatever the complaint is: its small part in that is no reason to skip it
        paper.say(wording.MUST_TAKE.format(minutes=minutes(item)), indent=1)
    elif item["chance"] > 0:
        paper.say(wording.PUTS_RIGHT.format(chance=of_100(item["chance"]), minutes=minutes(item)), indent=1)
    show_needs(paper, view, item, told)
    paper.say()
    for number, step in enumerate(item["steps"], 1):
        show_step(paper, number, step, told)


def show_wishes(paper: Paper, view: View, style: str = "bold") -> None:
    """What the rider wishes, where the counter asked."""
    for line in wish_lines(view):
        paper.item("-", line, style=style)


def wish_lines(view: View) -> tuple[str, ...]:
    """What it is used for and by when, and that old parts go back; none where nobody said so."""
    text, old = view["wishes"]["text"], view["wishes"]["old_parts"]
    needed = (wording.NEEDED.format(text=text),) if text else ()
    return (*needed, wording.OLD_BACK) if old == "back" else needed


def show_outcome(paper: Paper, item: View) -> None:
    """How to tell that a fix worked, what it means if not, and when to stop trying."""
    paper.say(wording.WORKED_IF.format(text=item["works_if"]))
    paper.say(wording.IF_NOT.format(text=item["if_not"]))
    for text in item["hand_off_when"]:
        paper.say(wording.HAND_OFF_WHEN.format(text=text))


def show_needs(paper: Paper, view: View, item: View, told: set[str]) -> None:
    """What must be at hand, and done before: what was done already is left out."""
    together = {one["fix"] for one in fixes_now(view)} if view["next"]["kind"] == "fix" else set()
    if item["tools"]:
        paper.say(wording.TOOLS.format(text=", ".join(item["tools"])), indent=1)
    for part in item["parts"]:
        price = part["price"]
        prices = {"low": money(price["low"]), "high": money(price["high"]), "currency": price["currency"]}
        paper.say(wording.PART.format(count=part["count"], name=part["name"], **prices), indent=1)
    if item["parts"] and view.get("wishes", {}).get("old_parts") == "back":
        paper.say(wording.OLD_BACK, indent=1, style="bold")
    for need in item["needs"]:
        if not need["done"] and need["id"] not in together:
            paper.say(wording.FIRST.format(text=need["text"]), indent=1)
    if item["teardown"] and item["teardown"] not in view["open"]:
        paper.say(wording.NEEDS.format(text=item["teardown"]), indent=1)
    show_cautions(paper, item["cautions"], told, 1)


def show_step(paper: Paper, number: int, step: View, told: set[str]) -> None:
    """One step with its limits and cautions."""
    below = paper.numbered(number, step["text"])
    for limit in step["limits"]:
        paper.say(limit_line(limit), indent=below, hang=2, style="bold")
    for one in step["sums"]:
        for text in step_sum_lines(one) or (wording.TO_RECKON.format(**one),):
            paper.say(text, indent=below, hang=2)
    show_cautions(paper, step["cautions"], told, below)


def step_sum_lines(one: View) -> tuple[str, ...]:
    """What a step's sum makes of what was measured, and what to mind; none while it lacks a reading."""
    worked = one["worked"]
    if not worked:
        return ()
    text = f"{worked['text']}: {worked['verdict']}" if worked["verdict"] else worked["text"]
    parts = ", ".join(wording.FURTHER.format(**part) for part in worked["parts"])
    lines = (wording.RECKONED.format(text=text), parts, *worked["notes"])
    return tuple(line for line in lines if line)


def show_cautions(paper: Paper, cautions: list[str], told: set[str], indent: int) -> None:
    """The usual cautions, each once a screen."""
    for caution in cautions:
        if caution not in told:
            told.add(caution)
            paper.item("!", caution, indent=indent)


def show_repeat_test(paper: Paper, confirm: View) -> None:
    """The test that showed the fault, to be repeated."""
    paper.say()
    paper.say(wording.REPEAT.format(text=confirm["text"]), style="bold")
    for limit in confirm["limits"]:
        paper.item("-", limit_line(limit))
    for caution in confirm["cautions"]:
        paper.item("!", caution)


def minutes(item: View) -> str:
    """From how many to how many minutes."""
    return wording.MINUTES.format(low=f"{item['minutes']['low']:.0f}", high=f"{item['minutes']['high']:.0f}")


def to_read_out(crossing: View) -> str:
    """The line to read over the phone; `crossing` as `casework.consent.crossing` gives it."""
    line = wording.CONSENT_LINE if crossing["agreed"] else wording.CONSENT_FIRST
    return line.format(**{**crossing, "agreed": money(crossing["agreed"]), "fixes": "; ".join(crossing["fixes"])})


def says_something(made: View | None) -> bool:
    """Whether an estimate has work in it that shows in whole minutes, or parts: nothing is told of none."""
    return bool(made and (round(made["minutes"]["p90"]) or round(made["parts_price"]["p90"])))


def estimate_line(made: View) -> str:
    """What the plan may take: minutes, and the price of parts where any may be wanted."""
    time, parts = made["minutes"], made["parts_price"]
    return (wording.ESTIMATE if parts["p90"] else wording.ESTIMATE_NO_PARTS).format(
        low=time["p10"],
        high=time["p90"],
        middle=time["p50"],
        cheap=parts["p10"],
        dear=parts["p90"],
        currency=parts["currency"],
    )


def cause_name(view: View, cause: str, complaint: str) -> str:
    """A cause's name, as the View has it."""
    for one in view["complaints"]:
        if one["id"] == complaint:
            return next((str(known["name"]) for known in one["causes"] if known["id"] == cause), "")
    return ""


# --- how it ends ---------------------------------------------------------------------------------------------------


def show_hand_off(paper: Paper, view: View) -> None:
    """Stop here: to whom, why, how urgent, and the note that goes along."""
    paper.rule()
    if not view["next"]["complaints"]:
        paper.say(view["next"]["text"])
    paper.say(wording.HAND_ON, style="bold")
    show_ride(paper, view)
    told: set[tuple[str, str]] = set()
    for one in sorted(view["hand_off"], key=lambda one: (wording.URGENT.index(one["urgency"]), one["to"])):
        if (one["to"], one["urgency"]) not in told:
            told.add((one["to"], one["urgency"]))
            paper.say()
            paper.say(wording.HAND_ON_TO.format(to=one["to"], urgency=one["urgency"]), style="bold")
        paper.say(wording.HAND_ON_WHY.format(reason=one["reason"]), indent=1)
    if not view["next"]["complaints"] and any(one["because"] == view["next"]["id"] for one in view["hand_off"]):
        paper.say()
        paper.say(wording.OR_MEND_IT)
    if view.get("skill") == "rider":
        paper.say()
        paper.say(wording.BRING)
        if view["ride"]["verdict"] in ("stop", "not-cleared"):
            paper.say(wording.CARRY, style="bold")
    if view["open"]:
        paper.say(wording.LEAVE_SO.format(open=", ".join(view["open"])))
    show_also(paper, view)
    if view["hand_off"]:
        paper.head(wording.NOTE)
        for line in view["hand_off"][0]["note"].split("\n"):
            paper.say(line, indent=1, hang=2)
    paper.say()


def lone_wheel(view: View) -> bool:
    """Whether only a wheel was brought, and its bike stayed at home."""
    return "only-wheel" in view["profile"].get("state", ())


def final_checks(view: View) -> tuple[str, ...]:
    """What is checked before it goes out."""
    return wording.FINAL_WHEEL if lone_wheel(view) else wording.FINAL


def show_done(paper: Paper, view: View, torques: list[View]) -> None:
    """Every repeat test passed: what is checked before the bike goes out."""
    paper.rule()
    paper.say(view["next"]["text"], style="bold")
    if view["ride"]["verdict"] != "ride":
        show_ride(paper, view)
    for caution in view["cautions"]:
        paper.item("!", caution["text"])
    paper.head(wording.FINAL_CHECK)
    held = view["ride"]["verdict"] in ("stop", "not-cleared")
    ride = () if lone_wheel(view) else (*wording.TEST_RIDE[held], wording.SECOND_EYES)
    for text in (*final_checks(view), *ride):
        paper.item(wording.TICK, text)
    if view.get("wishes", {}).get("old_parts") == "back":
        paper.item(wording.TICK, wording.OLD_BACK)
    show_also(paper, view, wording.ALSO_OPEN)
    for one in view["hand_off"]:
        paper.say()
        paper.say(wording.HAND_OFF.format(**one), style="bold")
    if torques:
        paper.head(wording.TORQUES)
        for one in torques:
            line = wording.TORQUE_INSTEAD if one["instead"] else wording.TORQUE
            quantity = (wording.TORQUE_PERHAPS if one["perhaps"] else "{quantity}").format(**one)
            paper.item(wording.TICK, line.format(text=one["text"], quantity=quantity))
    paper.say()


def show_also(paper: Paper, view: View, head: str = wording.ALSO) -> None:
    """What is to be done whatever the complaint turns out to be, and is not done yet."""
    if view["also"]:
        paper.head(head)
    for one in view["also"]:
        paper.item("-", wording.ALSO_ONE.format(**one))


def show_over(paper: Paper, case: str, view: View) -> None:
    """How a job ended and what was found and is not done yet; where the bike should not be ridden, that too."""
    paper.rule()
    if view["ended"] == "cured":
        paper.say(wording.IS_CURED.format(case=case, text=view["next"]["text"]), style="bold")
    else:
        paper.say(wording.IS_OVER.format(case=case, how=wording.ENDINGS[view["ended"]]), style="bold")
        if view["ride"]["verdict"] != "ride":
            show_ride(paper, view)
    show_also(paper, view, wording.ALSO_OPEN)


def show_leaving(paper: Paper, view: View) -> None:
    """What must not be forgotten when the stand is left."""
    if view["ride"]["verdict"] in ("stop", "not-cleared"):
        paper.say(wording.TAG.format(verdict=verdict(view)), style="bold")
    elif view["waits"] is not None and view["open"]:
        paper.say(wording.TAG_APART, style="bold")
    if view["open"]:
        paper.say(wording.OPEN_NOW.format(text=", ".join(view["open"])))


def show_return(paper: Paper, case: str, view: View, last: str) -> None:
    """A job that is gone on with: which, what was told last, and what was left loose."""
    paper.rule()
    complaints = "; ".join(one["text"] for one in view["complaints"])
    label = view["case"] or wording.NO_LABEL
    paper.say(wording.GOING_ON.format(case=case, label=label, complaints=complaints), style="bold")
    if last:
        paper.say(wording.LAST_TOLD.format(text=last), indent=1)
    if view["open"]:
        paper.say(wording.OPEN_READ.format(text=", ".join(view["open"])), indent=1)
    if view["loose"]:
        paper.say()
        paper.say(wording.LOOSE_READ.format(text=view["loose"]), style="bold")
    if view["comebacks"] and view["earlier"]:
        paper.say()
        paper.say(wording.COMEBACKS.format(count=view["comebacks"]), style="bold")
        paper.say(wording.TOUCHED_LAST.format(text="; ".join(view["earlier"])))


def show_comeback(paper: Paper, case: str, view: View) -> None:
    """A job that was over and came back: what was last touched is looked at first."""
    paper.say(wording.CAME_BACK.format(case=case), style="bold")
    if view["earlier"]:
        paper.say(wording.TOUCHED_LAST.format(text="; ".join(view["earlier"])))
    paper.say(wording.WARRANTY)
