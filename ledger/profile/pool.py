"""
The warm children of this process, and what their answers mean.

Up to POOL are kept, because starting one costs more than most drawings. One that is late, dies or answers nonsense is
killed, its job is refused, and the next job gets a new one. What comes back is looked at again (`recheck`) before it is
believed.
"""

from __future__ import annotations

import atexit
import json
import os
import threading
from collections.abc import Mapping
from dataclasses import asdict

from ledger.domain.errors import BadInput, Unreadable, visible
from ledger.domain.shape import Profile
from ledger.profile import child as children
from ledger.profile import limits
from ledger.profile.child import Child, Gone, Late, framed
from ledger.profile.scan import Scan

MOST_JOBS = 500
POOL = 2
_LONGEST_WORDS = 600


_STOPPED = {
    True: (
        f"reading was stopped after {limits.CPU_SECONDS} s of processor time, which is more than a plate needs; "
        "leave out what is not the plate"
    ),
    False: (
        "the reader was stopped: the drawing needs too much memory, or is broken; "
        "leave out what is not the plate and export it again"
    ),
}


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
        return _profile(self._answered(framed(head) + data))

    def close(self) -> None:
        """End the children; the next job starts another. A job under way is not waited for: it is refused."""
        with self._change:
            idle, self._idle = [*self._idle], []
            if self._owner == os.getpid():
                for child in self._busy:
                    child.process.kill()
                for child in idle:
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
                f"reading gave no answer in {children.WALL_SECONDS:g} s on the clock, though it may use "
                f"{limits.CPU_SECONDS} s of processor time: this machine is too busy, or the reader hangs; "
                "try again when it is idle"
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
if hasattr(os, "register_at_fork"):  # where processes can be copied
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
