"""Every bike played by every player, on all cores.

Cast: an `Order` says what is wanted; `run` gives the `Results`. The work is cut into `Task`s; a `Simulator` (one a
process) does them. Figures do not hang on the number of processes: a bike hangs on its name alone, and results are
put in the order of the tasks.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple

from diagnose.book.model import Book
from diagnose.book.shelf import load_book
from diagnose.casework.score.bikes import AS_THE_BOOK_SAYS, Bike, Twist, lot
from diagnose.casework.score.draw import Maker
from diagnose.casework.score.fixed_order import choose_order
from diagnose.casework.score.play import Intake, Visit, intake, play
from diagnose.casework.score.players import Clairvoyant, FixedOrder, Player, Policy, make_rival
from diagnose.casework.score.upsets import TWISTS, WRONG_BOOKS, rows_off, shares_off, without
from diagnose.errors import BookError, EngineError
from diagnose.reason.reasoner import DEPTH, Reasoner

CHUNK = 5
"""Bikes a task."""
PLAIN = ""
"""No upset: the book is right and so is everybody."""

Progress = Callable[[int, int], None]
"""Told how many tasks are done, of how many."""


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be played: `bikes` for each of the `complaints` (empty: all).

    By the policy, by the `rivals`, and by the policy under the `upsets`.
    """

    rules: tuple[Path, ...]
    bikes: int
    seed: int = 1
    complaints: tuple[str, ...] = ()
    depth: int = DEPTH
    rivals: tuple[str, ...] = ()
    upsets: tuple[str, ...] = ()
    counter: bool = False
    free: bool = False
    """Whether rivals are spared the checks that danger demands."""


class Task(NamedTuple):
    """Some bikes of one complaint for one player; kind is visit, intake or list (of questions, for the fixed order)."""

    kind: str
    upset: str
    player: str
    complaint: str
    numbers: range
    questions: tuple[str, ...] = ()


Done = Visit | Intake | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Results:
    """What was played: visits by (upset, player), intakes at the counter, and the lists of the fixed order."""

    order: Order
    book: Book
    visits: Mapping[tuple[str, str], tuple[Visit, ...]]
    intakes: tuple[Intake, ...] = ()
    lists: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def policy(self) -> tuple[Visit, ...]:
        """The policy's visits to the plain bikes."""
        return self.visits[PLAIN, Policy.name]


class Simulator:
    """Plays tasks with one book: bikes are always those of the true book, the policy's own may be upset."""

    def __init__(self, order: Order, book: Book) -> None:
        self.order = order
        self.book = book
        self.reasoner = Reasoner(book, depth=order.depth)
        self.maker = Maker(book, self.reasoner.chainer, order.seed)
        self._wrong: dict[tuple[str, str], Reasoner] = {}

    def play(self, task: Task) -> list[Done]:
        """The results of a task, bike by bike."""
        if task.kind == "list":
            trainer = Maker(self.book, self.reasoner.chainer, f"list|{self.order.seed}")
            return [choose_order(trainer, task.complaint)]
        done: list[Done] = []
        for number in task.numbers:
            bike = self._bike(task, number)
            if bike is None:
                continue
            try:
                if task.kind == "intake":
                    done.append(intake(bike, Policy(self.reasoner), self.reasoner.chainer))
                else:
                    done.append(play(bike, self._player(task, bike), self.reasoner.chainer))
            except Exception as why:
                why.add_note(f"on bike {number} of {task.complaint}, played by {task.player} {task.upset}")
                raise
        return done

    def _bike(self, task: Task, number: int) -> Bike | None:
        maker, complaint = self.maker, task.complaint
        makers: dict[str, Callable[[str, int], Bike | None]] = {
            "two-faults": maker.two_faults,
            "two-complaints": maker.two_complaints,
            "cause-first": maker.cause_first,
        }
        if task.upset in makers:
            return makers[task.upset](complaint, number)
        if task.upset == "two-faults-sure":
            return maker.two_faults(complaint, number, Twist(sure=True))
        bike = maker.bike(complaint, number, TWISTS.get(task.upset, AS_THE_BOOK_SAYS))
        return None if task.upset == "unknown-cause" and bike.faults[0].cause is None else bike

    def _player(self, task: Task, bike: Bike) -> Player:
        if task.player == Clairvoyant.name:
            return Clairvoyant(self.reasoner, bike.faults[0].cause)
        if task.player != Policy.name:
            return make_rival(task.player, self.reasoner, {task.complaint: task.questions}, self.order.free)
        return Policy(self._reasoner(task.upset, bike))

    def _reasoner(self, upset: str, bike: Bike) -> Reasoner:
        """The reasoner that a policy has under an upset; deductions are the same, so they share the engine."""
        which = bike.faults[0].cause or "" if upset == "unknown-cause" else str(bike.number % WRONG_BOOKS)
        key = (upset, which)
        if key not in self._wrong:
            book = self._book(upset, which)
            if book is self.book:
                return self.reasoner
            self._wrong[key] = Reasoner(book, self.reasoner.chainer, self.order.depth)
        return self._wrong[key]

    def _book(self, upset: str, which: str) -> Book:
        book = self.book
        if upset == "unknown-cause":
            return without(book, which)
        if upset in ("shares-off", "rows-and-shares-off"):
            book = shares_off(book, lot(self.order.seed, "shares", which))
        if upset in ("rows-off", "rows-and-shares-off"):
            book = rows_off(book, lot(self.order.seed, "rows", which))
        return book


# --- all of it ------------------------------------------------------------------------------------------------------


def run(order: Order, jobs: int = 1, progress: Progress | None = None) -> Results:
    """Play everything that is wanted, in so many processes.

    Raises:
        BookError: the rule book cannot be used, or was changed while bikes were being played.
        EngineError: a process was ended from outside.
    """
    book = load_book(*order.rules)
    complaints = order.complaints or tuple(sorted(book.complaints))
    lists = [Task("list", PLAIN, "", one, range(0)) for one in complaints if FixedOrder.name in order.rivals]
    with _pool(order, book, jobs) as pool:
        chosen = {task.complaint: one[0] for task, one in zip(lists, pool(lists, None), strict=True)}
        tasks = list(_tasks(order, complaints, {name: one for name, one in chosen.items() if isinstance(one, tuple)}))
        done = pool(tasks, progress)
    visits: dict[tuple[str, str], list[Visit]] = {}
    intakes: list[Intake] = []
    for task, some in zip(tasks, done, strict=True):
        visits.setdefault((task.upset, task.player), []).extend(one for one in some if isinstance(one, Visit))
        intakes += [one for one in some if isinstance(one, Intake)]
    kept = {key: tuple(found) for key, found in visits.items() if found or key == (PLAIN, Policy.name)}
    return Results(
        order, book, kept, tuple(intakes), {task.complaint: task.questions for task in tasks if task.questions}
    )


def _tasks(order: Order, complaints: Sequence[str], lists: Mapping[str, tuple[str, ...]]) -> Iterator[Task]:
    for complaint in complaints:
        for first in range(0, order.bikes, CHUNK):
            some = range(first, min(first + CHUNK, order.bikes))
            yield Task("visit", PLAIN, Policy.name, complaint, some)
            for rival in order.rivals:
                questions = lists[complaint] if rival == FixedOrder.name else ()
                yield Task("visit", PLAIN, rival, complaint, some, questions)
            for upset in order.upsets:
                yield Task("visit", upset, Policy.name, complaint, some)
            if order.counter:
                yield Task("intake", PLAIN, Policy.name, complaint, some)


Pool = Callable[[Sequence[Task], Progress | None], list[list[Done]]]


@contextmanager
def _pool(order: Order, book: Book, jobs: int) -> Iterator[Pool]:
    """Does tasks, in this process or in several; results in the order of the tasks."""
    if jobs == 1:
        simulator = Simulator(order, book)

        def here(tasks: Sequence[Task], progress: Progress | None) -> list[list[Done]]:
            done = []
            for task in tasks:
                done.append(simulator.play(task))
                if progress:
                    progress(len(done), len(tasks))
            return done

        yield here
        return
    executor = ProcessPoolExecutor(jobs, get_context("spawn"), _leave_interrupts)

    def there(tasks: Sequence[Task], progress: Progress | None) -> list[list[Done]]:
        futures = [executor.submit(_play, order, book.fingerprint, task) for task in tasks]
        for count, future in enumerate(as_completed(futures), 1):
            future.result()
            if progress:
                progress(count, len(tasks))
        return [future.result() for future in futures]

    try:
        yield there
    except BrokenProcessPool as why:
        message = "a process that played bikes was ended from outside"
        raise EngineError("engine.process", message, None, "Run it again, with fewer --jobs.") from why
    finally:
        with _uninterrupted():
            executor.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """A second interrupt, while the processes are being ended, would leave them behind."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _leave_interrupts() -> None:
    """An interrupt is for the process that handed out the work; it ends the others."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _play(order: Order, fingerprint: str, task: Task) -> list[Done]:
    return _simulator(order, fingerprint).play(task)


@lru_cache(maxsize=1)
def _simulator(order: Order, fingerprint: str) -> Simulator:
    """The simulator of this process: the book is read and the engine built once."""
    book = load_book(*order.rules)
    if book.fingerprint != fingerprint:
        raise BookError(
            "book.changed", "the rule book was changed while bikes were being played", None, "Run it again."
        )
    return Simulator(order, book)
