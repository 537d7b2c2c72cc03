"""
The first screen: every part with its verdict, the one that stops most on top; beside it the picture and the stops.

Verdicts are worked out in a thread, part by part, and come in as messages. Parts marked with Space make a *set*,
which is signed and locked together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widgets import DataTable, Input, OptionList
from textual.worker import get_current_worker

from tui.actions import bindings
from tui.asking import Passphrase
from tui.frame import ShopScreen
from tui.lines import part_line
from tui.parts_rows import TITLE_WIDTH, Row
from tui.picture import Picture, labels, plate
from tui.stops import Stops

if TYPE_CHECKING:
    from ledger.domain.gate import Verdict

MOST_ROWS = 500


class PartsScreen(ShopScreen):
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
        """The verdict of one part, or why there is none."""

        def __init__(self, number: str, verdict: Verdict | None, fault: str = "") -> None:
            super().__init__()
            self.number, self.verdict, self.fault = number, verdict, fault

    class AllJudged(Message):
        """Every part has been looked at."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: dict[str, Row] = {}
        self.marked: set[str] = set()
        self._words = ""

    def body(self) -> ComposeResult:
        yield Input(placeholder="filter: number, title, GO or NO-GO", id="filter")
        with Horizontal(id="both"):
            yield DataTable[Text](id="parts", cursor_type="row", zebra_stripes=True)
            with Vertical(id="side"):
                yield Picture(braille=self.signs.braille, id="picture")
                yield Stops(id="stops")

    def on_mount(self) -> None:
        self.table.add_columns(" ", "number", "rev", "verdict", "stops", "warn")
        self.table.add_column("title", width=TITLE_WIDTH)
        self.table.focus()
        self.head("fitup: opening the shop")

    @property
    def table(self) -> DataTable[Text]:
        """The table of parts."""
        return self.query_one("#parts", DataTable)

    @property
    def chosen(self) -> str:
        """The number under the cursor, or nothing."""
        table = self.table
        if not table.row_count:
            return ""
        return str(table.coordinate_to_cell_key(table.cursor_coordinate).row_key.value)

    @property
    def together(self) -> tuple[str, ...]:
        """The marked set, else the chosen part."""
        return tuple(sorted(self.marked)) or ((self.chosen,) if self.chosen else ())

    def refreshed(self) -> None:
        self.ask(lambda: (self.shop.title, self.shop.parts()), self._listed)

    def action_again(self) -> None:
        """Judge everything anew."""
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
        """Out of the filter, the tab, the set; the first screen itself stays."""
        box = self.query_one("#filter", Input)
        if box.has_class("asked"):
            box.value = ""
            box.remove_class("asked")
        elif self.has_class("beside"):
            self.remove_class("beside")
        else:
            self.marked.clear()
            self._fill()
        self.table.focus()

    def action_mark(self) -> None:
        """Put the chosen part in the set, or take it out."""
        if self.chosen:
            self.marked ^= {self.chosen}
            self._fill()
            self.tell(f"together: {', '.join(sorted(self.marked)) or 'none marked'}")

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

    def action_new(self) -> None:
        """Record a new part."""

        def take(line: str) -> None:
            fields = part_line(line).fields
            number = fields.pop("number")
            self.ask(lambda: self._record(number, fields), self.recorded, busy="recording", group="change")

        self.enter(
            "a new part",
            lambda t: part_line(t).reading,
            take,
            hint="NUMBER FORM TITLE; form: cut, site, bought",
        )

    def action_enrol(self) -> None:
        """Enrol a person with a key of their own."""

        def typed(name: str) -> None:
            def with_key(passphrase: str | None) -> None:
                if passphrase is not None:
                    roles = ("drawn", "checked", "approved")
                    work = lambda: self.shop.enrol(name.strip(), roles, passphrase)  # noqa: E731 - one call
                    self.ask(work, self.recorded, busy="making a key", group="change")

            self.window(Passphrase(name, new=True), with_key)

        self.enter("who?", lambda t: f"enrol {t.strip()} as drawn, checked, approved", typed)

    def _record(self, number: str, fields: dict[str, Any]) -> None:
        self.shop.write_part(number, fields, by=self.fitup.seat)

    def _listed(self, value: Any) -> None:
        title, parts = value
        many = "1 part" if len(parts) == 1 else f"{len(parts)} parts"
        self.head(f"{title}: {many}" if parts else f"{title}: no parts yet; n records one")
        known = {n: r.verdict for n, r in self.rows.items()}
        self.rows = {p.number: Row(p, known.get(p.number)) for p in parts}
        self.marked &= set(self.rows)
        self._fill()
        self.tell(f"judging {self.signs.wait}")
        self.run_worker(self._judge, thread=True, exclusive=True, group="judge", exit_on_error=False)

    def _judge(self) -> None:
        worker = get_current_worker()
        for number in tuple(self.rows):
            if worker.is_cancelled:
                return
            try:
                (verdict,) = self.shop.verdicts([number])
                self.post_message(self.Judged(number, verdict))
            except Exception as fault:  # noqa: BLE001 - shown in its row; it must not end the program
                self.post_message(self.Judged(number, None, f"{type(fault).__name__}: {fault}"))
        self.post_message(self.AllJudged())

    @on(Judged)
    def judged(self, event: Judged) -> None:
        row = self.rows.get(event.number)
        if row:
            row.verdict, row.fault = event.verdict, event.fault

    @on(AllJudged)
    def all_judged(self) -> None:
        self._fill()
        lost = [n for n, r in self.rows.items() if r.fault]
        if lost:
            self.tell(f"could not judge {', '.join(lost)}: {self.rows[lost[0]].fault}", fault=True)
            return
        go = sum(1 for r in self.rows.values() if r.verdict and r.verdict.go)
        self.tell(f"{go} GO, {len(self.rows) - go} NO-GO")

    @on(Input.Changed, "#filter")
    def filtered(self, event: Input.Changed) -> None:
        self._words = event.value
        self._fill()

    @on(Input.Submitted, "#filter")
    def filter_done(self) -> None:
        self.table.focus()

    @on(DataTable.RowSelected)
    def row_selected(self) -> None:
        self.action_open()

    @on(DataTable.RowHighlighted)
    def row_highlighted(self) -> None:
        self._beside()

    @on(OptionList.OptionSelected, "#stops")
    def stop_selected(self) -> None:
        from tui.part_screen import PartScreen

        finding = self.query_one(Stops).chosen
        if finding and self.chosen:
            self.app.push_screen(PartScreen(self.chosen, cure=finding))

    def _fill(self) -> None:
        kept = self.chosen
        found = [r for r in sorted(self.rows.values(), key=lambda r: r.order) if r.matches(self._words)]
        self.table.clear()
        for row in found[:MOST_ROWS]:
            cells = row.cells(self.app, self.signs, marked=row.part.number in self.marked)
            self.table.add_row(*cells, key=row.part.number)
        if len(found) > MOST_ROWS:
            self.tell(f"{MOST_ROWS} of {len(found)} shown: filter with /")
        at = next((i for i, r in enumerate(found[:MOST_ROWS]) if r.part.number == kept), 0)
        self.table.move_cursor(row=at)
        self._beside()

    def _beside(self) -> None:
        row = self.rows.get(self.chosen)
        picture, stops = self.query_one(Picture), self.query_one(Stops)
        if row is None:
            picture.show((), empty="no part chosen")
            stops.show(None)
            return
        part = row.part
        picture.show([plate(part.profile, part.holes)], labels(part.holes), empty="no profile taken yet")
        stops.show(row.verdict)
