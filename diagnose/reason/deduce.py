"""Deductions by durable-rules: the only module that imports it, and only when a chainer is built.

Cast: `chainer` (the chainer to use: the engine, or the plain one with a notice), `DurableChainer`; what goes in and
comes out is declared in `chainer.py` and named here again. Start reading at `_Machine.run`.

The engine matches and joins. Its actions only note that a rule fired and on which facts; the conclusions are sent as
new facts from outside, round by round, so that little can go wrong within an action. What a network made of the same
facts before is remembered. What durable-rules does without a
word is caught here: an error within an action (kept in its state, the rest goes on), a run left unfinished because by
the clock an action took ten seconds (clock set, process halted), a fact taken for one that it has seen. After any of
these the state of the run is dropped, and the next run has a state and a name of its own, as every run has.

Every run begins with a fact that always fires a rule. It shows that the engine works at all; and the engine, told to
delete a state in which nothing ever fired, frees a pointer that it never set.
"""

from __future__ import annotations

import importlib
import weakref
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property, lru_cache, partial
from itertools import count
from threading import Lock
from typing import Any, NamedTuple, NoReturn, Protocol, TypeAlias, cast

from diagnose.errors import EngineError
from diagnose.reason.chainer import (
    Chainer,
    Datum,
    Deductions,
    Fired,
    Pattern,
    PlainChainer,
    Rule,
    deductions,
    distinct,
    prepared,
)
from diagnose.reason.network import STARTED, STARTER, Coder, Mark, Message, definition, slot, split

__all__ = [
    "Chainer",
    "Datum",
    "Deductions",
    "DurableChainer",
    "Fired",
    "Pattern",
    "PlainChainer",
    "Rule",
    "chainer",
]

# Numbers of facts and of runs both end up in one 32-bit hash within the engine; up to here no two of them meet.
MOST_FACTS = 20_000
MOST_RUNS = 100_000

REMEMBERED = 4096
"""Runs of networks that are remembered: a new answer concerns few of them, and like bikes have facts in common."""

Firing: TypeAlias = tuple[int, tuple[int, ...]]
"""The number of a rule, and for each of its patterns the place of the fact that met it among those told."""


def chainer(rules: Iterable[Rule]) -> Chainer:
    """The chainer to use: durable-rules, or the plain one with a notice when that cannot be imported or built.

    Raises:
        EngineError: a rule cannot be run by any chainer; see `prepared`.
    """
    ready = prepared(rules)
    try:
        return DurableChainer(ready)
    except EngineError as error:
        reason = " ".join(str(error).split())
        return PlainChainer(ready, f"Plain forward chaining stands in, with the same results: {reason}")


class DurableChainer:
    """Forward chaining by durable-rules; chainers over equal rules share one set of networks in a process."""

    name = "durable-rules"
    notice = ""

    def __init__(self, rules: Iterable[Rule]) -> None:
        """Builds the networks, or takes those that the process has for these rules.

        Raises:
            EngineError: a rule cannot be run (see `prepared`), or durable-rules cannot be imported, built or started.
        """
        self._machine = _machine(prepared(rules))

    def run(self, data: Iterable[Datum]) -> Deductions:
        """All that follows from `data`. Threads may share a chainer; their runs come one after the other.

        Raises:
            EngineError: a value is neither a word nor a finite number, or the engine failed.
        """
        return self._machine.run(distinct(data))

    def forget(self) -> None:
        """Drop what is remembered of earlier runs."""
        self._machine.forget()


class _Ruleset(Protocol):
    """What is used of `durable.engine.Ruleset`."""

    def assert_fact(self, fact: Mapping[str, object]) -> int: ...

    def do_actions(self, state_handle: int, complete: Callable[[BaseException | None, Any], None]) -> None: ...

    def delete_state(self, sid: str) -> None: ...


class _Engine(NamedTuple):
    """What is used of durable-rules: how to build a ruleset and give it back, and its two usual exceptions."""

    build: Callable[[str, None, dict[str, dict[str, object]]], _Ruleset]
    give_back: Callable[[_Ruleset], None]
    not_handled: type[Exception]
    observed: type[Exception]


class _StalledError(EngineError):
    """The engine left a run unfinished without an error."""


class _Log:
    """What the actions of one network note down: the number of the rule and of the facts that it matched."""

    def __init__(self) -> None:
        self.fired: list[tuple[str, tuple[int, ...]]] = []
        self.failure: BaseException | None = None

    def action(self, rule: str, patterns: int) -> Callable[[Any], None]:
        """An action for a rule. It has one parameter: the engine takes one with two for asynchronous and waits."""
        slots = [slot(place) for place in range(patterns)]

        def note(closure: Any) -> None:
            try:
                self.fired.append((rule, _fact_numbers(closure, slots)))
            except BaseException as failure:  # the engine would keep an interrupt to itself
                self.failure = failure
                raise

        return note


def _fact_numbers(closure: Any, slots: Iterable[str]) -> tuple[int, ...]:
    return tuple(int(getattr(closure, name).id) for name in slots)


class _Network:
    """One ruleset of the engine. A run in it is told all of its facts at once, and what fired is taken down."""

    def __init__(self, engine: _Engine, network: dict[str, dict[str, object]]) -> None:
        self._engine = engine
        self._log = _Log()
        for rule, parts in network.items():
            parts["run"] = self._log.action(rule, len(cast(Sequence[object], parts["all"])))
        try:
            self._ruleset = engine.build("deductions", None, network)
        except Exception as error:
            raise EngineError("engine-not-built", f"durable-rules cannot build the rules: {error}") from error
        # A ruleset keeps its memory, some megabytes, until it is given back; nobody else does that.
        weakref.finalize(self, engine.give_back, self._ruleset).atexit = False

    def run(self, sid: str, heard: Iterable[Message]) -> tuple[Firing, ...]:
        """What fires on these messages, in a state of its own that is dropped afterwards.

        The state begins with a fact that fires a rule. A run that is stopped before that rule has fired leaves its
        state behind: to delete one in which nothing ever fired can be a crash.
        """
        self._log.fired, self._log.failure = [], None
        try:
            state = self._tell(sid, 0, STARTER)
            for number, message in enumerate(heard, 1):
                state = self._tell(sid, number, message) or state
            self._settle(state)
        finally:
            if self._log.fired:
                self._drop(sid)
        if (STARTED, (0,)) not in self._log.fired:
            raise _StalledError("engine-idle", "durable-rules does not fire a rule that always holds.")
        return tuple(
            (int(rule), tuple(number - 1 for number in numbers)) for rule, numbers in self._log.fired if rule != STARTED
        )

    def _tell(self, sid: str, number: int, message: Message) -> int:
        """Give the engine a fact, under a number that comes back with each firing it has part in; its state."""
        key, name, value = message
        try:
            return self._ruleset.assert_fact({"sid": sid, "id": str(number), "k": key, name: value})
        except self._engine.not_handled:
            return 0  # no test of this network is met: nothing follows here
        except self._engine.observed as error:
            raise EngineError("fact-mistaken", "durable-rules took a fact for one that it had seen.") from error
        except Exception as error:
            raise EngineError("fact-refused", f"durable-rules refused a fact: {error}") from error

    def _settle(self, state: int) -> None:
        """Let every rule fire that can, and look at what the engine says little of."""
        outcomes: list[tuple[BaseException | None, Any]] = []
        self._ruleset.do_actions(state, lambda error, state: outcomes.append((error, state)))
        if self._log.failure is not None:
            self._fail(self._log.failure)
        if not outcomes:
            raise _StalledError("engine-stalled", "durable-rules took an action for endless and left the run.")
        for error, left in outcomes:
            if error is not None:
                self._fail(error)
            if left and left.get("exception"):
                raise EngineError("engine-failed", f"durable-rules failed within an action: {left['exception']}")

    @staticmethod
    def _fail(error: BaseException) -> NoReturn:
        if not isinstance(error, Exception):
            raise error  # an interrupt is nobody's fault
        raise EngineError("engine-failed", f"durable-rules failed: {error}") from error

    def _drop(self, sid: str) -> None:
        try:
            self._ruleset.delete_state(sid)
        except Exception as error:
            raise EngineError("engine-failed", f"durable-rules cannot drop a finished run: {error}") from error


class _Part:
    """A network with the marks of the facts that its rules name; built when a run first calls for it."""

    def __init__(self, marks: frozenset[Mark], build: Callable[[], _Network]) -> None:
        self.marks = marks
        self._build = build

    @cached_property
    def network(self) -> _Network:
        return self._build()


class _Machine:
    """The networks of one rule base, behind a lock: a network knows one run at a time."""

    def __init__(self, engine: _Engine, rules: Sequence[Rule]) -> None:
        self._rules = rules
        self._coder = Coder(rules)
        self._parts: list[_Part] = []
        self._called: defaultdict[Mark, list[_Part]] = defaultdict(list)
        for bunch in split(rules):
            named = (pattern for number in bunch.numbers for pattern in rules[number].patterns)
            part = _Part(
                frozenset(mark for pattern in named for mark in self._coder.marks(pattern)),
                partial(self._build, engine, bunch.numbers),
            )
            self._parts.append(part)
            for mark in dict.fromkeys(mark for pattern in bunch.calls for mark in self._coder.marks(pattern)):
                self._called[mark].append(part)
        self._runs = count(1)
        self._lock = Lock()
        self._firings = lru_cache(maxsize=REMEMBERED)(self._fire)
        for part in self._parts[:1]:  # an engine that cannot start is found out now
            self._firings(part, ())

    def _build(self, engine: _Engine, numbers: Sequence[int]) -> _Network:
        return _Network(engine, definition(self._rules, numbers, self._coder))

    def _fire(self, part: _Part, heard: tuple[Message, ...]) -> tuple[Firing, ...]:
        """What fires in a network on these messages; a run that stalls is tried once more from the start."""
        try:
            return part.network.run(self._next(), heard)
        except _StalledError:
            return part.network.run(self._next(), heard)

    def forget(self) -> None:
        """Drop what is remembered of earlier runs."""
        self._firings.cache_clear()

    def _next(self) -> str:
        return str(next(self._runs) % MOST_RUNS)

    def run(self, data: Sequence[Datum]) -> Deductions:
        """All that follows from facts that `distinct` made.

        Round by round: each network is told what concerns it, and what its rules conclude is new in the next round.
        """
        known = set(data)
        fired: set[Fired] = set()
        heard: list[tuple[Message, Datum]] = []
        told: dict[_Part, int] = {}
        new: Sequence[Datum] = data
        with self._lock:
            while new:
                if len(known) >= MOST_FACTS:
                    raise EngineError(
                        "too-many-facts", f"{len(known)} facts are more than durable-rules can tell apart."
                    )
                said = [(self._coder.message(datum), datum) for datum in new]
                heard = sorted([*heard, *((message, datum) for message, datum in said if message)])
                calls = (part for message, _ in heard for part in self._called.get(message.mark, ()))
                concluded: dict[Datum, None] = {}
                for part in dict.fromkeys(calls):
                    concerns = [one for one in heard if one[0].mark in part.marks]
                    if len(concerns) == told.get(part):
                        continue
                    told[part] = len(concerns)
                    for number, places in self._firings(part, tuple([message for message, _ in concerns])):
                        rule = self._rules[number]
                        fired.add(Fired(rule.id, tuple([concerns[place][1] for place in places])))
                        concluded.update(dict.fromkeys(rule.concludes))
                new = [datum for datum in concluded if datum not in known]
                known.update(new)
        return deductions(fired, known)


_building = Lock()


def _machine(rules: tuple[Rule, ...]) -> _Machine:
    """The process's machine for these rules; two threads never build the same one."""
    with _building:
        return _built(rules)


@lru_cache(maxsize=8)
def _built(rules: tuple[Rule, ...]) -> _Machine:
    return _Machine(_load(), rules)


def _load() -> _Engine:
    """Durable-rules, or an `EngineError` that says why not. `Host` is left alone: it starts threads."""
    try:
        module: Any = importlib.import_module("durable.engine")
        delete = module.durable_rules_engine.delete_ruleset
        return _Engine(
            build=module.Ruleset,
            give_back=lambda ruleset: delete(vars(ruleset)["_handle"]),
            not_handled=module.MessageNotHandledException,
            observed=module.MessageObservedException,
        )
    except Exception as error:  # a library built for another Python fails in many ways
        raise EngineError("engine-missing", f"durable-rules cannot be imported: {error}") from error
