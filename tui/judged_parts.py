"""
A screen that judges the parts of a job: what is known of each at once, what is not fresh worked out in a thread.

The list is there at once, with the verdicts remembered from an earlier session; what is in view is judged first. What
is in view, and how what was found is shown, is said by the screen that derives.
"""

from __future__ import annotations

import time
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import events, on
from textual.message import Message
from textual.worker import get_current_worker

from tui.frame import JobScreen
from tui.parts_rows import Row
from tui.verdicts import Found, Judging

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from ledger.job import Kept, Listed, Stamp


class JudgedParts(JobScreen):
    """The parts by number, each with its verdict as far as it is known."""

    BINDINGS: ClassVar = []

    class Judged(Message):
        """What came of judging some parts."""

        def __init__(self, found: tuple[Found, ...]) -> None:
            super().__init__()
            self.found = found

    class AllJudged(Message):
        """Every part has been looked at."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: dict[str, Row] = {}
        self.listed: Listed | None = None
        self.stamp: Stamp | None = None
        self.judging = False
        self._firm = ""
        self._last_key = 0.0
        self._turn = 0

    def in_view(self) -> Sequence[str]:
        """The numbers of the parts that can be seen, which are judged first."""
        return ()

    def show_parts(self) -> None:
        """The list of parts was read, or is in another order now."""

    def show_judged(self, numbers: Collection[str]) -> None:
        """These were judged."""

    def show_all_judged(self) -> None:
        """Every part has been looked at."""

    def refreshed(self) -> None:
        self.ask(self._read, self._listed)

    def stop_judging(self) -> None:
        """Leave the rest; what was judged stays and is remembered."""
        self._turn += 1
        self.judging = False
        self.show_parts()
        self._remember()
        self.tell(f"stopped: {self.fresh} of {len(self.rows)} parts checked; r continues")

    @property
    def fresh(self) -> int:
        """How many verdicts are of what the job holds now."""
        return sum(1 for row in self.rows.values() if row.fresh)

    def _read(self) -> tuple[str, Listed, Kept | None, Stamp]:
        listed = self.job.listed()
        return self.job.firm, listed, None if self.rows else self.job.remembered(), listed.stamp

    def _listed(self, value: tuple[str, Listed, Kept | None, Stamp]) -> None:
        self._firm, self.listed, kept, stamp = value
        before, stood, self.stamp = self.rows, self.stamp == stamp, stamp
        self.rows = {}
        for part in self.listed.lines:
            old = before.get(part.number)
            if old is None and kept is not None:
                old = Row(part, kept.summaries.get(part.number), fresh=kept.stamp == stamp)
                old.fresh = old.fresh and old.found is not None and old.found.revision == part.revision
            fresh = bool(old and old.fresh and (stood or part.number not in before))
            self.rows[part.number] = Row(part, old.found if old else None, fresh=fresh)
        self.show_parts()
        self._start_judging()

    def _start_judging(self) -> None:
        """Judge what is not fresh: what is in view first."""
        expected = [n for n in dict.fromkeys((*self.in_view(), *self.rows)) if not self.rows[n].fresh]
        self.judging = bool(expected)
        self._turn += 1
        if self.listed is not None and expected:
            self.show_judged(())
            judge = partial(self._judge, self.listed, expected, self._turn)
            self.run_worker(judge, thread=True, group="check", exit_on_error=False)
        elif self.rows:
            self.show_all_judged()

    def _judge(self, listed: Listed, numbers: list[str], turn: int) -> None:
        worker = get_current_worker()
        judging = Judging(
            self.job,
            listed,
            hand_over=self._hand_over,
            stopped=lambda: worker.is_cancelled or turn != self._turn,
            last_key=lambda: self._last_key,
        )
        if judging.run(numbers):
            self.post_message(self.AllJudged())

    def _hand_over(self, found: tuple[Found, ...]) -> None:
        self.post_message(self.Judged(found))

    @on(Judged)
    def judged(self, event: Judged) -> None:
        """Take what was found into the rows; one that was judged at another seal is not of this list."""
        seal = self.listed.seal if self.listed else ""
        for found in event.found:
            row = self.rows.get(found.number)
            if row is not None:
                row.found, row.fault = found.summary or row.found, found.fault
                row.fresh = found.summary is not None and found.seal == seal
        self.show_judged({f.number for f in event.found})

    @on(AllJudged)
    def all_judged(self) -> None:
        self.judging = False
        self.show_parts()
        self._remember()
        self.show_all_judged()

    def _remember(self) -> None:
        fresh = {n: r.found for n, r in self.rows.items() if r.fresh and r.found is not None}
        if self.stamp is not None and fresh:
            keep = partial(self.job.remember, self.stamp, fresh)
            self.run_worker(keep, thread=True, group="remember", exit_on_error=False)

    def on_key(self, _event: events.Key) -> None:
        self._last_key = time.monotonic()
