"""The sums of headset, steerer, post and quill stem."""

from __future__ import annotations

from typing import Final

from diagnose.bench import headset, posts
from diagnose.bench.bands import around
from diagnose.bench.span import Span
from diagnose.bench.sums.givens import Choice, Number, Readings, Text
from diagnose.bench.sums.model import Answer, Part, Sum
from diagnose.bench.units import show

_MARKED: Final = "The mark on the part and the frame maker's figure govern; the deeper of them counts."
_LEFT: Final = Span("gap left for the cap", headset.LEAST_GAP, headset.MOST_BELOW, "mm")
_CLEARANCE: Final = (0.05, 0.15)
"""How much smaller in mm a post is than its bore (common practice, no source)."""


def _cap_gap(given: Readings) -> Answer:
    gap = headset.top_cap_gap(given.number("gap"))
    parts = []
    if gap.add > 0:
        stack = headset.spacers_for(gap.add)
        parts = [Part("add", gap.add, "mm"), Part("spacers", " + ".join(show(one, "mm") for one in stack) or "none")]
    elif not gap.safe:
        parts = [Part("take away", -gap.add, "mm")]
    notes = ["The cap only sets the bearing; loosen the stem first, then cap, then stem."]
    if gap.safe and gap.add < 0:
        most = show(headset.MOST_BELOW, "mm")
        notes.insert(0, f"Up to {most} is still held, where no spacer stands above the stem; next time take some away.")
    if not gap.safe:
        notes.insert(
            0, "The steerer ends too low in the stem: do not ride it until spacers below the stem are taken away."
        )
    bands = around(headset.LEAST_GAP, headset.MOST_GAP, ("too little", "right", "too much"))
    return Answer(given.number("gap"), "mm", bands=bands, parts=tuple(parts), notes=tuple(notes))


def _steerer_cut(given: Readings) -> Answer:
    sizes = [given.number(key) for key in ("head-tube", "stack", "spacers", "stem", "gap")]
    wanted = headset.steerer_length(*sizes)
    steerer = given.maybe("steerer")
    if steerer is None:
        return Answer(wanted, "mm", verdict="from the crown race seat to the top")
    cut = headset.steerer_cut(steerer, wanted)
    parts = (Part("steerer then", wanted, "mm"),)
    if cut < 0:
        note = f"The steerer is {show(-cut, 'mm')} too short. Lower spacers or another fork; nothing makes it longer."
        return Answer(cut, "mm", verdict="too short", parts=parts, notes=(note,))
    notes = ("Measure twice with everything fitted, mark, cut square in a guide, take the burr off.",)
    return Answer(cut, "mm", verdict="to cut off", parts=parts, notes=notes)


def _headset_size(given: Readings) -> Answer:
    codes = headset.kinds_for(given.number("bore"), given.number("tube"), given.word("kind") or None)
    if not codes:
        note = "Measure the bare head tube twice at a right angle, without cups; then ask the frame maker."
        return Answer("no size known here", notes=(note,))
    parts = tuple(Part(code, headset.KINDS[code[:2]]) for code in codes)
    notes = ("Give the kind that can be seen to narrow it down; angles of integrated bearings stand on the bearing.",)
    return Answer(codes[0], verdict="" if len(codes) == 1 else f"or {', '.join(codes[1:])}", parts=parts, notes=notes)


def _headset_code(given: Readings) -> Answer:
    code = headset.read_code(given.word("code"))
    parts = [Part("kind", headset.KINDS[code.kind]), Part("steerer or crown race seat", code.tube, "mm")]
    if code.low is not None and code.high is not None:
        parts += [Part("bore at least", code.low, "mm"), Part("bore at most", code.high, "mm")]
    return Answer(code.bore, "mm", code.low, code.high, "bore of the head tube", parts=tuple(parts))


def _post_insertion(given: Readings) -> Answer:
    diameter, deeper = given.maybe("diameter"), given.maybe("asked")
    deep = posts.insertion(given.number("length"), given.number("out"), given.word("kind"), diameter, deeper)
    bands = around(deep.least, None, ("not deep enough", "deep enough", ""))
    notes = [_MARKED]
    if not deep.enough:
        notes.insert(0, f"Do not ride: it must stand {show(-deep.spare, 'mm')} deeper before it is tightened.")
    parts = (Part("at least", deep.least, "mm"), Part("to spare", deep.spare, "mm"))
    return Answer(deep.inside, "mm", bands=bands, parts=parts, notes=tuple(notes))


def _post_clearance(given: Readings) -> Answer:
    room = posts.clearance(given.number("post"), given.number("bore"))
    bands = around(*_CLEARANCE, ("too tight", "right", "too loose"))
    return Answer(room, "mm", bands=bands, notes=("Measure the bore twice at a right angle: a squeezed tube is oval.",))


SUMS: Final = (
    Sum(
        "cap-gap",
        "What the gap above the steerer asks for.",
        (Number("gap", "How far the steerer stands below the top of the stem or spacer", headset.GAP),),
        (headset.top_cap_gap, headset.spacers_for),
        _cap_gap,
        ("--gap", "0.5mm"),
        "0.5 mm: too little",
    ),
    Sum(
        "steerer-cut",
        "What to cut off a steerer.",
        (
            Number("head-tube", "Length of the head tube", headset.HEAD_TUBE),
            Number("stack", "Height that the headset adds, above and below", headset.STACK),
            Number("spacers", "Height of all spacers", headset.SPACERS),
            Number("stem", "Height of the stem's clamp", headset.STEM),
            Number("gap", "Gap left for the cap", _LEFT, "3mm"),
            Number("steerer", "Steerer as it is, from the crown race seat", headset.STEERER, ""),
        ),
        (headset.steerer_length, headset.steerer_cut),
        _steerer_cut,
        ("--head-tube", "140mm", "--stack", "28mm", "--spacers", "20mm", "--stem", "40mm", "--steerer", "300mm"),
        "75 mm: to cut off",
    ),
    Sum(
        "headset-size",
        "Which headset a bore and a steerer take.",
        (
            Number("bore", "Bore of the bare head tube", headset.BORE),
            Number("tube", "Steerer above, crown race seat below", headset.TUBE),
            Choice(
                "kind", "Kind, if it can be seen (EC outside, ZS inside, IS in the frame)", tuple(headset.KINDS), ""
            ),
        ),
        (headset.kinds_for,),
        _headset_size,
        ("--bore", "43.98mm", "--tube", "28.6mm", "--kind", "ZS"),
        "ZS44/28.6",
    ),
    Sum(
        "headset-code",
        "What a headset's code means.",
        (Text("code", "Code of one end", "ZS44/28.6"),),
        (headset.read_code,),
        _headset_code,
        ("--code", "ZS44/28.6"),
        "44 mm: bore of the head tube",
    ),
    Sum(
        "post-insertion",
        "Whether a post or quill stem stands deep enough.",
        (
            Number("length", "Whole length", posts.LENGTH),
            Number("out", "Length that stands out of the frame", posts.OUT),
            Choice("kind", "What it is", (*posts.KINDS, "shaped post"), "post"),
            Number("diameter", "Diameter (27.2 mm is the most common post)", posts.DIAMETER, ""),
            Number("asked", "Insertion that mark or frame maker ask for", posts.ASKED, ""),
        ),
        (posts.insertion, posts.least_insertion),
        _post_insertion,
        ("--length", "350mm", "--out", "270mm", "--diameter", "27.2mm"),
        "80 mm: deep enough",
    ),
    Sum(
        "post-clearance",
        "How much smaller a post is than its bore.",
        (Number("post", "Diameter of the post", posts.DIAMETER), Number("bore", "Bore that it stands in", posts.BORE)),
        (posts.clearance,),
        _post_clearance,
        ("--post", "27.2mm", "--bore", "27.3mm"),
        "0.1 mm: right",
    ),
)
