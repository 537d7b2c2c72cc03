"""
The reader in a process of its own, which can be killed.

A library may hang in C where no alarm of Python runs, or eat all memory. So bytes are parsed in a *child*: no
terminal, 2 GB of memory and 5 s of processor a *job* (`limits`): a busy machine makes no drawing worse. Whatever waits
without working is ended after a minute on the clock. Jobs and answers go over its pipes, each with its length in front
(8 bytes, big endian), as bytes and JSON and nothing that is run when it is read. A child that is late, dies or answers
nonsense is of no more use. It ends by itself when its input ends. `pool` keeps children warm.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from ledger import THREADS
from ledger.domain.errors import BadInput, Unreadable, visible
from ledger.profile import limits
from ledger.profile.scan import Scan

WALL_SECONDS = 60.0
START_SECONDS = 60.0
MOST_ANSWER_BYTES = 64 * 1024 * 1024
_LENGTH = 8
_DYING_SECONDS = 2.0
_COMMAND = (sys.executable, "-P", "-m", "ledger.profile.child")
_NO_CONSOLE = getattr(
    subprocess, "CREATE_NO_WINDOW", 0
)  # Windows; elsewhere a session of its own has no terminal
_HELD, _TO_WATCH = b"ready", b"watch me"  # the first answer: whether the system holds the child to its limits
_KEPT = (
    *("PATH", "LANG", "LC_ALL", "LD_LIBRARY_PATH", "TMPDIR", "PYTHONHOME", "PYTHONDONTWRITEBYTECODE"),
    *("SYSTEMROOT", "TEMP", "TMP"),  # Windows: Python does not start without the first
)


class Late(Exception):
    """The child did not answer in time."""


class Gone(Exception):
    """The child ended, or answered nonsense."""


class Child:
    """One process that parses. Not thread safe: `Reader` is."""

    def __init__(self) -> None:
        root = Path(__file__).resolve().parents[2]
        self.process = subprocess.Popen(
            _COMMAND,
            bufsize=0,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            cwd=root,
            env=_surroundings(root),
            start_new_session=True,
            creationflags=_NO_CONSOLE,
        )
        self.jobs = 0
        self._watched = False
        self._ended = ""  # why it was ended here: late, processor or memory
        try:
            self._watched = self._exchange(b"", START_SECONDS) != _HELD
        except BaseException:
            self.close()
            raise

    def do(self, job: bytes) -> bytes:
        """One job and its answer. Raises Late or Gone; the child is then of no more use."""
        self.jobs += 1
        return self._exchange(framed(job), WALL_SECONDS)

    @property
    def out_of_time(self) -> bool:
        """Whether the child, whose pipe is closed, was ended because it had used up its processor time."""
        try:
            return (
                self.process.wait(timeout=_DYING_SECONDS) == limits.OUT_OF_TIME or self._ended == "processor"
            )
        except subprocess.TimeoutExpired:
            return False

    def close(self) -> None:
        """End it, whatever it does."""
        self.process.kill()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                pipe.close()
        self.process.wait()

    def _exchange(self, out: bytes, seconds: float) -> bytes:
        """Write all of `out` and read one framed answer; a child that is late is killed, which ends either."""
        assert self.process.stdin is not None  # noqa: S101 - both pipes were asked for
        assert self.process.stdout is not None  # noqa: S101
        writing, reading = self.process.stdin.fileno(), self.process.stdout.fileno()
        answer, rest = bytearray(), memoryview(out)
        try:
            with self._ended_after(seconds):
                while rest:
                    rest = rest[os.write(writing, rest[:65536]) :]
                while not _whole(answer):
                    answer += _read(reading)
        except (Gone, OSError):
            raise (Late if self._ended == "late" else Gone) from None
        if self._ended:  # an answer in the very last moment: the child is of no more use
            raise Late if self._ended == "late" else Gone
        return bytes(answer[_LENGTH:])

    @contextmanager
    def _ended_after(self, seconds: float) -> Iterator[None]:
        """
        A thread that ends the child when it is late or has used too much; the pipes then end, too.

        No system but POSIX can wait for a pipe and a clock at once.
        """
        done = threading.Event()
        guard = threading.Thread(target=self._guarded, args=(done, time.monotonic() + seconds), daemon=True)
        guard.start()
        try:
            yield
        finally:
            done.set()
            guard.join()

    def _guarded(self, done: threading.Event, deadline: float) -> None:
        watch = limits.Watch.of(self.process.pid) if self._watched else None
        while not done.wait(_pause(deadline, watched=bool(watch))):
            late = time.monotonic() >= deadline
            self._ended = "late" if late else watch.exceeded() if watch else ""
            if self._ended:
                self.process.kill()
                return


def _pause(deadline: float, *, watched: bool) -> float:
    left = max(0.0, deadline - time.monotonic())
    return min(left, limits.LOOK_SECONDS) if watched else left


def _surroundings(root: Path) -> dict[str, str]:
    """
    What the child may know of this process's environment: where things are, no passphrase and no job.

    The CAD library takes settings from a home or from the folder one works in; they would change what is read. What it
    keeps of the fonts of a machine stays where it is, because a child that makes it anew is slow.
    """
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    library = {"XDG_CONFIG_HOME": str(root / "ledger"), "XDG_CACHE_HOME": _caches()}
    return {
        **kept, **library, **dict.fromkeys(THREADS, "1"),
        "PYTHONPATH": str(root), "PYTHONWARNINGS": "ignore", "PYTHONUTF8": "1",
    }  # fmt: skip


def _caches() -> str:
    try:
        return os.environ.get("XDG_CACHE_HOME") or str(Path("~/.cache").expanduser())
    except RuntimeError:  # nobody's home
        return tempfile.gettempdir()


def framed(body: bytes) -> bytes:
    return len(body).to_bytes(_LENGTH, "big") + body


def _whole(answer: bytearray) -> bool:
    if len(answer) < _LENGTH:
        return False
    length = int.from_bytes(answer[:_LENGTH], "big")
    if length > MOST_ANSWER_BYTES or len(answer) > _LENGTH + length:
        raise Gone
    return len(answer) == _LENGTH + length


def _read(pipe: int) -> bytes:
    got = os.read(pipe, 1 << 20)
    if not got:
        raise Gone
    return got


def serve(jobs: IO[bytes], answers: IO[bytes]) -> None:
    """The child's own life: answer jobs until the input ends."""
    from ledger.profile import parse  # noqa: F401 - loaded before the first job, which has a deadline

    _send(answers, _HELD if limits.limit_itself() else _TO_WATCH)
    while (length := jobs.read(_LENGTH)) and len(length) == _LENGTH:
        job = jobs.read(int.from_bytes(length, "big"))
        limits.limit_processor()
        _send(answers, _job(job))


def _send(answers: IO[bytes], body: bytes) -> None:
    answers.write(framed(body))
    answers.flush()


def _job(job: bytes) -> bytes:
    from ledger.profile.parse import parse

    split = _LENGTH + int.from_bytes(job[:_LENGTH], "big")
    head: dict[str, Any] = json.loads(job[_LENGTH:split])
    said: dict[str, Any]
    try:
        profile = parse(job[split:], Scan(**head["scan"]), unit=head["unit"], roles=head["roles"])
        said = {"profile": profile.to_json()}
    except BadInput as error:
        said = {"bad_input": str(error)}
    except Unreadable as error:
        said = {"refused": str(error)}
    except MemoryError:
        said = {"refused": "reading needs too much memory; leave out what is not the plate"}
    except Exception as error:  # noqa: BLE001 - whatever fails on a foreign file refuses that file
        reason = visible(f"{type(error).__name__}: {error}", most=120)
        said = {"refused": f"the drawing cannot be read ({reason}); export it again as DXF R2010"}
    return json.dumps(said).encode()


def _main() -> None:
    """Keep the answers' pipe to ourselves: whatever else prints goes nowhere."""
    answers = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    serve(sys.stdin.buffer, answers)


if __name__ == "__main__":
    _main()
