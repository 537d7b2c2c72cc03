"""The table of parts: at most 500 rows of a longer list, put in so that a key never waits for all of them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING

from rich.text import Text
from textual import events
from textual.message import Message
from textual.timer import Timer
from textual.widgets import DataTable

from tui.parts_rows import SORTED_BY, Row, Widths, column_at, heads, widths

if TYPE_CHECKING:
    from tui.signs import Signs

MOST_ROWS = 500
AT_ONCE = 60  # rows that are put in before the next key can come: more than a screen is high
_NEXT_S = 0.3  # the others come once the filter has rested so long
_LINE = "line"


class PartsTable(DataTable[Text]):
    """Rows by number, the cursor on a row."""

    def __init__(self, *, signs: Signs, marked: Collection[str], id: str | None = None) -> None:  # noqa: A002 - textual's own word
        super().__init__(id=id, cursor_type="row", zebra_stripes=True)
        self.in_table: list[Row] = []
        self._signs, self._marked = signs, marked
        self._more: Timer | None = None
        self._widths: Widths = widths((), 1)
        self._moved = False
        self._order = ""

    class SortBy(Message):
        """Another order is asked for: the name of a column, or nothing for what is to be done first."""

        def __init__(self, column: str) -> None:
            super().__init__()
            self.column = column

    def on_key(self) -> None:
        self._moved = True

    def on_click(self, event: events.Click) -> None:
        """A click on the header sorts by the column that it is on, and once more as before."""
        self._moved = True
        if event.style.meta.get("row") == -1:
            column = column_at(self._widths, event.x - self.cell_padding)
            self.post_message(self.SortBy("" if column in ("", self._order) else column))

    def sort_by_next(self, order: str) -> None:
        """Sort by the column behind this one."""
        columns = ("", *SORTED_BY)
        self.post_message(
            self.SortBy(columns[(columns.index(order) + 1) % len(columns) if order in columns else 0])
        )

    def on_mount(self) -> None:
        self._fit(self.in_table)

    def on_resize(self) -> None:
        self.show(self.in_table)

    @property
    def chosen(self) -> str:
        """The number under the cursor, or nothing."""
        if not self.row_count:
            return ""
        return str(self.coordinate_to_cell_key(self.cursor_coordinate).row_key.value)

    def show(self, rows: Sequence[Row], *, order: str | None = None) -> None:
        """
        These rows instead, the first at once, the others a moment later.

        A cursor that was moved stays on its part, unless the rows come in another `order`: then it is on the first.
        """
        if order is not None and order != self._order:
            self._order, self._moved = order, False
        kept = self.chosen if self._moved else ""
        if self._more is not None:
            self._more.stop()
        self.in_table = list(rows[:MOST_ROWS])
        at = next((i for i, row in enumerate(self.in_table) if row.part.number == kept), 0)
        self._fit(rows)
        self._add(self.in_table[: max(AT_ONCE, at + 1)])
        self.move_cursor(row=at)
        self._more = self.set_timer(_NEXT_S, self._add_more)

    def repaint(self, numbers: Collection[str]) -> None:
        """The cells of these parts anew, where they are in the table."""
        for row in self.in_table[: self.row_count]:
            if row.part.number in numbers:
                self.update_cell(row.part.number, _LINE, self._text(row))

    def _add_more(self) -> None:
        have = self.row_count
        self._add(self.in_table[have : have + 2 * AT_ONCE])
        if self.row_count < len(self.in_table):
            self._more = self.set_timer(_NEXT_S / 6, self._add_more)

    def _fit(self, rows: Sequence[Row]) -> None:
        """An empty table with the one column as wide as there is room."""
        room = max(self.size.width - 2 * self.cell_padding - self.styles.scrollbar_size_vertical, 1)
        self._widths = widths(rows, room)
        self.clear(columns=True)
        self.add_column(heads(self._widths, self._order), width=room, key=_LINE)

    def _add(self, rows: Iterable[Row]) -> None:
        for row in rows:
            self.add_row(self._text(row), key=row.part.number)

    def _text(self, row: Row) -> Text:
        return row.text(self.app, self._signs, self._widths, marked=row.part.number in self._marked)
