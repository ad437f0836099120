"""A real terminal for tests: a process under a pseudo terminal, its keys and its screen.

Cast: `Terminal` starts `diagnose` and waits for its prompt; `press` sends bytes as a person would, when the prompt is
there.
"""

from __future__ import annotations

import os
import re
import select
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Self

from diagnose.front.keys import HABIT

PROMPT = "> "
SEQUENCES = re.compile("\x1b\\[[0-9;]*m")
COMMAND = """
import fcntl, signal, sys, termios
signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever runs the tests may have had it ignored
signal.signal(signal.SIGHUP, signal.SIG_DFL)  # so too behind nohup
fcntl.ioctl(0, termios.TIOCSCTTY, 0)  # the terminal's own process, so that Ctrl-C reaches it
from diagnose.front.main import main
sys.exit(main())
"""
UNHEARD = COMMAND.replace(
    "from diagnose",
    """
import pathlib, threading, time
def elsewhere(sign=pathlib.Path(sys.argv.pop())):
    while not sign.exists():
        time.sleep(0.1)
    signal.pthread_kill(threading.get_ident(), signal.SIGINT)
threading.Thread(target=elsewhere, daemon=True).start()
from diagnose""",
)
"""As `COMMAND`, and Ctrl-C comes once there is the file of the last word, in a way that breaks off no reading."""
PATIENCE = 60.0
"""Seconds without a sign of life after which a test gives up; no test is judged by it."""


class Terminal:
    """`diagnose` with these words under a terminal of so many columns and lines."""

    def __init__(
        self,
        *words: str,
        columns: int = 60,
        lines: int = 40,
        typed_before: bytes = b"",
        environ: Mapping[str, str] | None = None,
        command: str = COMMAND,
    ) -> None:
        import fcntl
        import pty
        import termios

        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))
        os.write(self.master, typed_before)
        env = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LINES")}
        self.process = subprocess.Popen(
            [sys.executable, "-c", command, *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=Path(__file__).parent.parent.parent,
            env={**env, "TERM": "xterm", "LANG": "C.UTF-8", **(environ or {})},
            start_new_session=True,
        )
        self.slave = slave
        self.shown = ""
        """All that was shown, without bold and dim."""
        self._mark = 0

    def wait(self, text: str = PROMPT) -> str:
        """What is shown from the last wait on, up to and with `text` at the end of the screen."""
        while not (self.shown.endswith(text) and len(self.shown) > self._mark):
            self._more()
        return self._since()

    def press(self, keys: bytes) -> str:
        """Send keys once the program listens, and wait until it listens again; returns what was shown between.

        An Enter alone comes no sooner than a person types it who means it.
        """
        if keys in (b"\r", b"\n"):
            time.sleep(HABIT)
        os.write(self.master, keys)
        return self.wait()

    def end(self, keys: bytes = b"") -> str:
        """Send keys and wait for the end of the program; returns what was shown."""
        os.write(self.master, keys)
        given_up = time.monotonic() + PATIENCE
        while self._more(may_end=True):
            if time.monotonic() > given_up:
                raise AssertionError(f"the program did not end: {self.shown[-2000:]!r}")
        self.process.wait(PATIENCE)
        return self._since()

    def resize(self, columns: int, lines: int) -> None:
        """Make the window another size, as a person does: the program is told by a signal."""
        import fcntl
        import termios

        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))
        self.process.send_signal(signal.SIGWINCH)

    def echoes(self) -> bool:
        """Whether the terminal shows what is typed, as a shell expects it."""
        import termios

        return bool(termios.tcgetattr(self.slave)[3] & termios.ECHO)

    def _since(self) -> str:
        shown, self._mark = self.shown[self._mark :], len(self.shown)
        return shown

    def _more(self, may_end: bool = False) -> bool:
        if self.process.poll() is not None and not self._ready(0.1):
            if may_end:
                return False
            raise AssertionError(f"the program ended with {self.process.returncode}: {self.shown[-2000:]}")
        if not self._ready(0.1 if may_end else PATIENCE):
            if may_end:
                return True
            raise AssertionError(f"nothing more was shown: {self.shown[-2000:]}")
        sent = os.read(self.master, 65536).decode("utf-8", "replace")
        self.shown += SEQUENCES.sub("", sent).replace("\r\n", "\n")
        return True

    def _ready(self, seconds: float) -> bool:
        return bool(select.select([self.master], [], [], seconds)[0])

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(PATIENCE)
        os.close(self.slave)
        os.close(self.master)
