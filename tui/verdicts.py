"""
Judging a long list in the background, part by part, so that the screen always has room.

Parts are judged in *slices*, each over one reading of the job; what was found is handed over a few times a second.
Python runs one thread at a time, so the work steps aside between parts, and waits while keys are being pressed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ledger.job import Job, Listed, Summary

SLICE = 40
_ASIDE_S = 0.002  # after every part: more than the screen needs to take its turn
_QUIET_S = 0.12  # so long after a key the work goes on
_LONGEST_WAIT_S = 1.0  # a key that is held down does not stop it for good
_HANDED_OVER_EVERY_S = 0.3


@dataclass(frozen=True, slots=True)
class Found:
    """What came of judging one part, and the journal seal at which; without a summary, what went wrong."""

    number: str
    seal: str
    summary: Summary | None
    fault: str = ""


@dataclass
class Judging:
    """One run over a list. `hand_over` gets what was found; `stopped` is asked between parts."""

    job: Job
    listed: Listed
    hand_over: Callable[[tuple[Found, ...]], None]
    stopped: Callable[[], bool]
    last_key: Callable[[], float]
    _found: list[Found] = field(default_factory=list)
    _handed: float = 0.0

    def run(self, numbers: Sequence[str]) -> bool:
        """Judge these in their order; whether it came to the end."""
        left = list(numbers)
        while left and not self.stopped():
            left = left[self._slice(left[:SLICE]) :]
        self._give()
        return not left

    def _slice(self, numbers: Sequence[str]) -> int:
        """Judge one slice; how many parts of it are done. A part that cannot be judged ends the slice."""
        done = 0
        try:
            for found in self.job.each_verdict(numbers):
                self._take(Found(numbers[done], found.seal, found.summary(self.listed.people)))
                done += 1
                self._step_aside()
                if self.stopped():
                    break
        except Exception as fault:  # noqa: BLE001 - shown in its row; it must not end the program
            self._take(Found(numbers[done], self.listed.seal, None, f"{type(fault).__name__}: {fault}"))
            done += 1
        return done

    def _take(self, found: Found) -> None:
        self._found.append(found)
        if time.monotonic() - self._handed >= _HANDED_OVER_EVERY_S:
            self._give()

    def _give(self) -> None:
        if self._found:
            self.hand_over(tuple(self._found))
        self._found, self._handed = [], time.monotonic()

    def _step_aside(self) -> None:
        time.sleep(_ASIDE_S)
        until = time.monotonic() + _LONGEST_WAIT_S
        while not self.stopped() and self.last_key() + _QUIET_S > time.monotonic() < until:
            time.sleep(_QUIET_S / 4)
