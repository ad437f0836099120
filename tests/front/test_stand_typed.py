"""`diagnose stand`: whatever anybody types or pipes, the screen and the job stay whole."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.front.conftest import LOOSE_AXLE, SMALL, WOBBLES, Stand

CLONE = Path(__file__).parent.parent.parent


NASTY = (
    "[bold]red[/bold] [link=x]",
    "\x1b[31mred\x1b]0;title\x07",
    "emoji 🚲👩‍🔧 café",
    "\u202eoverride \u2066isolate",
    "שלום עולם",
    "word " * 380,
    "x" * 1990,
    "\udcff\udc80 surrogates",
    "tab\tand\x0bvertical\x0c",
    "{case} %s %(x)s \\N{BULLET}",
)


@pytest.mark.parametrize("text", NASTY)
def test_a_label_and_a_note_never_break_the_screen(stand: Stand, text: str) -> None:
    """Label and what is loose come back as typed, as far as it can be shown; no escape reaches the terminal."""
    out = stand(text, *WOBBLES[1:], "1", "q", text)
    out += stand.resume("q", "") + stand("q", options=())
    assert stand.code == 0
    assert not set(out) & set("\x1b\x07\u202e\u2066\x0b\x0c")
    out.encode("utf-8")
    if "[bold]" in text:
        assert "[bold]red[/bold]" in out


def test_a_line_that_is_too_long_is_cut_not_split(stand: Stand) -> None:
    """The rest of an over-long line is dropped: it never becomes further answers."""
    stand("y" * 9000, "wobbles", "1", "", "1")
    assert [kind for kind, _ in stand.standing()] == ["opened", "complaint", "profile"]


def test_bytes_that_are_no_text_are_taken(stand: Stand) -> None:
    """Broken UTF-8, a byte-order mark, CR LF and NUL among the lines end nothing."""
    stand.piped(b"\xef\xbb\xbflabel\xff\xfe\r\n\x00\x80\r\nwobbles\r\n1\r\n\r\n\xc3\r\n1\r\n")
    assert stand.code == 0
    assert stand.told()[-1] == ("profile", {"fact": "arrival", "values": ["nothing"]})
    assert (stand.view()["case"] or "").startswith("label")


@pytest.mark.parametrize("columns", [30, 40, 60, 100])
def test_no_line_is_wider_than_the_screen(stand: Stand, columns: int) -> None:
    """At 40 and 60 columns, and even at 30, every line fits; on a wide screen lines stay readable."""
    keys = ("w", "l", "p", "h", "1")
    out = stand("a label", *WOBBLES[1:], "3", "", *keys, "q", "x", columns=columns)
    out += stand.resume(columns=columns)
    stand.hand_off()
    out += stand.resume(columns=columns) + stand(*LOOSE_AXLE, "1", "1", columns=columns)
    command = " diagnose stand --case"  # to be copied, so never broken
    assert max(len(line) for line in out.splitlines() if not line.startswith(command)) <= min(columns, 76)


def test_plain_is_ascii_alone(stand: Stand) -> None:
    """With --plain nothing beyond ASCII is printed, and N·m and lbf·in stay readable."""
    out = stand("Müller 🚲", *LOOSE_AXLE[1:], "l", options=("--new", "--plain"))
    assert out.isascii()
    assert "8 to 15 N.m (71 to 133 lbf.in)" in out
    assert "Mueller ?" in stand("1", options=("--plain",))


@pytest.mark.parametrize("closed", ["<&-", ">&-", "<&- >&- 2>&-"])
def test_closed_standard_streams_end_nothing(stand: Stand, closed: str) -> None:
    """A closed input is an empty one, a closed output is written to nowhere: exit 0, as at the end of the input."""
    command = f'"$0" -m diagnose stand --new --rules "$1" --store "$2" {closed}'
    words = ["sh", "-c", command, sys.executable, str(SMALL), str(stand.store)]
    done = subprocess.run(words, cwd=CLONE, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
