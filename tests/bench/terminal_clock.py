"""The program on a real pseudo-terminal, with a clock: until words appear, and from a key until the paint after it."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time

_ESCAPES = re.compile(
    rb"\x1b(\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(\x07|\x1b\\)|[PX^_][^\x1b]*\x1b\\|[@-Z\\-_=>])"
)
_QUIET_S = 0.06


class Terminal:
    """A child on a pty; everything it has written is in `seen`."""

    def __init__(self, *command, columns=120, rows=40, **environ):
        self.started = time.perf_counter()
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
            surroundings = {**os.environ, "TERM": "xterm-256color", "LANG": "C.UTF-8", **environ}
            surroundings.pop("NO_COLOR", None)
            os.execve(sys.executable, [sys.executable, *command], surroundings)  # noqa: S606 - our own interpreter
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.seen = b""

    def __enter__(self):
        return self

    def __exit__(self, *_):
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.fd)

    def read(self, seconds):
        """What comes within so long; nothing where nothing comes."""
        if not select.select([self.fd], [], [], max(seconds, 0))[0]:
            return b""
        try:
            new = os.read(self.fd, 1 << 16)
        except OSError:
            return b""
        self.seen += new
        return new

    def until(self, words, seconds=60.0):
        """Seconds from the start until the words have been written."""
        end = time.perf_counter() + seconds
        while words.encode() not in _ESCAPES.sub(b"", self.seen):
            if time.perf_counter() > end:
                told = _ESCAPES.sub(b"", self.seen)[-2000:].decode(errors="replace")
                raise AssertionError(f"{words!r} did not come in {seconds} s: {told}")
            self.read(0.05)
        return time.perf_counter() - self.started

    def quiet(self, seconds=_QUIET_S, longest=1.0):
        """Until nothing has been written for so long."""
        end = time.perf_counter() + longest
        while self.read(seconds) and time.perf_counter() < end:
            pass

    def key(self, keys, *, marker, longest=3.0):
        """Milliseconds from the key until output with the marker (a pattern of bytes) has come."""
        expected = re.compile(marker, re.DOTALL)
        start, new = time.perf_counter(), b""
        os.write(self.fd, keys)
        while not expected.search(_ESCAPES.sub(b"", new)):
            new += self.read(0.02)
            if time.perf_counter() - start > longest:
                raise AssertionError(
                    f"nothing like {marker!r} within {longest} s of {keys!r}: {new[-500:]!r}"
                )
        return (time.perf_counter() - start) * 1e3
