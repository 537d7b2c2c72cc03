"""
The reader in a process of its own, which can be killed.

A library may hang in C where no alarm of Python runs, or eat all memory. So bytes are parsed in a *child*: no
terminal, 2 GB of memory and 5 s of processor a *job*: a busy machine makes no drawing worse. Whatever waits without
working is ended after a minute on the clock. Up to POOL warm children are kept, because starting one costs more than
most drawings. Jobs and answers go over its pipes, each with its length in front (8
bytes, big endian). A child that is late, dies or answers nonsense is killed, and the next job gets a new one. It ends
by itself when its input ends. What comes back is looked at again (`recheck`) before it is believed.
"""

from __future__ import annotations

import atexit
import json
import os
import selectors
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import IO, Any

from ledger.domain.errors import BadInput, Unreadable, visible
from ledger.domain.shape import Profile
from ledger.profile.scan import Scan

WALL_SECONDS = 60.0
CPU_SECONDS = 5
MEMORY_BYTES = 2 * 1024**3
START_SECONDS = 60.0
MOST_ANSWER_BYTES = 64 * 1024 * 1024
MOST_JOBS = 500
POOL = 2
_LENGTH = 8
_DYING_SECONDS = 2.0
_OUT_OF_TIME = getattr(signal, "SIGXCPU", 0)  # Windows has none
_READY = b"ready"
_KEPT = ("PATH", "LANG", "LC_ALL", "LD_LIBRARY_PATH", "TMPDIR", "PYTHONHOME", "PYTHONDONTWRITEBYTECODE")
_LONGEST_WORDS = 600


_STOPPED = {
    True: (
        f"reading was stopped after {CPU_SECONDS} s of processor time, which is more than a plate needs; "
        "leave out what is not the plate"
    ),
    False: (
        "the reader was stopped: the drawing needs too much memory, or is broken; "
        "leave out what is not the plate and export it again"
    ),
}


class Late(Exception):
    """The child did not answer in time."""


class Gone(Exception):
    """The child ended, or answered nonsense."""


class Child:
    """One process that parses. Not thread safe: `Reader` is."""

    def __init__(self) -> None:
        root = str(Path(__file__).resolve().parents[2])
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-m", "ledger.profile.child"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=_surroundings(root),
            start_new_session=True,
        )
        self.jobs = 0
        try:
            self._exchange(b"", START_SECONDS)
        except BaseException:
            self.close()
            raise

    def do(self, job: bytes) -> bytes:
        """One job and its answer. Raises Late or Gone; the child is then of no more use."""
        self.jobs += 1
        return self._exchange(_framed(job), WALL_SECONDS)

    @property
    def out_of_time(self) -> bool:
        """Whether the child, whose pipe is closed, was ended because it had used up its processor time."""
        try:
            return self.process.wait(timeout=_DYING_SECONDS) == -_OUT_OF_TIME
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
        """Write all of `out` and read one framed answer, neither waiting past the deadline."""
        assert self.process.stdin is not None  # noqa: S101 - both pipes were asked for
        assert self.process.stdout is not None  # noqa: S101
        writing, reading = self.process.stdin.fileno(), self.process.stdout.fileno()
        os.set_blocking(writing, False)
        os.set_blocking(reading, False)
        deadline = time.monotonic() + seconds
        answer, rest = bytearray(), memoryview(out)
        with selectors.DefaultSelector() as ready:
            ready.register(reading, selectors.EVENT_READ)
            if rest:
                ready.register(writing, selectors.EVENT_WRITE)
            while not _whole(answer):
                events = ready.select(max(0.0, deadline - time.monotonic()))
                if not events:
                    raise Late
                for key, _ in events:
                    if key.fd == writing:
                        rest = rest[_write(writing, rest) :]
                        if not rest:
                            ready.unregister(writing)
                    else:
                        answer += _read(reading)
        return bytes(answer[_LENGTH:])


def _surroundings(root: str) -> dict[str, str]:
    """What the child may know of this process's environment: where things are, no passphrase and no job."""
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    return {**kept, "PYTHONPATH": root, "OPENBLAS_NUM_THREADS": "1", "PYTHONWARNINGS": "ignore"}


def _framed(body: bytes) -> bytes:
    return len(body).to_bytes(_LENGTH, "big") + body


def _whole(answer: bytearray) -> bool:
    if len(answer) < _LENGTH:
        return False
    length = int.from_bytes(answer[:_LENGTH], "big")
    if length > MOST_ANSWER_BYTES or len(answer) > _LENGTH + length:
        raise Gone
    return len(answer) == _LENGTH + length


def _write(pipe: int, rest: memoryview) -> int:
    try:
        return os.write(pipe, rest[:65536])
    except BlockingIOError:
        return 0
    except OSError:
        raise Gone from None


def _read(pipe: int) -> bytes:
    got = os.read(pipe, 1 << 20)
    if not got:
        raise Gone
    return got


class Reader:
    """
    The warm children of this process, shared by its threads: up to POOL, each started when all others are busy.

    A forked copy of this process starts its own.
    """

    def __init__(self) -> None:
        self._change = threading.Condition()
        self._idle: list[Child] = []
        self._busy: set[Child] = set()
        self._starting = 0
        self._owner = os.getpid()

    def parse(self, data: bytes, seen: Scan, *, unit: str | None, roles: Mapping[str, str] | None) -> Profile:
        """`parse.parse`, in a child. Raises Unreadable, and BadInput as `parse` does."""
        head = json.dumps({"scan": asdict(seen), "unit": unit, "roles": dict(roles or {})}).encode()
        return _profile(self._answered(_framed(head) + data))

    def close(self) -> None:
        """End the children; the next job starts another. A job under way is not waited for: it is refused."""
        with self._change:
            children, self._idle = [*self._idle], []
            if self._owner == os.getpid():
                for child in self._busy:
                    child.process.kill()
                for child in children:
                    child.close()

    def forked(self) -> None:
        """In a forked copy of this process another thread of the original may have held the lock for ever."""
        self._change, self._idle, self._busy = threading.Condition(), [], set()
        self._starting, self._owner = 0, os.getpid()

    def _answered(self, job: bytes) -> bytes:
        child = self._take()
        try:
            answer = child.do(job)
        except Late:
            self._drop(child)
            raise Unreadable(
                f"reading gave no answer in {WALL_SECONDS:g} s on the clock, though it may use {CPU_SECONDS} s of "
                "processor time: this machine is too busy, or the reader hangs; try again when it is idle"
            ) from None
        except Gone:
            out_of_time = child.out_of_time
            self._drop(child)
            raise Unreadable(_STOPPED[out_of_time]) from None
        except BaseException:
            self._drop(child)
            raise
        self._give_back(child)
        return answer

    def _take(self) -> Child:
        """A child of one's own: an idle one, else a new one, else the first that comes free."""
        with self._change:
            while True:
                while self._idle:
                    child = self._idle.pop()
                    if child.jobs < MOST_JOBS and child.process.poll() is None:
                        self._busy.add(child)
                        return child
                    child.close()
                if len(self._busy) + self._starting < POOL:
                    self._starting += 1
                    break
                self._change.wait()
        try:
            started = Child()
        except BaseException:
            self._started(None)
            raise
        self._started(started)
        return started

    def _started(self, child: Child | None) -> None:
        with self._change:
            self._starting -= 1
            if child is not None:
                self._busy.add(child)
            self._change.notify()

    def _give_back(self, child: Child) -> None:
        with self._change:
            self._busy.discard(child)
            self._idle.append(child)
            self._change.notify()

    def _drop(self, child: Child) -> None:
        child.close()
        with self._change:
            self._busy.discard(child)
            self._change.notify()


reader = Reader()
atexit.register(reader.close)
os.register_at_fork(after_in_child=reader.forked)


def _profile(answer: bytes) -> Profile:
    from ledger.profile.recheck import recheck

    try:
        said = json.loads(answer)
        if "refused" in said:
            raise Unreadable(visible(said["refused"], most=_LONGEST_WORDS))
        if "bad_input" in said:
            raise BadInput(visible(said["bad_input"], most=_LONGEST_WORDS))
        return recheck(said["profile"])
    except (KeyError, TypeError, ValueError):
        raise Unreadable(
            "the reader gave an invalid answer, so the file is refused; export it again"
        ) from None


def serve(jobs: IO[bytes], answers: IO[bytes]) -> None:
    """The child's own life: answer jobs until the input ends."""
    from ledger.profile import parse  # noqa: F401 - loaded before the first job, which has a deadline

    _limit_memory_and_files()
    _send(answers, _READY)
    while (length := jobs.read(_LENGTH)) and len(length) == _LENGTH:
        job = jobs.read(int.from_bytes(length, "big"))
        _limit_processor()
        _send(answers, _job(job))


def _send(answers: IO[bytes], body: bytes) -> None:
    answers.write(_framed(body))
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


def _limit_memory_and_files() -> None:
    """No more than MEMORY_BYTES, no core dump, and not a byte into any file."""
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _limit_processor() -> None:
    """The limit counts from the start of the process, so each job moves it on by what one job may use."""
    import resource

    used = resource.getrusage(resource.RUSAGE_SELF)
    limit = int(used.ru_utime + used.ru_stime) + 1 + CPU_SECONDS
    resource.setrlimit(resource.RLIMIT_CPU, (limit, resource.getrlimit(resource.RLIMIT_CPU)[1]))


def _main() -> None:
    """Keep the answers' pipe to ourselves: whatever else prints goes nowhere."""
    answers = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    serve(sys.stdin.buffer, answers)


if __name__ == "__main__":
    _main()
