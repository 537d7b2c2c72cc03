"""
The first screen: what may go out, what is to be done next, and why each part stands where it stands.

Beside the list stand the picture and the findings of the chosen part, fetched when the cursor rests on it. The list is
sorted by what is to be done (another column by its header), the cursor on its first row. Parts marked with Space make a
*set*, which is signed and locked together.
"""

from __future__ import annotations

import time
from collections import Counter
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import DataTable, Input, OptionList, Static

from ledger.domain.plural import counted
from ledger.words.forms import PART
from ledger.words.parts import part_line
from tui.actions import bindings
from tui.folder_intake import suggest, take_drawings
from tui.judged_parts import JudgedParts
from tui.next_steps import NextSteps
from tui.next_window import choose_first, open_step
from tui.part_preview import Beside
from tui.parts_rows import matching
from tui.parts_table import AT_ONCE, MOST_ROWS, PartsTable
from tui.signs import said
from tui.stops import Stops

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

_FEW_PARTS = 300  # of more open parts, what to do next is worked out only when it is asked for


class PartsScreen(JudgedParts):
    """What can go, what cannot, and why."""

    WHERE = "parts"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    PartsScreen #both { height: 1fr; }
    PartsScreen #left { width: 2fr; }
    PartsScreen #next, PartsScreen #next:focus { border: round $primary; padding: 0 1; }
    PartsScreen #parts { height: 1fr; }
    PartsScreen #side { width: 1fr; min-width: 36; padding: 0 1; background: $surface; }
    PartsScreen #filter { height: 1; border: none; display: none; }
    PartsScreen #filter.asked { display: block; }
    PartsScreen Stops { height: 1fr; background: $surface; }
    PartsScreen.-narrow #side { display: none; width: 1fr; }
    PartsScreen.-narrow.beside #side { display: block; }
    PartsScreen.-narrow.beside #left { display: none; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.marked: set[str] = set()
        self._words = ""
        self._order = ""

    def body(self) -> ComposeResult:
        yield Input(placeholder="filter: number, title, GO or NO-GO", id="filter")
        with Horizontal(id="both"):
            with Vertical(id="left"):
                yield NextSteps(id="next")
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

    def action_text(self) -> None:
        """The job as text, written and read."""
        from tui.job_text_screen import JobTextScreen

        self.app.push_screen(JobTextScreen())

    def action_instruments(self) -> None:
        """Instruments with their calibration, and bend data of vendors."""
        from tui.instruments_screen import InstrumentsScreen

        self.app.push_screen(InstrumentsScreen())

    def action_orders(self) -> None:
        """Orders and what came back, vendors, hardware."""
        from tui.orders_screen import OrdersScreen

        self.app.push_screen(OrdersScreen())

    def action_write(self) -> None:
        """Check outgoing files, verify, export."""
        from tui.custody_screen import KeepingScreen

        self.app.push_screen(KeepingScreen())

    def action_first(self) -> None:
        """What to decide, measure or correct next: what unblocks the most parts first."""
        self.ask(
            self.job.first_steps, lambda steps: choose_first(self, steps), busy="checking every open part"
        )

    def whole_row(self) -> str:
        """The part under the cursor, nothing of it cut."""
        row = self.rows.get(self.chosen) if self.table.has_focus else None
        if row is None:
            return ""
        found = row.found
        told = ("GO" if found.go else "NO-GO", found.why) if found else ("not checked yet",)
        return "\t".join(filter(None, (row.part.number, row.part.revision, *told, row.part.title)))

    def action_sort(self) -> None:
        """Sort by the next column."""
        self.table.sort_by_next(self._order)

    def action_why(self) -> None:
        """Everything known of the finding under the cursor beside the list, else of the worst one."""
        from tui.why_window import show_why

        finding = self.query_one(Stops).chosen
        if finding and self.chosen:
            show_why(self, self.chosen, finding)
        else:
            self.tell("nothing is found of this part" if self.chosen else "no part chosen")

    def action_take(self) -> None:
        """Take several drawings, each as a part."""
        take_drawings(self)

    def action_match(self) -> None:
        """The connections that the drawings speak of."""
        suggest(self)

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

    def action_people(self) -> None:
        """People: who may sign as what, and the policy."""
        from tui.people_screen import PeopleScreen

        self.app.push_screen(PeopleScreen())

    def _record(self, number: str, fields: dict[str, Any]) -> None:
        self.job.write_part(number, fields, by=self.fitup.workstation)

    def in_view(self) -> Sequence[str]:
        """What the table shows first."""
        return [row.part.number for row in self.table.in_table[:AT_ONCE]]

    def show_parts(self) -> None:
        self.marked.intersection_update(n for n, row in self.rows.items() if not row.part.locked)
        self._head()
        self._fill()

    def show_judged(self, numbers: Collection[str]) -> None:
        self.table.repaint(numbers)
        self._head()
        if self.judging:
            self._murmur(self._progress)

    def show_all_judged(self) -> None:
        lost = [n for n, r in self.rows.items() if r.fault]
        if lost:
            self.tell(f"could not check {', '.join(lost[:5])}: {self.rows[lost[0]].fault}", fault=True)
            return
        go = sum(1 for r in self.rows.values() if r.found and r.found.go)
        if self.rows:
            self.tell(f"{go} GO, {len(self.rows) - go} NO-GO{self._part_shown}{self._hidden}")
        if 0 < len(self.rows) - go <= _FEW_PARTS:
            work = partial(self._work, self.job.first_steps, self.query_one(NextSteps).show)
            self.run_worker(work, thread=True, exclusive=True, group="next", exit_on_error=False)
        else:
            self.query_one(NextSteps).show(())

    def _head(self) -> None:
        """The name of the job, and how many parts are out, ready and to fix."""
        if not self.rows:
            self.head(f"{self._firm}: no parts yet; t takes drawings, n records a part")
            return
        count = Counter(row.state for row in self.rows.values())
        self.head(
            f"{self._firm}: {counted(len(self.rows), 'part')}   "
            f"OUT {count['out']}   READY {count['ready']}   TO FIX {count['to fix']}"
        )

    @property
    def _progress(self) -> str:
        return f"{self.fresh} of {len(self.rows)} parts checked {self.signs.wait} Esc stops{self._part_shown}"

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

    @on(Input.Changed, "#filter")
    def filtered(self, event: Input.Changed) -> None:
        self._last_key = time.monotonic()
        self._words = event.value
        self.table.show(matching(self.rows.values(), self._words, self._order), order=self._order)
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

    @on(PartsTable.SortBy)
    def sort_by(self, event: PartsTable.SortBy) -> None:
        self._order = event.column
        self._fill()
        self._murmur(f"sorted by {event.column or 'what is to be done'}")

    @on(NextSteps.OptionSelected, "#next")
    def step_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        step = self.query_one(NextSteps).steps[event.option_index]
        open_step(self, step)

    @on(OptionList.OptionSelected, "#stops")
    def stop_selected(self) -> None:
        from tui.part_screen import PartScreen

        finding = self.query_one(Stops).chosen
        if finding and self.chosen:
            self.app.push_screen(PartScreen(self.chosen, fix=finding))

    def _fill(self) -> None:
        self.table.show(matching(self.rows.values(), self._words, self._order), order=self._order)
        self._look(at_once=True)

    def _look(self, *, at_once: bool = False) -> None:
        seal = self.listed.seal if self.listed else ""
        self.query_one(Beside).look(self.chosen, seal, at_once=at_once)
