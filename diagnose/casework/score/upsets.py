"""What if the book, or those who answer, are wrong? The upsets that robustness is measured under.

Cast: `UPSETS` names them; `rows_off`, `shares_off` and `without` give a book that is wrong in that way. The bikes are
those of the true book, so that each bike is met twice: by a policy that reads the true book, and by one that reads
the wrong one.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, log
from random import Random

from diagnose.book.likelihood import WORD_WEIGHT, WORDS, Chance, complete_row, read_chance
from diagnose.book.model import Book, Cause, Finding, Row
from diagnose.casework.score.bikes import Twist

WRONG_BOOKS = 4
"""Wrong books that take turns, by the number of the bike."""
FACTOR = 2.0
TWISTS = {"wrong-answers": Twist(wrong=0.05), "exaggerates": Twist(exaggerated=0.5)}
"""Upsets of the answers alone."""

UPSETS = {
    "wrong-answers": "one answer in twenty is wrong",
    "exaggerates": "every second answer a rider can give is one value rarer than it is",
    "rows-off": "every row of the book is one word off",
    "shares-off": "every share of the book is off by two",
    "rows-and-shares-off": "both: rows one word off, shares off by two",
    "two-faults": "two faults behind one complaint, fixes cure as the book says",
    "two-faults-sure": "two faults behind one complaint, the last fix of each ladder cures",
    "two-complaints": "two complaints, each with a fault of its own",
    "unknown-cause": "the cause is one that the book does not have",
    "cause-first": "causes by their share of all bikes, profiles to fit",
}
"""Upset to what it is."""
ONE_FAULT = ("wrong-answers", "exaggerates", "rows-off", "shares-off", "rows-and-shares-off", "unknown-cause")
"""Upsets under which the bikes are the plain ones, so that costs are compared bike by bike."""


def rows_off(book: Book, draw: Random) -> Book:
    """The book with every chance of every row one word up or down the seven-step scale, by lot."""
    findings = {name: _finding_off(finding, draw) for name, finding in sorted(book.findings.items())}
    causes = {
        name: cause._replace(
            shows={one: _row_off(row, findings[one], draw) for one, row in sorted(cause.shows.items())}
        )
        for name, cause in sorted(book.causes.items())
    }
    return replace(book, findings=findings, causes=causes)


def _finding_off(finding: Finding, draw: Random) -> Finding:
    chances = complete_row(_words_off(finding.otherwise, draw), tuple(finding.values), None)
    return finding._replace(otherwise=finding.otherwise._replace(chances=chances))


def _row_off(row: Row, finding: Finding, draw: Random) -> Row:
    chances = complete_row(_words_off(row, draw), tuple(finding.values), finding.otherwise.chances)
    return row._replace(chances=chances)


def _words_off(row: Row, draw: Random) -> dict[str, Chance]:
    """The chances that a row names, each moved by one word."""
    named = {}
    for value, text in row.written.items():
        chance = read_chance(text)
        if chance:
            off = word_off(chance.value, draw.choice((-1, 1)))
            named[value] = Chance(off, off, off, WORD_WEIGHT)
    return named


def word_off(chance: float, step: int) -> float:
    """A chance one word up (1) or down (-1): a word's neighbour, or at the end of the scale the only one there is.

    What is not a word is moved as far as the word nearest to it would be, in odds.
    """
    scale = [value for value, *_ in WORDS.values()]
    place = min(range(len(scale)), key=lambda one: abs(scale[one] - chance))
    if chance not in scale:
        one, two = sorted((place, place + step if 0 <= place + step < len(scale) else place - step))
        return 1 / (1 + exp(-_log_odds(chance) - step * (_log_odds(scale[two]) - _log_odds(scale[one]))))
    return scale[place + step if 0 <= place + step < len(scale) else place - step]


def _log_odds(chance: float) -> float:
    return log(chance / (1 - chance))


def shares_off(book: Book, draw: Random) -> Book:
    """The book with every share doubled or halved, by lot."""
    return replace(book, causes={name: _shares_off(cause, draw) for name, cause in sorted(book.causes.items())})


def _shares_off(cause: Cause, draw: Random) -> Cause:
    shares = {
        complaint: share._replace(of_100=share.of_100 * draw.choice((FACTOR, 1 / FACTOR)))
        for complaint, share in sorted(cause.shares.items())
    }
    return cause._replace(shares=shares)


def without(book: Book, cause: str) -> Book:
    """The book as if nobody had written this cause down."""
    return replace(book, causes={name: one for name, one in book.causes.items() if name != cause})
