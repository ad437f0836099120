"""durable-rules behind its walls: each trap that it was found to have, the stand-in, threads and memory."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import threading
from collections import Counter, defaultdict
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any, cast

import pytest
from durable import engine

from diagnose.errors import EngineError
from diagnose.reason import deduce
from diagnose.reason.deduce import Datum, DurableChainer, Fired, Pattern, PlainChainer, Rule, chainer
from diagnose.reason.network import Coder, definition, split

# The engine asks the time in a way that Python 3.12 and later call out of date.
pytestmark = pytest.mark.filterwarnings("ignore:datetime.datetime.utcfromtimestamp:DeprecationWarning")

ROOT = Path(__file__).parents[2]
KNOCK = (Rule("knock", (Pattern("play", ("clear",)), Pattern("gap", at_least=3)), (Datum("fault", "preload"),)),)
SEEN = [Datum("play", "clear"), Datum("gap", 3.5)]
KNOCKED = (Fired("knock", (Datum("play", "clear"), Datum("gap", 3.5))),)


@pytest.fixture(autouse=True)
def _nothing_remembered() -> None:
    """A chainer of a test remembers no run of another's."""
    deduce._built.cache_clear()


def in_a_process_of_its_own(program: str, **environment: str) -> str:
    """What the program prints, run by this Python from the project's folder; a crash or an endless loop fails."""
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def agree(rules: list[Rule], data: list[Datum]) -> int:
    """Checks that the engine gives what plain chaining gives, and says how often rules fired."""
    result = DurableChainer(rules).run(data)
    assert result == PlainChainer(rules).run(data)
    return len(result.fired)


# --- What durable-rules does without a word


def test_an_error_within_an_action_comes_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The engine keeps an action's error to itself; here it is an EngineError, and the next run is whole again."""
    durable = DurableChainer(KNOCK)

    def slip(*_: Any) -> tuple[int, ...]:
        raise ValueError("a slip in an action")

    with monkeypatch.context() as patch:
        patch.setattr(deduce, "_fact_numbers", slip)
        with pytest.raises(EngineError, match="a slip in an action"):
            durable.run(SEEN)
    assert durable.run(SEEN).fired == KNOCKED


def test_an_interrupt_within_an_action_stays_an_interrupt(monkeypatch: pytest.MonkeyPatch) -> None:
    """The engine swallows the interrupt key as well; here it interrupts, and the next run is whole again."""
    durable = DurableChainer(KNOCK)

    def interrupt(*_: Any) -> tuple[int, ...]:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(deduce, "_fact_numbers", interrupt)
        with pytest.raises(KeyboardInterrupt):
            durable.run(SEEN)
    assert durable.run(SEEN).fired == KNOCKED


def test_an_error_that_the_engine_notes_in_its_state_comes_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """An `exception` in the engine's state is an EngineError even if the action itself noticed nothing."""
    durable = DurableChainer(KNOCK)
    take_up: Callable[..., None] = engine.Closure.__init__

    def spoil(closure: Any, *rest: Any) -> None:
        take_up(closure, *rest)
        closure.s.exception = "noted, not said"

    with monkeypatch.context() as patch:
        patch.setattr(engine.Closure, "__init__", spoil)
        with pytest.raises(EngineError, match="noted, not said"):
            durable.run(SEEN)
    assert durable.run(SEEN).fired == KNOCKED


def clock_that_leaps(at: set[int]) -> Callable[[], float]:
    """A clock that goes an hour forward before its n-th reading for each n in `at`."""
    readings = 0
    now = 0.0

    def read() -> float:
        nonlocal readings, now
        readings += 1
        now += 3600.0 if readings in at else 0.001
        return now

    return read


def test_a_clock_that_is_set_during_a_run_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The engine leaves a run when an action seems to take ten seconds; the run is then made anew."""
    for leap in range(1, 6):
        deduce._built.cache_clear()
        durable = DurableChainer(KNOCK)
        with monkeypatch.context() as patch:
            patch.setattr(engine, "_unix_now", clock_that_leaps({leap}))
            assert durable.run(SEEN).fired == KNOCKED


def test_a_clock_that_never_stands_still_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the run is left again and again that is said, and once the clock is well the chainer works."""
    durable = DurableChainer(KNOCK)
    with monkeypatch.context() as patch:
        patch.setattr(engine, "_unix_now", clock_that_leaps(set(range(100))))
        for _ in range(20):
            with pytest.raises(EngineError, match="left the run"):
                durable.run(SEEN)
    assert durable.run(SEEN).fired == KNOCKED


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (engine.MessageObservedException({}), "fact-mistaken"),
        (engine.durable_rules_engine.error("error code: 303"), "fact-refused"),
    ],
)
def test_a_fact_that_the_engine_does_not_take_is_an_error(
    monkeypatch: pytest.MonkeyPatch, error: Exception, code: str
) -> None:
    """A fact taken for a known one, or refused with a bare number, is never passed over."""
    durable = DurableChainer(KNOCK)
    take = engine.Ruleset.assert_fact

    def refuse(ruleset: Any, fact: dict[str, Any]) -> int:
        if fact["id"] == "1":
            raise error
        return int(take(ruleset, fact))

    with monkeypatch.context() as patch:
        patch.setattr(engine.Ruleset, "assert_fact", refuse)
        with pytest.raises(EngineError) as refused:
            durable.run(SEEN)
    assert refused.value.code == code
    assert durable.run(SEEN).fired == KNOCKED


def test_no_state_is_left_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every run has a state of its own that is gone afterwards, also when the run failed."""
    durable = DurableChainer(KNOCK)
    network = durable._machine._parts[0].network
    names: list[str] = []
    told = network._tell

    def tell(sid: str, *rest: Any) -> int:
        names.append(sid)
        return told(sid, *rest)

    monkeypatch.setattr(network, "_tell", tell)
    for gap in (2.5, 3.0, 3.5):
        durable.run([Datum("play", "clear"), Datum("gap", gap)])
    took = deduce._fact_numbers

    def slip(closure: Any, slots: list[str]) -> tuple[int, ...]:
        if len(slots) > 1:
            raise ValueError("a slip in an action")
        return took(closure, slots)

    with monkeypatch.context() as patch:
        patch.setattr(deduce, "_fact_numbers", slip)
        with pytest.raises(EngineError, match="a slip in an action"):
            durable.run([*SEEN, Datum("gap", 4.25)])
    assert len(set(names)) == 4
    for name in set(names):
        with pytest.raises(engine.durable_rules_engine.error, match="309"):
            network._ruleset.delete_state(name)


def test_what_a_network_made_of_the_same_facts_is_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same facts in another order, or one more that no rule names, do not run the engine anew; another one does."""
    durable = DurableChainer(KNOCK)
    assert durable.run(SEEN).fired == KNOCKED
    with monkeypatch.context() as patch:
        patch.setattr(engine.Ruleset, "assert_fact", lambda *_: pytest.fail("the engine was told a fact"))
        assert durable.run([*reversed(SEEN), Datum("colour", "red")]).fired == KNOCKED
        like = durable.run([Datum("gap", 4.25), Datum("play", "clear")])
    assert like.fired == (Fired("knock", (Datum("play", "clear"), Datum("gap", 4.25))),)
    assert durable.run([Datum("gap", 2.0), Datum("play", "clear")]).fired == ()


def test_a_run_in_which_nothing_fires_does_not_crash() -> None:
    """The engine frees a pointer that it never set if nothing fired; memory filled with rubbish would show it."""
    program = """
from diagnose.reason.deduce import Datum, DurableChainer, Pattern, Rule
durable = DurableChainer([Rule("r", (Pattern("a", ("on",)), Pattern("b", ("on",))))])
for _ in range(50):
    assert durable.run([Datum("a", "on")]).fired == ()
    assert durable.run([]).fired == ()
print("whole")
"""
    assert in_a_process_of_its_own(program, MALLOC_PERTURB_="165") == "whole\n"


# --- Tables of a fixed size


def check_tables(rules: list[Rule]) -> None:
    """Counts, in each network as the engine reads it, what stands in its tables of fixed size."""
    coder = Coder(rules)
    for bunch in split(rules):
        network = definition(rules, bunch.numbers, coder)
        assert len(network) <= 4096
        children: defaultdict[str, set[str]] = defaultdict(set)  # tests under a test
        sharers: Counter[str] = Counter()  # rules that end in a test
        met: Counter[str] = Counter()  # tests that one fact can meet at once
        for rule in network.values():
            patterns = cast(list[dict[str, Any]], rule["all"])
            assert len(patterns) <= 16
            for tests in (asked for pattern in patterns for asked in pattern.values() if "$and" in asked):
                key, *others = tests["$and"]
                children[""].add(str(key))
                count_tests(str(key), others, children, sharers, met)
        assert len(children[""]) + 1 < 512
        assert all(len(under) < 512 for under in children.values())
        assert all(number < 256 for number in sharers.values())
        assert all(number <= 64 for number in met.values())


def count_tests(
    key: str, tests: list[Any], children: defaultdict[str, set[str]], sharers: Counter[str], met: Counter[str]
) -> None:
    """Adds one pattern to the counts: words side by side, or the edges of a range below one another."""
    if "$or" in tests[0]:
        for word in tests[0]["$or"]:
            children[key].add(f"{key} {word}")
            met[f"{key} {word}"] += 1
        return
    parent = key
    for test in tests:
        path = f"{parent} {test}"
        met[key] += "v" not in test and path not in children[parent]
        children[parent].add(path)
        parent = path
    sharers[parent] += 1


@pytest.mark.parametrize(
    ("size", "patterns", "data"),
    [
        # 256 rules on one test: a crash
        (600, lambda _: (Pattern("brake", ("disc",)),), [Datum("brake", "disc")]),
        (600, lambda _: (Pattern("gap", at_least=1, below=2),), [Datum("gap", 1)]),
        # 512 keys: an endless loop
        (900, lambda n: (Pattern(f"key-{n}", ("on",)),), [Datum(f"key-{n}", "on") for n in range(0, 900, 7)]),
        (100, lambda n: tuple(Pattern(f"key-{n * 10 + m}", ("on",)) for m in range(10)), []),
        # 512 words of one key: an endless loop
        (900, lambda n: (Pattern("word", (f"w{n}",)),), [Datum("word", f"w{n}") for n in range(0, 900, 7)]),
        # 65 tests that one fact meets at once: an error, and a crash at 128
        (200, lambda n: (Pattern("gap", at_least=n),), [Datum("gap", 150.5)]),
        (200, lambda n: (Pattern("gap", above=-n - 1, below=n + 1),), [Datum("gap", 0)]),
        (200, lambda n: (Pattern("gap", above=-1, up_to=n + 1),), [Datum("gap", 0)]),
        (200, lambda n: (Pattern("brake", ("disc", f"w{n}")),), [Datum("brake", "disc"), Datum("brake", "w7")]),
        # 16 patterns of a rule, as many as the engine takes
        (
            3,
            lambda n: tuple(Pattern(f"k{n + m}", ("on",)) for m in range(16)),
            [Datum(f"k{m}", "on") for m in range(18)],
        ),
        # 4,096 rules
        (5000, lambda n: (Pattern(f"k{n % 300}", (f"w{n % 7}",)),), [Datum(f"k{n}", "w3") for n in range(300)]),
    ],
)
def test_rule_bases_too_large_for_one_network(
    size: int, patterns: Callable[[int], tuple[Pattern, ...]], data: list[Datum]
) -> None:
    """Rules beyond what the engine's tables hold are spread over several networks and conclude the same."""
    rules = [Rule(f"r{n}", patterns(n)) for n in range(size)]
    assert (size == 3) == (len(split(rules)) == 1)
    check_tables(rules)  # first: where they overflow the engine crashes or hangs
    assert agree(rules, data) > 0 or not data


def test_conclusions_pass_from_network_to_network() -> None:
    """A chain whose links lie in several networks is followed to its end."""
    rules = [Rule(f"r{n}", (Pattern(f"k{n}", ("on",)),), (Datum(f"k{n + 1}", "on"),)) for n in reversed(range(1000))]
    assert len(split(rules)) > 1
    assert agree(rules, [Datum("k0", "on")]) == 1000


def test_a_run_opens_only_the_networks_that_it_calls_for() -> None:
    """Of three hundred rules over sixty keys, facts of one key open no more than the networks of its rules."""
    rules = [Rule(f"r{n}", (Pattern(f"k{n % 60}", (f"w{n % 4}",)), Pattern("g", below=n % 9))) for n in range(300)]
    durable = DurableChainer(rules)
    assert agree(rules, [Datum("k7", "w3"), Datum("g", 0)]) > 0
    durable.run([Datum("k7", "w3"), Datum("g", 0)])
    built = ["network" in vars(part) for part in durable._machine._parts]
    assert len(built) >= 10
    assert built[0]  # tried out at the start
    assert sum(built) <= 3


def test_a_network_called_for_late_hears_what_was_told_before() -> None:
    """The fact that a rule of a later network rests on may have come in an earlier round, in any order."""
    chain = [Rule(f"r{n}", (Pattern(f"k{n}", ("on",)),), (Datum(f"k{n + 1}", "on"),)) for n in range(100)]
    last = Rule("last", (Pattern("early", ("yes",)), Pattern("k100", ("on",)), Pattern("early-gap", above=2)))
    rules = [*chain, last]
    assert len(split(rules)) > 1
    told = [Datum("early", "yes"), Datum("k0", "on"), Datum("early-gap", 3)]
    assert agree(rules, told) == 101


@pytest.mark.parametrize(
    "pattern",
    [
        tuple(Pattern(f"k{n}", ("on",)) for n in range(17)),
        (Pattern("word", tuple(f"w{n}" for n in range(600))),),
    ],
)
def test_a_rule_that_fits_into_no_network_goes_to_the_stand_in(pattern: tuple[Pattern, ...]) -> None:
    """A rule too large for the engine is refused by it by name; plain chaining takes it and says why."""
    rules = [Rule("large", pattern)]
    with pytest.raises(EngineError, match="'large'") as refused:
        DurableChainer(rules)
    assert refused.value.code == "rule-too-large"
    stand_in = chainer(rules)
    assert stand_in.name == "plain forward chaining"
    assert "'large'" in stand_in.notice
    assert [firing.rule for firing in stand_in.run(Datum(one.key, one.any_of[0]) for one in pattern).fired] == ["large"]


def test_many_matchings_of_one_rule() -> None:
    """Three keys with fifteen values each are 3,375 firings of one rule, none lost."""
    words = tuple(f"w{n}" for n in range(15))
    rules = [Rule("join", tuple(Pattern(key, words) for key in "abc"))]
    assert agree(rules, [Datum(key, word) for key, word in product("abc", words)]) == 3375


def test_thousands_of_facts() -> None:
    """Facts by the thousand, as no case has them, are all told apart."""
    rules = [Rule("even", (Pattern("n", above=0),)), Rule("odd", (Pattern("m", below=0),))]
    data = [Datum(key, float(n)) for key in "nm" for n in range(-1500, 1500)]
    assert agree(rules, data) == 1499 + 1500


def test_facts_beyond_what_the_engine_tells_apart_are_refused() -> None:
    """More facts than there are safe numbers for is an error, not a guess."""
    with pytest.raises(EngineError, match="20000 facts"):
        DurableChainer(KNOCK).run(Datum("gap", n) for n in range(20_000))


def test_no_two_numbers_meet_in_the_engines_hash() -> None:
    """Numbers of facts, and names of runs, differ in the 32-bit FNV-1a hash by which the engine knows them.

    The hash: Fowler, Noll and Vo; offset basis and prime as in the IETF draft draft-eastlake-fnv.
    """

    def fnv(text: str) -> int:
        value = 0x811C9DC5
        for byte in text.encode():
            value = (value ^ byte) * 0x01000193 % 2**32
        return value

    assert fnv("foobar") == 0xBF9CF968  # the draft's own example
    facts = {fnv(str(number)) for number in range(deduce.MOST_FACTS + 1)}
    runs = {fnv(f"sid-{number}") for number in range(deduce.MOST_RUNS)}
    assert len(facts) == deduce.MOST_FACTS + 1
    assert facts.isdisjoint(runs)


# --- The stand-in


def unreadable(*_: Any, **__: Any) -> None:
    """Stands for an engine that cannot build its rules."""
    raise RuntimeError("out of\norder")


def test_plain_chaining_stands_in_when_durable_rules_cannot_be_imported(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the library the plain chainer does the work, and says so and why in one line."""
    for module in ("durable", "durable.engine"):
        monkeypatch.setitem(sys.modules, module, None)
    rules = [Rule("no-library", (Pattern("play", ("clear",)),))]
    stand_in = chainer(rules)
    assert isinstance(stand_in, PlainChainer)
    assert stand_in.name == "plain forward chaining"
    assert "durable-rules cannot be imported" in stand_in.notice
    assert "\n" not in stand_in.notice
    assert [firing.rule for firing in stand_in.run(SEEN).fired] == ["no-library"]
    with pytest.raises(EngineError, match="cannot be imported"):
        DurableChainer(rules)


def test_plain_chaining_stands_in_when_durable_rules_cannot_build(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same where the library is there and fails to build the rules, or never fires."""
    rules = [Rule("not-built", (Pattern("play", ("clear",)),))]
    with monkeypatch.context() as patch:
        patch.setattr(engine, "Ruleset", unreadable)
        assert "out of order" in chainer(rules).notice
    with monkeypatch.context() as patch:
        patch.setattr(engine.Ruleset, "do_actions", lambda _ruleset, _state, complete: complete(None, None))
        assert "does not fire" in chainer(rules).notice
    assert chainer(rules).name == "durable-rules"


def test_durable_rules_is_used_where_it_works() -> None:
    """Where the library works it is used, and there is nothing to say."""
    used = chainer(KNOCK)
    assert isinstance(used, DurableChainer)
    assert (used.name, used.notice) == ("durable-rules", "")
    assert used.run(SEEN).fired == KNOCKED


def test_bad_rules_are_refused_and_not_given_to_the_stand_in() -> None:
    """A rule that no chainer can run is an error whichever would do the work."""
    with pytest.raises(EngineError, match="no pattern"):
        chainer([Rule("empty", ())])


def test_the_engine_is_imported_when_it_is_needed() -> None:
    """Importing the module loads no engine, building a chainer does, and neither starts a thread."""
    program = """
import sys, threading
from diagnose.reason.deduce import Pattern, Rule, chainer
before = "durable" in sys.modules
chainer([Rule("r", (Pattern("a", ("on",)),))]).run([])
print(before, "durable" in sys.modules, threading.active_count())
"""
    assert in_a_process_of_its_own(program) == "False True 1\n"


def test_one_module_imports_the_engine() -> None:
    """No other module of the project names the engine in an import, and this one only in a function."""
    for path in sorted((ROOT / "diagnose").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not [name for name in names if name.split(".")[0] in {"durable", "durable_rules_engine"}], path
            if isinstance(node, ast.Constant) and node.value == "durable.engine":
                assert path.name == "deduce.py"


# --- Threads and memory


def test_two_threads_share_a_chainer() -> None:
    """Threads that run different facts on one chainer each get their own result, every time."""
    rules = [Rule(f"r{n}", (Pattern(f"k{n}", ("a", "b")),), (Datum(f"k{n + 1}", "b"),)) for n in range(20)]
    shared, plain = DurableChainer(rules), PlainChainer(rules)
    starts = [[Datum("k0", "a")], [Datum("k10", "b")], [Datum("k5", "a"), Datum("k15", "a")], []]
    wrong: list[object] = []

    def work(data: list[Datum]) -> None:
        expected = plain.run(data)
        for _ in range(150):
            result = shared.run(data)
            if result != expected:
                wrong.append(result)

    threads = [threading.Thread(target=work, args=(data,)) for data in starts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def test_equal_rules_share_one_set_of_networks() -> None:
    """Chainers over equal rules, also built by several threads at once, share what the engine built."""
    rules = [Rule("shared", (Pattern("gap", below=3),))]
    built: list[DurableChainer] = []
    threads = [threading.Thread(target=lambda: built.append(DurableChainer(list(rules)))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({id(one._machine) for one in built}) == 1
    assert DurableChainer([Rule("shared", (Pattern("gap", below=3.0),))])._machine is built[0]._machine


def test_memory_stays_flat() -> None:
    """After the first thousand runs, thousands more, and rule bases that come and go, take no further memory."""
    program = """
import resource
from diagnose.reason.deduce import Datum, DurableChainer, Pattern, Rule

def rules(edition):
    for n in range(300):
        reading = Pattern(f"n{n % 9}", at_least=n % 7, below=n % 7 + edition)
        yield Rule(f"r{n}", (Pattern(f"k{n % 40}", (f"w{n % 5}",)), reading))

def work(edition, runs):
    durable = DurableChainer(rules(edition))
    return sum(len(durable.run(facts(run)).fired) for run in range(runs))

def facts(run):
    words = [Datum(f"k{n}", f"w{(n + run) % 5}") for n in range(30)]
    return words + [Datum(f"n{n}", run % 7 + 0.5) for n in range(9)]

def memory():  # MB; Linux counts the caller's memory into the peak of a new process, so it is asked for the present
    try:
        with open("/proc/self/statm") as pages:
            return int(pages.read().split()[1]) * resource.getpagesize() // 2**20
    except FileNotFoundError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 2**20

fired = work(1, 1000) + sum(work(edition, 5) for edition in range(2, 42))
before = memory()
fired += work(1, 3000) + sum(work(edition, 5) for edition in range(42, 82))
assert fired > 10_000, fired
print(memory() - before)
"""
    grown = int(in_a_process_of_its_own(program))  # the forty rule bases alone would take some 100 MB if kept
    assert grown < 40
