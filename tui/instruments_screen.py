"""The shop's own instruments with their calibration, and what vendors fold with; each is stated in one line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from tui.actions import bindings
from tui.frame import ShopScreen
from tui.means_lines import (
    FOLDING_HINT,
    INSTRUMENT_HINT,
    folding_line,
    folding_words,
    instrument_line,
    instrument_words,
)
from tui.recording import do
from tui.signs import said, tone

if TYPE_CHECKING:
    from ledger.store.tables import InstrumentFact


class InstrumentsScreen(ShopScreen):
    """Instruments first, then vendors' folding; Enter states the row under the cursor anew."""

    WHERE = "instruments"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = "InstrumentsScreen OptionList { height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._day = ""
        self._lines: tuple[tuple[str, str], ...] = ()  # what Enter opens, and the line that would say the row

    def body(self) -> ComposeResult:
        yield OptionList(markup=False)

    def on_mount(self) -> None:
        self.head("instruments, and what vendors fold with")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        self.ask(lambda: (self.shop.day, self.shop.instruments(), self.shop.foldings()), self._show)

    def action_open(self) -> None:
        """State what is under the cursor anew: a new calibration, another radius."""
        at = self.query_one(OptionList).highlighted
        kind, line = self._lines[at] if at is not None and at < len(self._lines) else ("", "")
        if kind == "folding":
            self._folding(line)
        elif kind:
            self._instrument(line)

    @on(OptionList.OptionSelected)
    def row_selected(self) -> None:
        self.action_open()

    def action_new(self) -> None:
        """An instrument of the shop's own and its calibration."""
        self._instrument("")

    def action_folding(self) -> None:
        """What a vendor folds a material of a thickness with."""
        self._folding("")

    def _instrument(self, value: str) -> None:
        today = self._day

        def take(text: str) -> None:
            do(self, "instruments", "RecordInstrument", day=today, **instrument_line(text, today).fields)

        title = "an instrument and its calibration"
        self.enter(
            title, lambda t: instrument_line(t, today).reading, take, value=value, hint=INSTRUMENT_HINT
        )

    def _folding(self, value: str) -> None:
        def take(text: str) -> None:
            do(self, "bends", "StateFolding", **folding_line(text).fields)

        title = "what does a vendor fold with?"
        self.enter(title, lambda t: folding_line(t).reading, take, value=value, hint=FOLDING_HINT)

    def _show(self, value: Any) -> None:
        self._day, tools, foldings = value
        rows = [(said(f"instruments {len(tools)}", "bold underline"), "heading", "")]
        rows += [(self._tool_row(row), "instrument", instrument_words(row)) for row in tools]
        if not tools:
            words = "none of your own: readings count with what is usual for a kind; n records one"
            rows.append((said(words), "instrument", ""))
        rows.append((said(f"what vendors fold with {len(foldings)}", "bold underline"), "heading", ""))
        rows += [(_folding_row(row), "folding", folding_words(row)) for row in foldings]
        if not foldings:
            words = "nothing stated: radius and K-factor are taken as is usual; f states them"
            rows.append((said(words), "folding", ""))
        listed = self.query_one(OptionList)
        at = listed.highlighted or 1
        self._lines = tuple((kind, line) for _, kind, line in rows)
        listed.clear_options()
        listed.add_options([Option(text, disabled=kind == "heading") for text, kind, _ in rows])
        listed.highlighted = min(at, len(rows) - 1)

    def _tool_row(self, row: InstrumentFact) -> Text:
        name, _, line = instrument_words(row).partition(" = ")
        text = said(f"{name}: {line.rpartition(', ')[0]}")
        if row.due < self._day:
            return text.append(f"  {self.signs.warning} OVERDUE since {row.due}", tone(self.app, "warning"))
        return text.append(f", due {row.due}")


def _folding_row(row: Mapping[str, str]) -> Text:
    return said(folding_words(row))
