"""The answers of a worked case: a value, a reading, or the raw readings that a sum of the bench makes one of.

Cast: `Answers` reads them, each into the data of an `answer` event; `worked_out` reckons those that are made of raw
readings, once the bike's profile is known.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from diagnose.bench.units import parse_quantity
from diagnose.book.model import Book, Check
from diagnose.book.problems import Problems, nearest
from diagnose.book.schema_base import SKILLS
from diagnose.book.shape import Choice, Fields, MapOf, Reader, Record, Words, may
from diagnose.book.tree import Mapping, Node
from diagnose.casework.measuring import measured, take
from diagnose.errors import InputError
from diagnose.reason.situation import CANNOT_TELL, Answer, Raw, Situation

ANSWER = Record(
    "an answer",
    {
        "value": may(Words()),
        "reading": may(Words()),
        "readings": may(MapOf((), Words(), least=1)),
        "outside": may(Words()),
        "by": may(Choice(SKILLS, "role")),
    },
)


@dataclass(frozen=True, slots=True)
class Answers:
    """Answers by check, in the order written."""

    book: Book

    def read(self, node: Node, reader: Reader) -> tuple[dict[str, Any], ...]:
        """Data of `answer` events; `by` is None where the file does not say."""
        if not isinstance(node, Mapping):
            reader.problems.error("type.wrong", node.where, "lines of `check: answer` are wanted here", "")
            return ()
        found = []
        for name, child in node.items.items():
            check = reader.known_id(("check",), name, node.keys[name], "check")
            if check:
                answer = self._read_one(self.book.checks[check], child, reader)
                if answer:
                    found.append(answer)
        return tuple(found)

    def _read_one(self, check: Check, node: Node, reader: Reader) -> dict[str, Any] | None:
        fields: Fields = {"by": None, "value": None, "reading": None, "readings": None, "outside": None}
        if isinstance(node, Mapping):
            got = ANSWER.read(node, reader)
            if got is None:
                return None
            fields = got
        else:
            text = Words().read(node, reader)
            if text is None:
                return None
            known = text in self.book.findings[check.finding].values or text == CANNOT_TELL
            fields["value" if known or check.measure is None else "reading"] = text
        if [fields[key] for key in ("value", "reading", "readings", "outside")].count(None) != 3:
            message = "an answer has a `value`, a `reading`, the `readings` of a sum, or a reading that is `outside`"
            reader.problems.error("answer.one", node.where, message, "Write one of them.")
            return None
        if fields["readings"] is not None:
            return self._readings(check, fields, node, reader)
        if fields["reading"] is not None or fields["outside"] is not None:
            return self._reading(check, fields, node, reader)
        return self._value(check, fields, node, reader)

    def _reading(self, check: Check, fields: Fields, node: Node, reader: Reader) -> dict[str, Any] | None:
        if check.measure is None:
            hint = "Known: " + ", ".join(self.book.findings[check.finding].values) + "."
            reader.problems.error("answer.no-reading", node.where, f"'{check.id}' takes no reading", hint)
            return None
        try:
            reading = parse_quantity(fields["reading"] or fields["outside"], check.measure.unit)
        except InputError as why:
            reader.problems.error(why.code, node.where, why.message.removesuffix("."), why.hint)
            return None
        within = check.measure.low <= reading.value <= check.measure.high
        if fields["outside"] and not within:
            return {"check": check.id, "by": fields["by"], "cannot_tell": True, "outside": fields["outside"]}
        if fields["outside"]:
            message = f"{reading.value:g} {check.measure.unit} is no reading outside the range"
            reader.problems.error("reading.range", node.where, message, "Write it as a `reading`.")
            return None
        if not within:
            message = (
                f"{reading.value:g} {check.measure.unit} is outside {check.measure.low:g} to {check.measure.high:g}"
            )
            reader.problems.error("reading.range", node.where, message, "Check the reading and its unit.")
            return None
        return {
            "check": check.id,
            "by": fields["by"],
            "reading": reading.value,
            "unit": check.measure.unit,
            "typed": fields["reading"],
        }

    def _readings(self, check: Check, fields: Fields, node: Node, reader: Reader) -> dict[str, Any] | None:
        """The raw readings, taken one by one; what they come to is reckoned once the profile is known."""
        asks = check.measure.working.asks if check.measure and check.measure.working else {}
        if not asks:
            hint = "Write `reading: ...`." if check.measure else "Write one of its values."
            reader.problems.error("answer.no-readings", node.where, f"'{check.id}' is not made of readings", hint)
            return None
        written = node.items["readings"] if isinstance(node, Mapping) else node
        raws: list[Raw] = []
        for key, typed in fields["readings"].items():
            where = written.keys[key] if isinstance(written, Mapping) else node.where
            if key not in asks:
                hint = nearest(key, asks) or f"It asks for {', '.join(asks)}."
                reader.problems.error("id.unknown", where, f"'{check.id}' asks for no '{key}'", hint)
                continue
            try:
                raws.append(take(check, key, typed))
            except InputError as why:
                reader.problems.error(why.code, where, f"{key}: {why.message.removesuffix('.')}", why.hint)
        if len(raws) < len(fields["readings"]):
            return None
        return {"check": check.id, "by": fields["by"], "raws": raws, "where": node.where}

    def _value(self, check: Check, fields: Fields, node: Node, reader: Reader) -> dict[str, Any] | None:
        value = fields["value"]
        if value == CANNOT_TELL:
            return {"check": check.id, "by": fields["by"], "cannot_tell": True}
        if not reader.known_value(check.finding, value, node.where):
            return None
        return {"check": check.id, "by": fields["by"], "value": value}


def worked_out(book: Book, case: Fields, problems: Problems) -> Fields:
    """The case with every answer that is made of raw readings reckoned, for the bike that it tells of."""
    reckoner = _Reckoner(book, case, problems)
    answers = reckoner.all_of(case["answers"])
    return {**case, "answers": answers, "fixes": [reckoner.of_fix(one) for one in case["fixes"]]}


class _Reckoner:
    """Reckons the answers of a case one after the other: a sum may lean on what was read before."""

    def __init__(self, book: Book, case: Fields, problems: Problems) -> None:
        self.book = book
        self.case = case
        self.problems = problems
        self.told: list[Answer] = []

    def of_fix(self, fix: Fields) -> Fields:
        """A fix with what was looked at again afterwards."""
        return {**fix, "answers": self.all_of(fix["answers"])}

    def all_of(self, answers: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
        """The answers, but for those that cannot be reckoned, which are reported."""
        return [one for one in map(self._one, answers) if one]

    def _one(self, data: dict[str, Any]) -> dict[str, Any] | None:
        check, raws = self.book.checks[data["check"]], tuple(data.get("raws", ()))
        if raws:
            situation = Situation(self.case["complaints"], self.case["profile"], answers=tuple(self.told))
            try:
                draft = measured(self.book, check, data["by"] or self.case["by"], raws, situation)
            except InputError as why:
                self.problems.error(why.code, data["where"], why.message.removesuffix("."), why.hint)
                return None
            data = {**draft.data, "by": data["by"]}
        reading, unit = data.get("reading"), data.get("unit")
        self.told.append(Answer(check.id, check.finding, None, "", reading, unit, raw=raws))
        return data
