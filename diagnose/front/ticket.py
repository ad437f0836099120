"""The ticket as text: what the counter came to, drawn from the View of a job.

Cast: `show_ticket`.
"""

from __future__ import annotations

from typing import Any

from diagnose.front import wording
from diagnose.front.paper import Paper
from diagnose.front.screens import money, of_100, ranked, reasons, says_something, show_also, show_wishes, verdict

View = dict[str, Any]
REASONS = 2
"""Reasons of the ride verdict that are told."""
FIXES = 2
"""Fixes that are named for a part, the likeliest first."""


def show_ticket(paper: Paper, case: str, view: View, currency: str) -> None:
    """The whole ticket."""
    ticket = view["ticket"]
    paper.rule()
    paper.say(wording.TICKET.format(case=case, label=view["case"] or wording.NO_LABEL), style="bold")
    paper.head(wording.RIDES)
    paper.item("-", verdict(view), style="" if ticket["ride"]["verdict"] == "ride" else "bold")
    for text in reasons(view, REASONS):
        paper.item(" ", text)
    for one in ticket["cautions"]:
        paper.item("!", one)
    _show_causes(paper, ticket)
    _show_estimate(paper, ticket, currency)
    show_wishes(paper, view, style="")
    _show_parts(paper, ticket)
    paper.head(wording.STAND_BEGINS)
    paper.item("-", ticket["first"]["text"])
    show_also(paper, ticket)
    _show_open(paper, ticket)


def _show_causes(paper: Paper, ticket: View) -> None:
    several = len(ticket["complaints"]) > 1
    if several:
        paper.head(wording.COMPLAINTS_RANKED)
        for mark, text in ranked(ticket["complaints"]):
            paper.item(mark, text)
    for complaint in ticket["complaints"]:
        paper.head(wording.PROBABLY_OF.format(complaint=complaint["text"]) if several else wording.PROBABLY)
        for cause in complaint["causes"]:
            paper.item("-", wording.OF_100.format(name=cause["name"], share=of_100(cause["share"])))
        paper.item(
            "-", wording.OF_100.format(name=wording.NOT_IN_BOOK, share=of_100(complaint["something_else"])), style="dim"
        )


def _show_estimate(paper: Paper, ticket: View, currency: str) -> None:
    made = ticket["estimate"]
    if made and not ticket["hand_off"] and not says_something(made):
        return
    paper.head(wording.TAKES)
    if made is None or ticket["hand_off"]:
        paper.item("-", wording.NO_ESTIMATE)
        for one in ticket["hand_off"][:1]:
            paper.item(" ", wording.HAND_OFF.format(urgency=one["urgency"], to=one["to"], reason=one["reason"]))
    else:
        time, parts = made["minutes"], made["parts_price"]
        paper.item("-", wording.TAKES_MINUTES.format(low=time["p10"], high=time["p90"]))
        if made["diagnosis"]:
            paper.item(" ", wording.FOR_DIAGNOSIS.format(minutes=made["diagnosis"]))
        if parts["p90"] > 0:
            paper.item("-", wording.TAKES_PARTS.format(low=parts["p10"], high=parts["p90"], currency=currency))
        line = wording.TAKES_PRICE if parts["p90"] > 0 else wording.TAKES_WORK
        paper.item("-", line.format(**made["price"]))
        if made["minimum"]:
            paper.item(" ", wording.AT_LEAST.format(sum=money(made["minimum"]), currency=currency))
        asking = ticket["first"]["kind"] == "check"
        line = wording.TAKES_MORE if asking else wording.ENDS_IN_HAND_OFF
        paper.item(" ", line.format(chance=of_100(made["hand_off_chance"])))
        paper.item(" ", wording.NO_QUOTE)
    if ticket["ceiling"] is None:
        paper.item("-", wording.NOT_AGREED)
    else:
        paper.item("-", wording.AGREED.format(sum=money(ticket["ceiling"]), currency=currency), style="bold")
        if ticket["may_be_crossed"]:
            paper.item(" ", wording.MAY_CROSS)


def _show_parts(paper: Paper, ticket: View) -> None:
    paper.head(wording.BRING_OR_ORDER)
    for name in ticket["bring"]:
        paper.item("-", wording.TO_BRING.format(name=name))
    for part in ticket["order"]:
        price = part["price"]
        told = {
            "count": part["count"],
            "name": part["name"],
            "fix": "; ".join(part["fixes"][:FIXES]),
            "chance": of_100(part["chance"]),
        }
        prices = {"low": money(price["low"]), "high": money(price["high"]), "currency": price["currency"]}
        paper.item("-", wording.PART_WANTED.format(**told, **prices))
    if not ticket["order"] and not ticket["bring"]:
        paper.item("-", wording.NO_PARTS)


def _show_open(paper: Paper, ticket: View) -> None:
    if ticket["not_told"]:
        paper.head(wording.NOT_TOLD)
        for text in ticket["not_told"]:
            paper.item("-", text)
    paper.head(wording.NOT_ASKED)
    for text in [*ticket["not_asked"], wording.BY_A_MECHANIC]:
        paper.item("-", text)
