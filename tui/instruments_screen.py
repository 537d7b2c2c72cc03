"""The job's own instruments with their calibration, and bend data of vendors; each is entered in one line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from ledger.words.bends import bend_data_line, bend_data_words
from ledger.words.forms import BEND_DATA, INSTRUMENT
from ledger.words.instruments import instrument_line, instrument_words
from tui.actions import bindings
from tui.frame import JobScreen
from tui.part_editor import do
from tui.signs import said, tone

if TYPE_CHECKING:
    from ledger.domain.calibration import Calibration


class InstrumentsScreen(JobScreen):
    """Instruments first, then vendors' bend data; Enter edits the row under the cursor."""

    WHERE = "instruments"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = "InstrumentsScreen OptionList { height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._day = ""
        self._lines: tuple[
            tuple[str, str], ...
        ] = ()  # what Enter opens, and the line that would enter the row

    def body(self) -> ComposeResult:
        yield OptionList(markup=False)

    def on_mount(self) -> None:
        self.head("instruments, and bend data of vendors")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        self.ask(lambda: (self.job.day, self.job.instruments(), self.job.bend_data()), self._show)

    def action_open(self) -> None:
        """Edit what is under the cursor: a new calibration, another radius."""
        at = self.query_one(OptionList).highlighted
        kind, line = self._lines[at] if at is not None and at < len(self._lines) else ("", "")
        if kind == "bend_data":
            self._bend_data(line)
        elif kind:
            self._instrument(line)

    @on(OptionList.OptionSelected)
    def row_selected(self) -> None:
        self.action_open()

    def action_new(self) -> None:
        """An instrument of the job's own and its calibration."""
        self._instrument("")

    def action_bend(self) -> None:
        """What a vendor bends a material of a thickness with."""
        self._bend_data("")

    def _instrument(self, value: str) -> None:
        today = self._day

        def take(text: str) -> None:
            fields, by = instrument_line(text, today).fields, self.fitup.workstation
            work = lambda: self.job.record_instrument(by=by, **fields)  # noqa: E731 - one call
            self.ask(work, self.recorded, busy="recording", group="change")

        title = "instrument and its calibration"
        self.enter(
            title, lambda t: instrument_line(t, today).reading, take, value=value, hint=INSTRUMENT.hint
        )

    def _bend_data(self, value: str) -> None:
        def take(text: str) -> None:
            do(self, "RecordBendData", **bend_data_line(text).fields)

        title = "bend data of a vendor"
        self.enter(title, lambda t: bend_data_line(t).reading, take, value=value, hint=BEND_DATA.hint)

    def _show(self, value: Any) -> None:
        self._day, tools, bend_data = value
        rows = [(said(f"instruments {len(tools)}", "bold underline"), "heading", "")]
        rows += [(self._tool_row(row), "instrument", instrument_words(row)) for row in tools]
        if not tools:
            words = "none entered: readings use the default of their kind; n records one"
            rows.append((said(words), "instrument", ""))
        rows.append((said(f"bend data of vendors {len(bend_data)}", "bold underline"), "heading", ""))
        rows += [(_bend_data_row(row), "bend_data", bend_data_words(row)) for row in bend_data]
        if not bend_data:
            words = "not entered: radius and K-factor are defaults; b enters bend data"
            rows.append((said(words), "bend_data", ""))
        listed = self.query_one(OptionList)
        at = listed.highlighted or 1
        self._lines = tuple((kind, line) for _, kind, line in rows)
        listed.clear_options()
        listed.add_options([Option(text, disabled=kind == "heading") for text, kind, _ in rows])
        listed.highlighted = min(at, len(rows) - 1)

    def _tool_row(self, row: Calibration) -> Text:
        name, _, line = instrument_words(row).partition(" = ")
        text = said(f"{name}: {line.rpartition(', ')[0]}")
        if row.due < self._day:
            return text.append(f"  {self.signs.warning} OVERDUE since {row.due}", tone(self.app, "warning"))
        return text.append(f", due {row.due}")


def _bend_data_row(row: Mapping[str, str]) -> Text:
    return said(bend_data_words(row))
