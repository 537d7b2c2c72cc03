"""
Entering a table of key dimensions or clearances: from a file or pasted, looked at row by row, then recorded.

A pasted table is read as it stands in the box; nothing is recorded before a key and a yes.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from rich.style import Style
from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import Input, OptionList, TextArea
from textual.widgets.option_list import Option

from ledger.domain.plural import counted
from tui.actions import bindings
from tui.entry_windows import Confirm
from tui.frame import JobScreen
from tui.signs import said, tone

if TYPE_CHECKING:
    from ledger.job import Preview, Row

MOST_ROWS = 500


class TableScreen(JobScreen):
    """A table before and while it is recorded."""

    WHERE = "table"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    TableScreen #path { height: 1; border: none; }
    TableScreen #pasted { height: 7; display: none; border: none; }
    TableScreen #pasted.asked { display: block; }
    TableScreen #rows { height: 1fr; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.found: Preview | None = None
        self._data = b""

    def body(self) -> ComposeResult:
        yield Input(placeholder="path of a table (CSV), then Enter; or Esc, then V to paste", id="path")
        yield TextArea("", id="pasted")
        yield OptionList(id="rows", markup=False)

    def on_mount(self) -> None:
        self.head("enter a table: nothing read yet")
        self.query_one("#path").focus()

    def refreshed(self) -> None:
        if self._data:
            self._look(self._data)

    def leave(self) -> None:
        """Out of the box or the path, then back."""
        rows = self.query_one("#rows")
        if rows.has_focus:
            self.fitup.one_back()
        else:
            rows.focus()
            self.tell("F names a file, V pastes a table, Esc goes back")

    def action_path(self) -> None:
        """Name a file."""
        self.query_one("#path").focus()

    def action_paste(self) -> None:
        """Paste a table, with tabs, commas or semicolons."""
        box = self.query_one("#pasted", TextArea)
        box.add_class("asked")
        box.focus()
        self.tell(
            "paste or type: the first line names the columns, such as part,name,nominal; Esc leaves the box"
        )

    def action_record(self) -> None:
        """Record the whole table."""
        found = self.found
        if found is not None and found.count("wrong"):
            self.tell(f"{found.count('wrong')} wrong: fix them, or Ctrl+G records the good rows", fault=True)
        else:
            self._confirm(only_good=False)

    def action_good(self) -> None:
        """Record the good rows, and leave the wrong ones out."""
        self._confirm(only_good=True)

    @on(Input.Submitted, "#path")
    def path_given(self, event: Input.Submitted) -> None:
        path = event.value.strip()
        if path:
            self._data, self.found = b"", None
            self.query_one("#rows", OptionList).clear_options()
            self.ask(partial(self._read, path), self._show_file, busy="reading the table")

    @on(TextArea.Changed, "#pasted")
    def pasted(self, event: TextArea.Changed) -> None:
        if event.text_area.text.strip():
            self._look(event.text_area.text.encode("utf-8", "surrogatepass"))

    def _read(self, path: str) -> tuple[bytes, Preview]:
        data = read_bytes(path)
        return data, self.job.preview_table(data)

    def _look(self, data: bytes, *, done: str = "") -> None:
        self._data, self.found = data, None
        self.ask(
            lambda: self.job.preview_table(data), partial(self._show, done=done), busy="reading the table"
        )

    def _show_file(self, value: Any) -> None:
        self._data, found = value
        self._show(found)
        self.query_one("#rows").focus()

    def _show(self, found: Any, *, done: str = "") -> None:
        self.found = found
        self.head(f"table: {found.words}")
        rows = found.rows
        if len(rows) > MOST_ROWS:
            rows = sorted(rows, key=lambda r: r.state != "wrong")[:MOST_ROWS]
        listed = self.query_one("#rows", OptionList)
        listed.clear_options()
        listed.add_options([Option(self._line(row)) for row in rows])
        listed.highlighted = 0
        more = (
            [f"{len(rows)} of {len(found.rows)} rows shown, wrong ones first"]
            if len(rows) < len(found.rows)
            else []
        )
        self.tell("; ".join(filter(None, (done, *found.notes, *more))))

    def _line(self, row: Row) -> Text:
        sign, colour = {
            "new": (self.signs.chosen, "success"),
            "changed": (self.signs.warning, "warning"),
            "unchanged": (self.signs.note, "foreground"),
            "wrong": (self.signs.no_go, "error"),
        }[row.state]
        text = Text().append(f"{sign} {row.state:<10}", style=tone(self.app, colour) + Style(bold=True))
        text.append_text(said(f"line {row.line}  {row.about}: {row.words}"))
        for change in row.changes:
            text.append("\n    ").append_text(said(change.words))
        return text

    def _confirm(self, *, only_good: bool) -> None:
        found = self.found
        count = sum(len(row.acts) for row in found.rows) if found else 0
        if found is None or not count:
            self.tell("nothing to record", fault=True)
            return
        text = Text().append_text(
            said(f"record {counted(count, 'entry', 'entries')} from this table?", "bold")
        )
        text.append("\n").append_text(said(found.words))
        if only_good and found.count("wrong"):
            text.append("\n").append_text(said(f"{found.count('wrong')} wrong, left out"))

        def answered(yes: bool | None) -> None:
            if yes:
                self._record(found, count, only_good=only_good)

        self.window(Confirm(text, "Record"), answered)

    def _record(self, found: Preview, count: int, *, only_good: bool) -> None:
        data, workstation = self._data, self.fitup.workstation

        def recorded(_value: Any) -> None:
            self._look(data, done=f"recorded {counted(count, 'entry', 'entries')}")

        self.ask(
            lambda: self.job.enter_table(data, by=workstation, only_good=only_good, seen=found),
            recorded,
            busy="recording",
            group="change",
        )


def read_bytes(path: str) -> bytes:
    """A table's bytes. Raises Unreadable."""
    from ledger.files import read_regular

    return read_regular(Path(path).expanduser())
