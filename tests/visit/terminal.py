"""A real process on a pseudo-terminal of 80 columns: what is typed, and what is seen."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PROMPT = b"\r\n> "
CTRL_C, CTRL_D = "\x03", "\x04"
#: Seconds without a sign of life after which a test gives up.
STUCK_S = 180.0


class Terminal:
    """One command on a terminal.

    `seen` is everything it has shown, echo included; `asks` whether it waits for a line.
    """

    def __init__(self, *line: str, folder: Path) -> None:
        self._child, self._handle = pty.fork()
        if self._child == 0:
            # Whoever runs the tests in the background may have Ctrl-C ignored; a person has not.
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            os.chdir(folder)
            os.environ |= {"PYTHONPATH": str(ROOT), "COLUMNS": "80", "LINES": "24", "TERM": "vt100"}
            os.environ["BRINEBAYES_CASES"] = "off"
            os.environ.pop("BRINEBAYES_SHOP", None)
            command = [sys.executable, "-m", "tests.visit.at_a_fixed_hour", *line]
            os.execv(sys.executable, command)
        fcntl.ioctl(self._handle, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.seen = b""
        self.asks = False

    def until_asked(self) -> str:
        """Read until it asks for a line, or ends. What came since the last time.

        Raises AssertionError when nothing at all comes for long, so that no test waits forever.
        """
        new = b""
        self.asks = False
        while not self.asks:
            if not select.select([self._handle], [], [], STUCK_S)[0]:
                raise AssertionError(f"nothing more came after {new[-200:]!r}")
            try:
                part = os.read(self._handle, 4096)
            except OSError:  # The other side is closed.
                break
            if not part:
                break
            new += part
            self.asks = new.endswith(PROMPT)
        self.seen += new
        return new.decode()

    def type(self, text: str) -> str:
        """Type something as it is, and read until it asks again."""
        os.write(self._handle, text.encode())
        return self.until_asked()

    def end(self) -> int:
        """Read what is left; the exit code, negative for a signal."""
        while self.until_asked():
            pass
        _, status = os.waitpid(self._child, 0)
        os.close(self._handle)
        return os.waitstatus_to_exitcode(status)

    def kill(self) -> None:
        """End it at once."""
        os.kill(self._child, 9)
        self.end()

    def text(self) -> str:
        """Everything seen, as a reader would write it down."""
        return self.seen.decode().replace("\r\n", "\n")
