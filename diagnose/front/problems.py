"""Problems of rule and case files, as lines of text and as JSON.

Cast: `describe` gives the line, `told` the fields of the JSON, `problem_of` what an exception says as a problem.
"""

from __future__ import annotations

from typing import Any

from diagnose.book.problems import Problem
from diagnose.errors import DiagnoseError, Location


def describe(problem: Problem) -> str:
    """One problem as one line: place, severity, what is wrong, what to write, and its lasting name."""
    hint = f" {problem.hint}" if problem.hint else ""
    line = f"{problem.where}: {problem.severity}: {problem.message.removesuffix('.')}.{hint} [{problem.code}]"
    return "".join(char if char.isprintable() else "?" for char in line)


def told(problem: Problem) -> dict[str, Any]:
    """One problem for JSON; what is absent is null."""
    return {
        "code": problem.code,
        "file": problem.where.file,
        "line": problem.where.line or None,
        "column": problem.where.column or None,
        "message": problem.message,
        "hint": problem.hint or None,
    }


def problem_of(why: DiagnoseError) -> Problem:
    """What an exception says."""
    return Problem(why.location or Location("?"), why.code, why.message, why.hint)
