"""JSON Schema of worked cases, made from the shapes that they are read with.

Cast: `case_schema(ids)`; `CaseSchemaWriter` knows the shapes of a case beside those of the book.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.book.editor_schema import Ids, Schema, SchemaWriter
from diagnose.book.shape import Reader, Words
from diagnose.book.tree import Node
from diagnose.casework.caseanswers import ANSWER
from diagnose.casework.casefile import CauseOrUnknown, NextStep, case_shape
from diagnose.reason.situation import CANNOT_TELL


@dataclass(frozen=True, slots=True)
class AnswersShape:
    """Stands for the answers of a case, which are read with a book at hand."""

    def read(self, node: Node, reader: Reader) -> Node:
        """The node itself."""
        return node


class CaseSchemaWriter(SchemaWriter):
    """Writes the schema of a worked case."""

    def of(self, shape: object, owner: str = "") -> Schema:
        """The schema of a shape."""
        if isinstance(shape, AnswersShape):
            return self.defined("answers", self._answers())
        if isinstance(shape, CauseOrUnknown):
            return {"anyOf": [{"const": "something-else"}, self.one_of(["cause"])]}
        if isinstance(shape, NextStep):
            return {"anyOf": [{"enum": ["hand-off", "done"]}, self.one_of(["check", "fix"])]}
        return super().of(shape, owner)

    def _answers(self) -> Schema:
        told = self.ids.of(["check"])
        entries = {check: {**self._answer(check), "description": text} for check, text in told.items()}
        return {"type": "object", "properties": entries, "additionalProperties": False}

    def _answer(self, check: str) -> Schema:
        words = {"enum": [CANNOT_TELL, *self.ids.values.get(self.ids.finding_of.get(check, ""), ())]}
        if check in self.ids.measured:
            told = {"value": words, "reading": self.of(Words()), "outside": self.of(Words())}
            if check in self.ids.raw:
                told["readings"] = self._raw(self.ids.raw[check])
            return {"anyOf": [words, self.of(Words()), self._told(told)]}
        return {"anyOf": [words, {**self._told({"value": words}), "required": ["value"]}]}

    def _raw(self, asked: tuple[str, ...]) -> Schema:
        """The readings that a sum asks for, at least one of them."""
        entries = {key: self.of(Words()) for key in asked}
        return {"type": "object", "properties": entries, "additionalProperties": False, "minProperties": 1}

    def _told(self, what: Schema) -> Schema:
        """An answer of several lines: what was seen or read, and who says so."""
        by = self.of(ANSWER.fields["by"].shape)
        schema = {"type": "object", "properties": {**what, "by": by}, "additionalProperties": False}
        return {**schema, "oneOf": [{"required": [key]} for key in what]}


def case_schema(ids: Ids) -> Schema:
    """The schema of a case file."""
    writer = CaseSchemaWriter(ids)
    return writer.finish(writer.of(case_shape(AnswersShape())), "a worked case")
