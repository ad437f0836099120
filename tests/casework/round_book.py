"""A book of one complaint that stands back, looked into on a round of five looks that are mostly as they should be.

Cast: `LOOKS` in their order, and `round_content`, what `small_book` and `write_book` make a book of.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tests.reason.small_book import Raw, cause, deduction, finding, fix

LOOKS = ("axle", "bars", "post", "spokes", "cranks")
"""Looks of a round, in its order."""


def round_content(
    checks: Mapping[str, Raw] | None = None,
    findings: Mapping[str, Raw] | None = None,
    deductions: Mapping[str, Raw] | None = None,
    **content: Any,
) -> Raw:
    """A round of `LOOKS` at which a bike is mostly in order; with what a test is about."""
    usual = {name: finding("right wrong", {"wrong": "3 %"}, {name: (checks or {}).get(name, {})}) for name in LOOKS}
    seen = {f"{name}-seen": {**one, **(findings or {}).get(name, {})} for name, one in usual.items()}
    broken = {
        f"{name}-bad": cause({"knocks": "3 %"}, {f"{name}-seen": {"wrong": "95 %"}}, fix(f"mend-{name}", "95 %"))
        for name in LOOKS
    }
    fine = cause({"knocks": "80 %"}, {"axle-seen": {"right": "99 %"}}, fix("tell", "95 %"))
    filled: Raw = {
        "complaints": {"knocks": {"stands_back": "yes", "something_else": "5 in 100"}},
        "causes": {"fine": fine, **broken},
        "findings": seen,
        "deductions": {
            "the-round": deduction({"complaint": "knocks"}, {"demand_first": list(LOOKS)}),
            **(deductions or {}),
        },
    }
    return {**filled, **content}
