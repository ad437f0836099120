"""`diagnose bench`: the examples of its help, its output for people and programs, what it asks in a terminal."""

from __future__ import annotations

import json
import os
import re
import select
import shlex
import signal
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner

from diagnose.bench.sums.table import NAMES, sum_named
from diagnose.front.bench import SumCommand, command
from diagnose.front.main import main

CLONE = Path(__file__).resolve().parents[2]
KEYS = ("value", "unit", "low", "high", "formula", "source", "inputs")


def bench(*arguments: str) -> tuple[int, str, str]:
    """Run `diagnose bench` in this Python; exit code, output, errors."""
    done = subprocess.run(
        [sys.executable, "-m", "diagnose", "bench", *arguments],
        cwd=CLONE,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONUTF8": "1"},
        check=False,
        stdin=subprocess.DEVNULL,
    )
    return done.returncode, done.stdout, done.stderr


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """What the command prints, run in this process."""
    assert main(["bench", *arguments]) == 0
    return capsys.readouterr().out


def shown(arguments: list[str], answers: list[str]) -> tuple[int, str]:
    """Run the command in a terminal of its own, typing an answer whenever it has asked; exit code and screen."""
    import pty

    child, terminal = pty.fork()
    if child == 0:
        os.environ.update(TERM="dumb", PYTHONUTF8="1", COLUMNS="100")
        os.execv(sys.executable, [sys.executable, "-m", "diagnose", "bench", *arguments])  # noqa: S606 - no shell wanted
    screen, left = b"", list(answers)
    while True:
        ready = select.select([terminal], [], [], 120)[0]
        if not ready:
            os.kill(child, signal.SIGKILL)
        try:
            chunk = os.read(terminal, 65536) if ready else b""
        except OSError:
            chunk = b""
        if not chunk:
            break
        screen += chunk
        asked = screen.endswith(b": ") and not select.select([terminal], [], [], 0.3)[0]
        if asked and left:
            os.write(terminal, left.pop(0).encode() + b"\n")
        elif asked:
            os.kill(child, signal.SIGKILL)  # it asks for more than this test has answers
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    os.close(terminal)
    return code, screen.decode()


@pytest.mark.parametrize("name", NAMES)
def test_example_of_the_help_prints_what_the_help_says(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The command line in the help, pasted, prints first the line that stands below it there."""
    text = printed(capsys, name, "--help")
    example, answer = text.split("Example:\n")[1].splitlines()[:2]
    words = shlex.split(example)
    assert words[:3] == ["diagnose", "bench", name]
    assert printed(capsys, *words[2:]).splitlines()[0] == answer.strip()


@pytest.mark.parametrize("name", NAMES)
def test_help_names_every_option_and_says_how(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Everything that is asked for is an option with a line of help; formula and source stand below."""
    text = printed(capsys, name, "--help")
    for given in sum_named(name).givens:
        assert f"--{given.key} " in text
    flat = " ".join(text.split())
    assert f"How: {sum_named(name).formula}"[:60] in flat
    assert f"From: {sum_named(name).source}"[:60] in flat


@pytest.mark.parametrize("name", NAMES)
def test_json_has_the_keys_for_programs(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Value, unit, ends, formula, source and inputs, for every sum; the inputs as typed beside what was taken."""
    found = json.loads(printed(capsys, name, *sum_named(name).example, "--json"))
    assert tuple(found)[: len(KEYS)] == KEYS
    words = sum_named(name).example
    for key, typed in zip(words[::2], words[1::2], strict=True):
        assert found["inputs"][key.removeprefix("--")]["typed"] == typed


@pytest.mark.parametrize("name", NAMES)
def test_plain_output_is_ascii_and_narrow(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """`--plain` keeps to ASCII, whatever signs the sum uses, and no line is wider than the paper."""
    text = printed(capsys, name, *sum_named(name).example, "--plain")
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= 80


def test_gauge_and_echo_on_the_screen(capsys: pytest.CaptureFixture[str]) -> None:
    """A reading is drawn with its band marked, and echoed as typed with what was taken from it."""
    text = printed(capsys, "chain-wear", "--measured", "12 1/16 in", "--speeds", "11", "--plain")
    assert text.startswith("0.52 %: new chain\n")
    assert "> .. new chain: above 0.5 to 0.75 %" in text
    assert "Given: measured 12 1/16 in (306.4 mm), pitches 24, speeds 11" in text
    assert "How: elongation = " in text
    assert "From: definition of elongation" in text


def test_picture_is_written_and_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`--svg` writes the same picture to a file or to standard output, in ASCII, and leaves the answer as it was."""
    file = tmp_path / "gauge.svg"
    arguments = ("sag", "--sag", "38mm", "--travel", "150mm")
    text = printed(capsys, *arguments, "--svg", str(file))
    assert text == printed(capsys, *arguments)
    picture = file.read_text(encoding="ascii")
    assert ET.fromstring(picture).tag.endswith("svg")  # noqa: S314 - our own drawing
    assert printed(capsys, *arguments, "--svg", "-") == picture
    assert "25.33 % of travel: right" in picture


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("chain-wear", "--measured", "400mm"), "301.8 to 323.1 mm makes sense."),
        (("chain-wear", "--measured", "3 psi"), 'measured: "psi" is a unit of pressure; asked for is length.'),
        (
            ("wrench-setting", "--torque", "-5", "--lever", "300", "--extension", "30"),
            "torque: The torque cannot be -5.",
        ),
        (("sag", "--sag", "nan", "--travel", "150"), 'sag: "nan" is not a number.'),
        (("tyre-cut", "--cut", "3", "--place", "rim"), 'place: "rim" is no place known here. Known: tread, sidewall.'),
        (("dish", "--left", "1", "--right", "2", "--svg", "no/such/folder/x.svg"), "The picture cannot be written"),
        (("gear", "--ring", "50", "--sprocket", "11", "--circumference", "2105", "--svg", "-"), "no gauge to draw"),
        (("chain-wear", "--measured", "307\x1b[2J"), "control characters"),
    ],
)
def test_what_cannot_be_taken_is_one_line_and_exit_2(
    arguments: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The error goes to standard error, names the reading, and says what makes sense; nothing is printed."""
    assert main(["bench", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_without_a_terminal_what_is_missing_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody can be asked: the options that are missing are listed with what they look like."""
    code, out, err = bench("wrench-setting", "--torque", "5 Nm")
    assert (code, out) == (2, "")
    assert "Missing: --lever (50 to 1200 mm), --extension (0 to 600 mm)." in " ".join(err.split())
    assert main(["bench", "no-such-sum"]) == 2
    assert "No such command" in capsys.readouterr().err


def test_list_of_sums_without_a_terminal() -> None:
    """Alone, the command lists every sum and asks nothing."""
    code, out, err = bench()
    assert (code, err) == (0, "")
    for name in NAMES:
        assert re.search(rf"^  {name} ", out, re.MULTILINE)


def test_in_a_terminal_it_asks_for_what_it_needs() -> None:
    """With no arguments each reading is asked for, a slip is told and asked again, Enter takes the default."""
    code, screen = shown(["chain-wear"], ["long", "307 mm", "", "11"])
    assert code == 0
    assert "Length over the pitches, pin centre to pin centre, chain taut (12 to 2700 mm): " in screen
    assert '"long" is not a number.' in screen
    assert "(1 to 200, Enter for 24): " in screen
    assert "Enter to leave out): " in screen
    assert "0.72 %: new chain" in screen


def test_in_a_terminal_only_what_is_missing_is_asked() -> None:
    """With some readings given, what cannot be left out is asked for, and JSON stays whole."""
    code, screen = shown(["sag", "--sag", "38mm", "--json"], ["150"])
    assert code == 0
    assert screen.count(": ") >= 1
    found = json.loads(screen[screen.index("{") :])
    assert found["value"] == pytest.approx(38 / 150 * 100)


def test_in_a_terminal_the_sum_itself_is_asked_for() -> None:
    """Alone, it lists the sums and takes a name, or its beginning; an unknown one is told with what is near."""
    code, screen = shown([], ["chain-waer", "dis", "dish", "4mm", "1mm", ""])
    assert code == 0
    assert "One of: chain-wear" in screen
    assert "One of: disc-wear, disc-run-out, dish." in screen
    assert "1.5 mm: off the middle" in screen


def test_leaving_a_question_with_the_end_of_input() -> None:
    """End of input at a question stops without an answer and without a traceback."""
    code, screen = shown(["dish"], ["\x04"])
    assert code == 130
    assert "Stopped." in screen
    assert "Traceback" not in screen


def test_naming_the_command_loads_no_sum() -> None:
    """The list of sums is shown without loading one; a sum loads neither the engine nor the rule book."""
    script = "import sys, diagnose.front.main as m; m.main(['bench'{}]); print(*sys.modules, file=sys.stderr)"
    for arguments, wanted in (("", set()), (", 'dish', '--left', '1', '--right', '2'", {"diagnose.bench.sums.wheels"})):
        done = subprocess.run(
            [sys.executable, "-c", script.format(arguments)], cwd=CLONE, capture_output=True, text=True, check=True,
            stdin=subprocess.DEVNULL,
        )  # fmt: skip
        loaded = set(done.stderr.split())
        sums = {name for name in loaded if name.startswith("diagnose.bench.sums.")}
        assert sums - {f"diagnose.bench.sums.{name}" for name in ("givens", "model", "table")} == wanted
        assert not {name for name in loaded if name.split(".")[0] in {"durable", "yaml", "sqlite3"}}
        assert "diagnose.book.load" not in loaded


def test_answers_go_through_clicks_runner_too() -> None:
    """The group and a command made by itself are plain click commands."""
    runner = CliRunner()
    assert runner.invoke(command, ["sag-mark", "--travel", "170mm", "--share", "30%"]).output.startswith("51 mm")
    made = SumCommand(sum_named("sag-mark"))
    assert runner.invoke(made, ["--travel", "170mm", "--share", "30%"]).output.startswith("51 mm")
