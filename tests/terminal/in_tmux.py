"""
The program in a real terminal: keys go in, the screen is read back as text.

A *window* is one tmux server of its own (private socket, no configuration) with the program in it. Its folder holds
the job, the keys and the home; nothing outside is touched, and `close` leaves nothing running.
A word is waited for by looking at the screen every 50 ms; when it does not come, the failure shows the screen.
"""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import time
import uuid
from pathlib import Path

import pytest

LONGEST_WAIT_S = 40.0
LOOK_EVERY_S = 0.05
ROOT = Path(__file__).parents[2]
PROGRAM = (sys.executable, "-c", "from tui.start import main; main()")


def need_tmux():
    """Without tmux these tests are skipped at a desk, and fail where every test must run."""
    if shutil.which("tmux"):
        return
    if os.environ.get("CI") == "true":
        pytest.fail("tmux is not installed: the tests in a real terminal cannot run", pytrace=False)
    pytest.skip("tmux is not installed")


def surroundings(folder, **more):
    """The environment of a person whose home is this folder."""
    named = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT), "HOME": str(folder), "LC_ALL": "C.UTF-8"}
    folders = {f"XDG_{k}_HOME": str(folder / k.lower()) for k in ("CONFIG", "CACHE", "DATA", "STATE")}
    ours = {"FITUP_KEYS": str(folder / "keys"), "FITUP_BY": "Mira", "COLORTERM": "truecolor"}
    return {k: v for k, v in {**named, **folders, **ours, **more}.items() if v is not None}


def command(folder, *words, **more):
    """Run one command of the command line in a folder; the finished process."""
    whole = (*PROGRAM, *map(str, words))
    env = surroundings(folder, **more)
    return subprocess.run(whole, cwd=folder, env=env, capture_output=True, text=True, timeout=90, check=False)


class Window:
    """One terminal with the program in it."""

    def __init__(self, folder, size=(80, 24), *, words=(), env=None):
        self.folder, self.size = folder, size
        self.keys = 0
        self.name = f"fitup-test-{os.getpid()}-{uuid.uuid4().hex[:8]}"
        self._ended = folder / f"{self.name}.exit"
        script = folder / f"{self.name}.sh"
        chosen = {"TERM": "screen-256color", **(env or {})}
        lines = [f"cd {shlex.quote(str(folder))}"]
        lines += [f"unset {k}" if v is None else f"export {k}={shlex.quote(v)}" for k, v in chosen.items()]
        ended = shlex.quote(str(self._ended))
        lines += [
            shlex.join((*PROGRAM, *words)),
            "code=$?",
            f'echo "EXIT=$code"; echo "$code" > {ended}.new; mv {ended}.new {ended}',
            "exec sleep 600",
        ]
        script.write_text("\n".join(lines) + "\n", encoding="utf-8")
        width, height = map(str, size)
        started = (
            "new-session",
            "-d",
            "-s",
            "s",
            "-x",
            width,
            "-y",
            height,
            f"sh {shlex.quote(str(script))}",
        )
        self._tmux(*started)

    def press(self, *keys):
        """Keys by tmux's names: Enter, Escape, Tab, Down, C-q, or a single character."""
        self.keys += sum(2 if key.startswith("C-") else 1 for key in keys)
        self._tmux("send-keys", "-t", "s", *keys)

    def write(self, text):
        """Characters as they are."""
        self.keys += len(text)
        self._tmux("send-keys", "-t", "s", "-l", "--", text)

    def click(self, column, row):
        """Press and let go of the left button on a cell, counted from 0, in the SGR form of mouse reports."""
        at = f"{column + 1};{row + 1}"
        self.write(f"\x1b[<0;{at}M\x1b[<0;{at}m")

    def resize(self, width, height):
        self._tmux("resize-window", "-t", "s", "-x", str(width), "-y", str(height))

    def lines(self):
        """What is on the screen now, line by line."""
        return self._tmux("capture-pane", "-p", "-t", "s").split("\n")

    def text(self):
        return "\n".join(self.lines())

    def flat(self):
        """The screen without line breaks and frames, for words that were wrapped."""
        return " ".join(self.text().replace("│", " ").split())

    def coloured(self):
        """The screen with the sequences that colour it."""
        return self._tmux("capture-pane", "-p", "-e", "-t", "s")

    def find(self, words):
        """Column and row of the first place where these words stand on the screen now."""
        for row, line in enumerate(self.lines()):
            if words in line:
                return line.index(words), row
        raise AssertionError(f"{words!r} is not on the screen:\n{self.text()}")

    def wait_for(self, holds, within=LONGEST_WAIT_S):
        """Until `holds` of what is on the screen, its blanks made one."""
        end = time.monotonic() + within
        while not holds(self.flat()):
            if time.monotonic() > end:
                raise AssertionError(f"waited in vain; on the screen:\n{self.text()}")
            time.sleep(0.05)

    def wait(self, *words, gone=(), within=LONGEST_WAIT_S):
        """Until all of these words, and none of the gone ones, are on the screen; the seconds it took."""
        begun = time.monotonic()
        while True:
            seen = self.flat()
            if all(w in seen for w in words) and not any(w in seen for w in gone):
                return time.monotonic() - begun
            if time.monotonic() - begun > within:
                raise AssertionError(f"waited for {words} without {gone}; on the screen:\n{self.text()}")
            time.sleep(LOOK_EVERY_S)

    def wait_for_one_of(self, *words, within=LONGEST_WAIT_S):
        """Until one of these words is on the screen; which it is."""
        until = time.monotonic() + within
        while not (found := [w for w in words if w in self.flat()]):
            assert time.monotonic() < until, f"waited for one of {words}; on the screen:\n{self.text()}"
            time.sleep(LOOK_EVERY_S)
        return found[0]

    def cursor(self):
        """Column and row of the terminal's cursor, which stands where typed characters go."""
        at = self._tmux("display-message", "-p", "-t", "s", "#{cursor_x} #{cursor_y}")
        column, row = map(int, at.split())
        return column, row

    def wait_below(self, words, within=LONGEST_WAIT_S):
        """Until the cursor stands below these words."""
        until = time.monotonic() + within
        while not any(words in line for line in self.lines()[: self.cursor()[1]]):
            assert time.monotonic() < until, f"the cursor did not come below {words!r}:\n{self.text()}"
            time.sleep(LOOK_EVERY_S)

    def answer(self, title, text, *then, gone=()):
        """Wait for a small window with this title, write a line into it, Enter, and wait for what follows."""
        waited = self.wait(title)
        self.write(text)
        self.press("Enter")
        return waited + self.wait(*then, gone=(title, *gone))

    def exit_code(self, within=LONGEST_WAIT_S):
        """The exit code, once the program has ended."""
        until = time.monotonic() + within
        while not self._ended.exists():
            assert time.monotonic() < until, f"still running:\n{self.text()}"
            time.sleep(LOOK_EVERY_S)
        return int(self._ended.read_text())

    def leave(self):
        """Ctrl+Q; the exit code."""
        self.press("C-q")
        return self.exit_code()

    def program(self):
        """The process of the program itself."""
        shell = int(self._tmux("display-message", "-p", "-t", "s", "#{pane_pid}"))
        ours = "tui.start"
        return next(
            p
            for p in below(shell)
            if ours in Path(f"/proc/{p}/cmdline").read_text(encoding="utf-8").split("\0")[2]
        )

    def close(self):
        """End whatever runs in this window."""
        command = self._command("kill-server")
        subprocess.run(command, env=self._env(), capture_output=True, check=False, timeout=20)

    def _command(self, *words):
        return ("tmux", "-u", "-L", self.name, "-f", "/dev/null", *words)

    def _env(self):
        return surroundings(self.folder, TERM="xterm-256color", SHELL="/bin/sh")

    def _tmux(self, *words):
        done = subprocess.run(
            self._command(*words), env=self._env(), capture_output=True, check=False, timeout=20
        )
        assert done.returncode == 0, f"tmux {words[0]}: {done.stderr.decode()}"
        return done.stdout.decode("utf-8")


def below(pid):
    """The processes started by this one, and by those."""
    children = Path(f"/proc/{pid}/task/{pid}/children")
    found = [int(word) for word in children.read_text(encoding="utf-8").split()] if children.exists() else []
    return [p for child in found for p in (child, *below(child))]
