"""What stands beside the table of parts: the picture and the stops of the chosen part, fetched when it is chosen."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.message import Message
from textual.timer import Timer

from ledger.domain.plates import part_drawing
from tui.picture import Picture
from tui.stops import Stops

if TYPE_CHECKING:
    from ledger.domain.record import Part
    from ledger.domain.verdict import Verdict
    from ledger.job import Job
    from tui.signs import Signs

_REST_S = 0.06  # so long the cursor rests on a row before its part is fetched


class Beside(Vertical):
    """Picture and stops. One part is fetched at a time; who has moved on meanwhile is fetched next."""

    class Fetched(Message):
        """The part and its verdict, as far as they could be had; `last` ends the fetching."""

        def __init__(self, number: str, part: Part | None, verdict: Verdict | None, *, last: bool) -> None:
            super().__init__()
            self.number, self.part, self.verdict, self.last = number, part, verdict, last

    def __init__(self, *, signs: Signs, job: Callable[[], Job], id: str | None = None) -> None:  # noqa: A002 - textual's own word
        super().__init__(id=id)
        self._signs, self._job = signs, job
        self._expected = self._shown = ("", "")
        self._fetching = False
        self._rest: Timer | None = None

    def compose(self) -> ComposeResult:
        yield Picture(braille=self._signs.braille, id="picture")
        yield Stops(id="stops")

    def look(self, number: str, seal: str, *, at_once: bool = False) -> None:
        """Show this part as of this seal of the journal, when the cursor has come to rest, or at once."""
        self._expected = (number, seal)
        if self._rest is not None:
            self._rest.stop()
        if at_once:
            self._fetch()
        else:
            self._rest = self.set_timer(_REST_S, self._fetch)

    def _fetch(self) -> None:
        number, _head = self._expected
        if self._fetching or self._expected == self._shown:
            return
        if not number:
            self._shown = self._expected
            self._picture.show(None, empty="no part chosen")
            self._stops.show(None)
            return
        self._fetching, self._shown = True, self._expected
        self.run_worker(partial(self._work, number), thread=True, group="beside", exit_on_error=False)

    def _work(self, number: str) -> None:
        part = verdict = None
        try:
            part = self._job().part(number)
            self.post_message(self.Fetched(number, part, None, last=False))
            (found,) = self._job().each_verdict([number])
            verdict = found.verdict
        except Exception as fault:  # noqa: BLE001 - judging in the background says in the part's row what is wrong
            self.log.error(repr(fault))  # noqa: TRY400 - the log of the screens, not of the standard library
        self.post_message(self.Fetched(number, part, verdict, last=True))

    @on(Fetched)
    def fetched(self, event: Fetched) -> None:
        event.stop()
        part = event.part
        if part is not None and event.number == self._expected[0]:
            if not event.last:
                self._picture.show(part_drawing(part), empty="no drawing taken yet")
            if event.verdict or not event.last:
                self._stops.show(event.verdict)
        if event.last:
            self._fetching = False
            self._fetch()

    @property
    def _picture(self) -> Picture:
        return self.query_one(Picture)

    @property
    def _stops(self) -> Stops:
        return self.query_one(Stops)
