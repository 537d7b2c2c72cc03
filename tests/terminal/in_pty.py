"""
The program on a bare pseudo-terminal: every byte that it sends is kept, and taken apart into what a terminal would do.

A *kind* is an escape sequence without its numbers: `CSI m`, `CSI ?1049 h`, `OSC 52`. Private modes keep their
number, because each of them is a thing of its own.
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import termios
import threading
import time

from in_tmux import LONGEST_WAIT_S, LOOK_EVERY_S, PROGRAM, surroundings

_PIECE = re.compile(
    r"\x1b\[(?P<private>[<=>?]?)(?P<numbers>[0-9;:]*)(?P<between>[ -/]*)(?P<final>[@-~])"
    r"|\x1b\](?P<osc>[0-9]*)[^\x07\x1b]*(?:\x07|\x1b\\)"
    r"|\x1b(?P<string>[PX^_])[^\x1b]*\x1b\\"
    r"|\x1b(?P<short>[ -/]*[0-~])"
)
_STEERS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")


class Raw:
    """The program on a pseudo-terminal of this size."""

    def __init__(self, folder, size=(120, 40), **env):
        self._near, far = pty.openpty()
        fcntl.ioctl(far, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
        self.program = subprocess.Popen(
            PROGRAM,
            cwd=folder,
            env=surroundings(folder, TERM="xterm-256color", **env),
            stdin=far,
            stdout=far,
            stderr=far,
            start_new_session=True,
        )
        os.close(far)
        self.sent = b""
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def write(self, text):
        os.write(self._near, text.encode())

    @property
    def text(self):
        return self.sent.decode("utf-8", errors="backslashreplace")

    def wait(self, words, *, after=0, within=LONGEST_WAIT_S):
        """Until these words have been written behind the first `after` bytes; how many bytes there are then."""
        until = time.monotonic() + within
        while words not in printed(self.sent[after:]):
            assert time.monotonic() < until, f"waited for {words!r}; written:\n{printed(self.sent)[-3000:]}"
            assert self.program.poll() is None, f"ended with {self.program.returncode}"
            time.sleep(LOOK_EVERY_S)
        return len(self.sent)

    def ended(self, within=LONGEST_WAIT_S):
        """The exit code, with everything read that was sent."""
        code = self.program.wait(timeout=within)
        self._reader.join(timeout=5)
        return code

    def close(self):
        if self.program.poll() is None:
            self.program.kill()
            self.program.wait()
        self._reader.join(timeout=5)
        os.close(self._near)

    def _read(self):
        while True:
            try:
                piece = os.read(self._near, 65536)
            except OSError:  # the far side is closed
                return
            if not piece:
                return
            self.sent += piece


def printed(data):
    """What is left without the sequences."""
    return _PIECE.sub("", data.decode("utf-8", errors="backslashreplace"))


def kinds(data):
    """Every kind of sequence in these bytes."""
    return {_kind(found) for found in _PIECE.finditer(data.decode("utf-8", errors="backslashreplace"))}


def steering(data):
    """Characters outside of sequences that steer a terminal or turn the direction of text."""
    return set(_STEERS.findall(printed(data)))


def _kind(found):
    if found["final"]:
        mode = found["numbers"] if found["private"] and found["final"] in "hl" else ""
        return f"CSI {found['private']}{mode}{found['between']} {found['final']}"
    if found["osc"] is not None:
        return f"OSC {found['osc']}"
    return f"ESC {found['string'] or found['short']}"
