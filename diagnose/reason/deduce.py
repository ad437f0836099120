"""Deductions by durable-rules: the only module that imports it, and only when a chainer is built.

Cast: `chainer` (the chainer to use: the engine, or the plain one with a notice), `DurableChainer`; what goes in and
comes out is declared in `chainer.py` and named here again. Start reading at `_Run.chain`.

The engine matches and joins. Its actions only note that a rule fired and on which facts; the conclusions are sent as
new facts from outside, round by round, so that little can go wrong within an action. What durable-rules does without a
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
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from functools import cached_property, lru_cache, partial
from itertools import count
from threading import Lock
from typing import Any, NamedTuple, NoReturn, Protocol, cast

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
from diagnose.reason.network import START, STARTED, Coder, definition, slot, split

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
MOST_CASES = 100_000


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
    """One ruleset of the engine, and the run that is going on in it."""

    def __init__(self, engine: _Engine, network: dict[str, dict[str, object]]) -> None:
        self._engine = engine
        self._log = _Log()
        self._sid = ""
        self._state = 0
        self._awake = False
        for rule, parts in network.items():
            parts["run"] = self._log.action(rule, len(cast(Sequence[object], parts["all"])))
        try:
            self._ruleset = engine.build("deductions", None, network)
        except Exception as error:
            raise EngineError("engine-not-built", f"durable-rules cannot build the rules: {error}") from error
        # A ruleset keeps its memory, some megabytes, until it is given back; nobody else does that.
        weakref.finalize(self, engine.give_back, self._ruleset).atexit = False

    def begin(self, sid: str) -> None:
        """Open a state of its own for a run, with a fact in it that fires a rule when the run is settled."""
        self._sid, self._awake = sid, False
        self._log.fired, self._log.failure = [], None
        self.tell(0, {"k": START})

    def tell(self, number: int, message: Mapping[str, int]) -> None:
        """Give the engine a fact, under a number that comes back with each firing it has part in."""
        try:
            self._state = self._ruleset.assert_fact({"sid": self._sid, "id": str(number), **message})
        except self._engine.not_handled:
            pass  # no test of this network is met: nothing follows here
        except self._engine.observed as error:
            raise EngineError("fact-mistaken", "durable-rules took a fact for one that it had seen.") from error
        except Exception as error:
            raise EngineError("fact-refused", f"durable-rules refused a fact: {error}") from error

    def firings(self) -> list[tuple[str, tuple[int, ...]]]:
        """What has fired since the last time: number of the rule, numbers of the facts."""
        self._log.fired = []
        try:
            self._settle()
        finally:
            asleep, self._awake = not self._awake, self._awake or bool(self._log.fired)
        if asleep and (STARTED, (0,)) not in self._log.fired:
            raise _StalledError("engine-idle", "durable-rules does not fire a rule that always holds.")
        return [firing for firing in self._log.fired if firing[0] != STARTED]

    def _settle(self) -> None:
        """Let every rule fire that can, and look at what the engine says little of."""
        outcomes: list[tuple[BaseException | None, Any]] = []
        self._ruleset.do_actions(self._state, lambda error, state: outcomes.append((error, state)))
        if self._log.failure is not None:
            self._fail(self._log.failure)
        if not outcomes:
            raise _StalledError("engine-stalled", "durable-rules took an action for endless and left the run.")
        for error, state in outcomes:
            if error is not None:
                self._fail(error)
            if state and state.get("exception"):
                raise EngineError("engine-failed", f"durable-rules failed within an action: {state['exception']}")

    @staticmethod
    def _fail(error: BaseException) -> NoReturn:
        if not isinstance(error, Exception):
            raise error  # an interrupt is nobody's fault
        raise EngineError("engine-failed", f"durable-rules failed: {error}") from error

    def end(self) -> None:
        """Drop the run's state. One in which nothing ever fired has to stay: to delete it can be a crash."""
        if not self._awake:
            return
        try:
            self._ruleset.delete_state(self._sid)
        except Exception as error:
            raise EngineError("engine-failed", f"durable-rules cannot drop a finished run: {error}") from error


class _Part:
    """A network with the keys that its rules name; built when a run first calls for it."""

    def __init__(self, keys: frozenset[int], build: Callable[[], _Network]) -> None:
        self.keys = keys
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
        self._called: defaultdict[tuple[int, int | None], list[_Part]] = defaultdict(list)
        for bunch in split(rules):
            keys = frozenset(
                self._coder.key(pattern.key) for number in bunch.numbers for pattern in rules[number].patterns
            )
            part = _Part(keys, partial(self._build, engine, bunch.numbers))
            self._parts.append(part)
            for mark in dict.fromkeys(mark for pattern in bunch.calls for mark in self._coder.marks(pattern)):
                self._called[mark].append(part)
        self._cases = count(1)
        self._lock = Lock()
        self._try_out()

    def _build(self, engine: _Engine, numbers: Sequence[int]) -> _Network:
        return _Network(engine, definition(self._rules, numbers, self._coder))

    def _try_out(self) -> None:
        """An engine that cannot start is found out now."""
        network = self._parts[0].network if self._parts else None
        if network is not None:
            try:
                network.begin("0")
                network.firings()
            finally:
                network.end()

    def run(self, data: list[Datum]) -> Deductions:
        """All that follows from facts that `distinct` made; a run that stalls is tried once more from the start."""
        with self._lock:
            try:
                return self._run(data)
            except _StalledError:
                return self._run(data)

    def _run(self, data: list[Datum]) -> Deductions:
        with ExitStack() as stack:
            return _Run(self._rules, self._coder, self._called, str(next(self._cases) % MOST_CASES), stack).chain(data)


class _Run:
    """One run: its facts, and the networks that they have called for so far, each told of what concerns it."""

    def __init__(
        self,
        rules: Sequence[Rule],
        coder: Coder,
        called: Mapping[tuple[int, int | None], Sequence[_Part]],
        sid: str,
        stack: ExitStack,
    ) -> None:
        self._rules, self._coder, self._called, self._sid, self._stack = rules, coder, called, sid, stack
        self._facts: list[Datum] = []
        self._told: list[tuple[int, dict[str, int]]] = []
        self._open: list[_Part] = []

    def chain(self, data: Iterable[Datum]) -> Deductions:
        """Round by round: tell the new facts, let the rules fire, take what they conclude."""
        known = set(data)
        fired: set[Fired] = set()
        new = list(data)
        while new:
            self._tell(new)
            new = []
            for firing, concludes in self._firings():
                fired.add(firing)
                fresh = [datum for datum in dict.fromkeys(concludes) if datum not in known]
                known.update(fresh)
                new += fresh
        return deductions(fired, known)

    def _tell(self, new: Sequence[Datum]) -> None:
        """Tell each network the facts that concern it; one that is called for now hears of the earlier ones first."""
        first = len(self._facts)
        self._facts += new
        if len(self._facts) >= MOST_FACTS:
            raise EngineError("too-many-facts", f"{len(self._facts)} facts are more than durable-rules can tell apart.")
        coded = ((number, self._coder.message(datum)) for number, datum in enumerate(new, first + 1))
        messages = [(number, message) for number, message in coded if message]
        calls = [part for _, message in messages for part in self._called.get((message["k"], message.get("v")), ())]
        late = [part for part in dict.fromkeys(calls) if part not in self._open]
        for part in late:
            self._stack.callback(part.network.end)
            part.network.begin(self._sid)
        for parts, heard in ((late, self._told), ([*self._open, *late], messages)):
            for number, message in heard:
                for part in parts:
                    if message["k"] in part.keys:
                        part.network.tell(number, message)
        self._open += late
        self._told += messages

    def _firings(self) -> Iterator[tuple[Fired, tuple[Datum, ...]]]:
        """New firings of all networks, with what they conclude."""
        for part in self._open:
            for name, numbers in part.network.firings():
                rule = self._rules[int(name)]
                yield Fired(rule.id, tuple(self._facts[number - 1] for number in numbers)), rule.concludes


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
