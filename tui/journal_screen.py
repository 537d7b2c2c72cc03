"""The journal: who did what and when, newest first; the whole of the entry under the cursor; verify."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.widgets import DataTable, Input, Static

from ledger.domain.moment import local, local_minute
from ledger.domain.plural import counted
from ledger.domain.seal import short_seal
from tui.actions import bindings
from tui.entries import about
from tui.frame import JobScreen
from tui.signs import finding_text, said

if TYPE_CHECKING:
    from ledger.job import Written

MOST_ROWS = 500
_COLUMNS = (("entry", 5), ("when", 16), ("who", 12), ("what", 22), ("about", 14))


class JournalScreen(JobScreen):
    """Every entry, at most 500 at once."""

    WHERE = "journal"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    JournalScreen #filter { height: 1; border: none; display: none; }
    JournalScreen #filter.asked { display: block; }
    JournalScreen #entries { height: 3fr; }
    JournalScreen #one { height: 2fr; padding: 0 1; background: $panel; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.entries: tuple[Written, ...] = ()
        self._words = ""

    def body(self) -> ComposeResult:
        yield Input(placeholder="filter: who, what, part", id="filter")
        yield DataTable[Text](id="entries", cursor_type="row")
        with VerticalScroll(id="one"):
            yield Static("", id="detail")

    def on_mount(self) -> None:
        for name, width in _COLUMNS:
            self.table.add_column(name, width=width)
        self.table.focus()
        self.head("journal")

    @property
    def table(self) -> DataTable[Text]:
        """The table of entries."""
        return self.query_one("#entries", DataTable)

    def refreshed(self) -> None:
        self.ask(self._read, self._show)

    def _read(self) -> tuple[tuple[Written, ...], str]:
        entries = tuple(self.job.journal())
        return entries, short_seal(entries[-1].seq, entries[-1].hash) if entries else ""

    def whole_row(self) -> str:
        """The entry under the cursor, nothing of it cut."""
        if not (self.table.has_focus and self.table.row_count):
            return ""
        key = self.table.coordinate_to_cell_key(self.table.cursor_coordinate).row_key.value
        entry = next((e for e in self.entries if str(e.seq) == key), None)
        return _line(entry) if entry else ""

    def action_filter(self) -> None:
        """Type to narrow the list."""
        box = self.query_one("#filter", Input)
        box.add_class("asked")
        box.focus()

    def leave(self) -> None:
        """Out of the filter, then back."""
        box = self.query_one("#filter", Input)
        if not box.has_class("asked"):
            self.fitup.one_back()
            return
        box.value = ""
        box.remove_class("asked")
        self.table.focus()

    def action_again(self) -> None:
        """Replay the whole journal and compare."""
        self.ask(self.job.verify, self._verified, busy="verifying")

    @on(Input.Changed, "#filter")
    def filtered(self, event: Input.Changed) -> None:
        self._words = event.value
        self._fill()

    @on(Input.Submitted, "#filter")
    def filter_done(self) -> None:
        self.set_focus(self.table)

    @on(DataTable.RowHighlighted)
    def row_highlighted(self, event: DataTable.RowHighlighted) -> None:
        entry = next((e for e in self.entries if str(e.seq) == event.row_key.value), None)
        self.query_one("#detail", Static).update(_whole(entry) if entry else "")

    def _show(self, read: Any) -> None:
        self.entries, seal = read
        self.head(f"journal: {counted(len(self.entries), 'entry', 'entries')}, seal {seal}")
        self._fill()

    def _fill(self) -> None:
        words = self._words.lower().split()
        found = [e for e in reversed(self.entries) if all(w in _line(e).lower() for w in words)]
        self.table.clear()
        for e in found[:MOST_ROWS]:
            kind = e.kind.replace("_", " ") + (" (signed)" if e.signed else "")
            cells = (e.seq, local_minute(e.at), e.by, kind, about(e))
            self.table.add_row(*(said(c, most=40) for c in cells), key=str(e.seq))
        more = f"; {MOST_ROWS} shown, filter with /" if len(found) > MOST_ROWS else ""
        self.tell(f"{len(found)} of {len(self.entries)} entries{more}")

    def _verified(self, found: Any) -> None:
        wrong = sum(f.severity == "stop" for f in found)
        if found:
            lines = Text("\n").join(finding_text(self.app, self.signs, f, full=True) for f in found)
            self.query_one("#detail", Static).update(lines)
        if wrong:
            self.tell(f"not intact: {counted(wrong, 'problem')}, listed above", fault=True)
            return
        last = self.entries[-1] if self.entries else None
        seal = f", seal {last.seq}:{last.hash[:16]}" if last else ""
        self.tell(f"{self.signs.go} intact: every entry follows from the one before{seal}")


def _line(entry: Written) -> str:
    kind = entry.kind.replace("_", " ")
    return f"{entry.seq} {entry.at} {entry.by} {kind} {about(entry)} {'signed' if entry.signed else ''}"


def _whole(entry: Written) -> Text:
    body = json.dumps(entry.act, ensure_ascii=False, indent=1)
    lines = [
        f"entry {entry.seq} by {entry.by} at {local(entry.at)}{_set_back(entry)}",
        f"hash {entry.hash}",
        *body.splitlines(),
    ]
    return Text("\n").join(said(line) for line in lines)


def _set_back(entry: Written) -> str:
    """Said of an entry that is, by the clock, older than the one before it."""
    return f"; the clock was set back from {local(entry.set_back_from)}" if entry.set_back_from else ""
