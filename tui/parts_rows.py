"""
A row of the first screen: a part as a line, what is known of its verdict, and its text.

A verdict is *fresh* when it was judged at what the job holds now. One that was not is shown with the sign for
waiting in the place of its glyph, until it is judged again. A row is one text in columns of fixed width, which
paints several times as quickly as a table of single cells.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.text import Text

from tui.signs import Signs, said, tone, verdict_words

if TYPE_CHECKING:
    from textual.app import App

    from ledger.job import PartLine, Summary

MOST_NUMBER, MOST_TITLE = 20, 40
_CUT = "~"  # where a cell was too long; every terminal has it
_GAP = "  "
_LEAST_TITLE, _WAITS, _LEAST_WAITS = 20, 18, 6
_HEADS = (" ", "number", "rev", "verdict", "stops", "warn", "title", "waits on")

Widths = tuple[int, ...]


@dataclass
class Row:
    """A part and, once it is known, what its verdict was, whether that is fresh, or why there is none."""

    part: PartLine
    found: Summary | None = None
    fresh: bool = False
    fault: str = ""

    @property
    def order(self) -> tuple[int, str]:
        """Most stops first; what is not judged yet behind."""
        return (-(self.found.stops if self.found else -1), self.part.number)

    @property
    def line(self) -> str:
        """What a filter looks in: number, title, verdict."""
        verdict = "" if self.found is None else "GO" if self.found.go else "NO-GO"
        return f"{self.part.number} {self.part.title} {verdict}".lower()

    def text(self, app: App[object] | App[None], signs: Signs, widths: Widths, *, marked: bool) -> Text:
        """Mark, number, revision, verdict, stops, warnings, title, what it waits on."""
        part, found = self.part, self.found
        title = said(part.title)
        if part.locked:
            title = Text("(locked) ") + title
        cells = (
            Text(signs.chosen if marked else " "),
            said(part.number),
            said(part.revision),
            self._verdict(app, signs),
            Text(str(found.stops) if found else ""),
            Text(str(found.warnings) if found else ""),
            title,
            said(found.waits) if found else Text(),
        )
        return _joined(cells, widths)

    def _verdict(self, app: App[object] | App[None], signs: Signs) -> Text:
        found = self.found
        if self.fault:
            return Text(f"{signs.no_go} failed", style=tone(app, "error"))
        if found is None:
            return Text(signs.wait)
        if not self.fresh:
            return Text(f"{signs.wait:2}{'GO' if found.go else 'NO-GO'}")
        return Text(verdict_words(signs, go=found.go), style=tone(app, "success" if found.go else "error"))


def matching(rows: Iterable[Row], words: str) -> list[Row]:
    """The rows that hold every one of these words, most stops first."""
    expected = words.lower().split()
    return sorted((r for r in rows if all(w in r.line for w in expected)), key=lambda r: r.order)


def widths(rows: Iterable[Row], room: int) -> Widths:
    """The width of every column in so many cells; a title has what the others leave, the last may go."""
    longest = max((len(r.part.number) for r in rows), default=0)
    fixed = (1, min(max(longest, len("number")), MOST_NUMBER), 3, 8, 5, 4)
    left = room - sum(fixed) - len(_GAP) * (len(_HEADS) - 1)
    title = min(max(left - _WAITS, _LEAST_TITLE), MOST_TITLE)
    waits = left - title
    return (*fixed, title, waits if waits >= _LEAST_WAITS else 0)


def heads(wide: Widths) -> Text:
    """The line above the rows."""
    return _joined([Text(h) for h in _HEADS], wide)


def _joined(cells: Iterable[Text], wide: Widths) -> Text:
    line = Text(no_wrap=True)
    for cell, width in zip(cells, wide, strict=True):
        if width:
            if cell.cell_len > width:
                cell.truncate(width - 1, overflow="crop", pad=True)
                cell.append(_CUT)
            cell.pad_right(width - cell.cell_len)
            line.append_text(cell).append(_GAP)
    line.right_crop(len(_GAP))
    return line
