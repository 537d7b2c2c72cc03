"""
The first screen: every part with its verdict, the one that stops most on top; beside it the picture and the stops.

The list is shown at once, with the verdicts remembered from an earlier session; those that are not fresh are worked out
in a thread, what is in view first. Escape stops that, `r` goes on. The picture and the stops of the chosen part are
fetched when the cursor rests on it. Parts marked with Space make a *set*, which is signed and locked together.
"""

from __future__ import annotations

import time
from collections import Counter
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import DataTable, Input, OptionList, Static
from textual.worker import get_current_worker

from ledger.domain.plural import counted
from ledger.words.forms import PART
from ledger.words.parts import part_line
from tui.actions import bindings
from tui.frame import JobScreen
from tui.part_preview import Beside
from tui.parts_rows import Row, matching
from tui.parts_table import AT_ONCE, MOST_ROWS, PartsTable
from tui.signs import said
from tui.stops import Stops
from tui.verdicts import Found, Judging

if TYPE_CHECKING:
    from ledger.job import Kept, Listed, Stamp


class PartsScreen(JobScreen):
    """What can go, what cannot, and why."""

    WHERE = "parts"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    PartsScreen #both { height: 1fr; }
    PartsScreen #parts { width: 3fr; }
    PartsScreen #side { width: 2fr; padding: 0 1; }
    PartsScreen #filter { height: 1; border: none; display: none; }
    PartsScreen #filter.asked { display: block; }
    PartsScreen Stops { height: 1fr; }
    PartsScreen.-narrow #side { display: none; width: 1fr; }
    PartsScreen.-narrow.beside #side { display: block; }
    PartsScreen.-narrow.beside #parts { display: none; }
    """

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
        self.marked: set[str] = set()
        self.listed: Listed | None = None
        self.stamp: Stamp | None = None
        self.judging = False
        self._title = ""
        self._words = ""
        self._last_key = 0.0
        self._turn = 0

    def body(self) -> ComposeResult:
        yield Input(placeholder="filter: number, title, GO or NO-GO", id="filter")
        with Horizontal(id="both"):
            yield PartsTable(signs=self.signs, marked=self.marked, id="parts")
            yield Beside(signs=self.signs, job=lambda: self.job, id="side")

    def on_mount(self) -> None:
        self.table.focus()
        self.head("fitup: opening the job")

    @property
    def table(self) -> PartsTable:
        """The table of parts."""
        return self.query_one(PartsTable)

    @property
    def chosen(self) -> str:
        """The number under the cursor, or nothing."""
        return self.table.chosen

    @property
    def together(self) -> tuple[str, ...]:
        """The marked set, else the chosen part with those it was last signed together with."""
        if self.marked or not self.chosen:
            return tuple(sorted(self.marked))
        found = self.rows[self.chosen].found
        return (found.together if found else ()) or (self.chosen,)

    def refreshed(self) -> None:
        self.ask(self._read, self._listed)

    def action_again(self) -> None:
        """Check what is not fresh; where everything is, check it all again."""
        if all(row.fresh for row in self.rows.values()):
            for row in self.rows.values():
                row.fresh = False
        self.refreshed()

    def action_filter(self) -> None:
        """Type to narrow the table."""
        box = self.query_one("#filter", Input)
        box.add_class("asked")
        box.focus()

    def action_view(self) -> None:
        """In a narrow terminal: the other tab."""
        beside = not self.has_class("beside")
        self.set_class(beside, "beside")
        (self.query_one(Stops) if beside else self.table).focus()

    def leave(self) -> None:
        """Out of the filter, the tab, the judging, the set; the first screen itself stays."""
        box = self.query_one("#filter", Input)
        if box.has_class("asked"):
            box.value = ""
            box.remove_class("asked")
        elif self.has_class("beside"):
            self.remove_class("beside")
        elif self.judging:
            self.stop_judging()
        else:
            self.marked.clear()
            self._fill()
        self.table.focus()

    def action_mark(self) -> None:
        """Put the chosen part in the set, or take it out."""
        if self.chosen:
            self.marked.symmetric_difference_update({self.chosen})
            self._fill()
            self.tell(f"marked: {', '.join(sorted(self.marked)) or 'none'}")

    def action_open(self) -> None:
        """Open the chosen part."""
        from tui.part_screen import PartScreen

        if self.chosen:
            self.app.push_screen(PartScreen(self.chosen))

    def action_sign(self) -> None:
        """Sign the set, or the chosen part."""
        from tui.sign_screen import SignScreen

        if self.together:
            self.app.push_screen(SignScreen(self.together))

    def action_lock(self) -> None:
        """Lock the set, or the chosen part."""
        from tui.lock_screen import LockScreen

        if self.together:
            self.app.push_screen(LockScreen(self.together))

    def action_journal(self) -> None:
        """Who did what and when."""
        from tui.journal_screen import JournalScreen

        self.app.push_screen(JournalScreen())

    def action_table(self) -> None:
        """Dimensions and clearances from a table."""
        from tui.table_screen import TableScreen

        self.app.push_screen(TableScreen())

    def action_instruments(self) -> None:
        """Instruments with their calibration, and bend data of vendors."""
        from tui.instruments_screen import InstrumentsScreen

        self.app.push_screen(InstrumentsScreen())

    def action_keep(self) -> None:
        """Check outgoing files, verify, export."""
        from tui.custody_screen import KeepingScreen

        self.app.push_screen(KeepingScreen())

    def action_first(self) -> None:
        """What to decide, measure or correct next: what unblocks the most parts first."""
        from tui.next_window import choose_first

        self.ask(
            self.job.first_steps, lambda steps: choose_first(self, steps), busy="checking every open part"
        )

    def action_new(self) -> None:
        """Record a new part."""

        def take(line: str) -> None:
            fields = part_line(line).fields
            number = fields.pop("number")
            self.ask(lambda: self._record(number, fields), self.recorded, busy="recording", group="change")

        self.enter(
            "new part",
            lambda t: part_line(t).reading,
            take,
            hint=PART.hint,
        )

    def action_enroll(self) -> None:
        """People: who may sign as what, and the policy."""
        from tui.people_screen import PeopleScreen

        self.app.push_screen(PeopleScreen())

    def _record(self, number: str, fields: dict[str, Any]) -> None:
        self.job.write_part(number, fields, by=self.fitup.workstation)

    def _read(self) -> tuple[str, Listed, Kept | None, Stamp]:
        from ledger.judge.build import build
        from ledger.judge.summaries import Stamp, remembered

        listed = self.job.listed()
        kept = None if self.rows else remembered(self.job.ident)
        return self.job.firm, listed, kept, Stamp(listed.seal, build(), listed.day)

    def _listed(self, value: tuple[str, Listed, Kept | None, Stamp]) -> None:
        title, self.listed, kept, stamp = value
        before, stood, self.stamp = self.rows, self.stamp == stamp, stamp
        self.rows = {}
        for part in self.listed.lines:
            old = before.get(part.number)
            if old is None and kept is not None:
                old = Row(part, kept.summaries.get(part.number), fresh=kept.stamp == stamp)
                old.fresh = old.fresh and old.found is not None and old.found.revision == part.revision
            fresh = bool(old and old.fresh and (stood or part.number not in before))
            self.rows[part.number] = Row(part, old.found if old else None, fresh=fresh)
        self.marked.intersection_update(self.rows)
        self._title = title
        self._head()
        self._fill()
        self._start_judging()

    def _head(self) -> None:
        """The name of the job, and how many parts are out, ready and to fix."""
        if not self.rows:
            self.head(f"{self._title}: no parts yet; n records one")
            return
        count = Counter(row.state for row in self.rows.values())
        self.head(
            f"{self._title}: {counted(len(self.rows), 'part')}   "
            f"OUT {count['out']}   READY {count['ready']}   TO FIX {count['to fix']}"
        )

    def _start_judging(self) -> None:
        """Judge what is not fresh: what is in view first."""
        in_view = [row.part.number for row in self.table.in_table[:AT_ONCE]]
        expected = [n for n in dict.fromkeys((*in_view, *self.rows)) if not self.rows[n].fresh]
        self.judging = bool(expected)
        self._turn += 1
        if self.listed is not None and expected:
            self.tell(self._progress)
            judge = partial(self._judge, self.listed, expected, self._turn)
            self.run_worker(judge, thread=True, group="check", exit_on_error=False)
        elif self.rows:
            self._tell_verdicts()

    def stop_judging(self) -> None:
        """Leave the rest; what was judged stays and is remembered."""
        self._turn += 1
        self.judging = False
        self._fill()
        self._remember()
        self.tell(f"stopped: {self._fresh} of {len(self.rows)} parts checked; r continues")

    @property
    def _fresh(self) -> int:
        return sum(1 for row in self.rows.values() if row.fresh)

    @property
    def _progress(self) -> str:
        return (
            f"{self._fresh} of {len(self.rows)} parts checked {self.signs.wait} Esc stops{self._part_shown}"
        )

    def _murmur(self, words: str) -> None:
        """The line at the foot without measuring the whole screen anew, for what changes several times a second."""
        self.query_one("#told", Static).update(said(words), layout=False)

    @property
    def _part_shown(self) -> str:
        many = len(self.rows) if not self._words else len(matching(self.rows.values(), self._words))
        return f"; {MOST_ROWS} of {many} shown: filter with /" if many > MOST_ROWS else ""

    @property
    def _hidden(self) -> str:
        """What a filter keeps from sight though it stops."""
        seen = matching(self.rows.values(), self._words)
        out = self.rows.keys() - {row.part.number for row in seen}
        stopped = sum(1 for number in out if (found := self.rows[number].found) and not found.go)
        return f"; {stopped} NO-GO hidden by the filter" if stopped else ""

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
        self.table.repaint({f.number for f in event.found})
        self._head()
        if self.judging:
            self._murmur(self._progress)

    @on(AllJudged)
    def all_judged(self) -> None:
        self.judging = False
        self._fill()
        self._remember()
        self._tell_verdicts()

    def _tell_verdicts(self) -> None:
        lost = [n for n, r in self.rows.items() if r.fault]
        if lost:
            self.tell(f"could not check {', '.join(lost[:5])}: {self.rows[lost[0]].fault}", fault=True)
            return
        go = sum(1 for r in self.rows.values() if r.found and r.found.go)
        self.tell(f"{go} GO, {len(self.rows) - go} NO-GO{self._part_shown}{self._hidden}")

    def _remember(self) -> None:
        from ledger.judge.summaries import Kept, remember

        fresh = {n: r.found for n, r in self.rows.items() if r.fresh and r.found is not None}
        if self.stamp is not None and fresh:
            keep = partial(remember, self.job.ident, Kept(self.stamp, fresh))
            self.run_worker(keep, thread=True, group="remember", exit_on_error=False)

    def on_key(self, _event: events.Key) -> None:
        self._last_key = time.monotonic()

    @on(Input.Changed, "#filter")
    def filtered(self, event: Input.Changed) -> None:
        self._last_key = time.monotonic()
        self._words = event.value
        self.table.show(matching(self.rows.values(), self._words))
        self._look()
        if not self.judging:
            self._murmur(f"{len(self.table.in_table)} of {len(self.rows)} shown{self._hidden}")

    @on(Input.Submitted, "#filter")
    def filter_done(self) -> None:
        self.set_focus(self.table)

    @on(DataTable.RowSelected)
    def row_selected(self) -> None:
        self.action_open()

    @on(DataTable.RowHighlighted)
    def row_highlighted(self) -> None:
        self._look()

    @on(OptionList.OptionSelected, "#stops")
    def stop_selected(self) -> None:
        from tui.part_screen import PartScreen

        finding = self.query_one(Stops).chosen
        if finding and self.chosen:
            self.app.push_screen(PartScreen(self.chosen, fix=finding))

    def _fill(self) -> None:
        self.table.show(matching(self.rows.values(), self._words))
        self._look(at_once=True)

    def _look(self, *, at_once: bool = False) -> None:
        seal = self.listed.seal if self.listed else ""
        self.query_one(Beside).look(self.chosen, seal, at_once=at_once)
