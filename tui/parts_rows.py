"""
A row of the first screen: a part as a line, what is known of its verdict, and its text.

A verdict is *fresh* when it was judged at what the job holds now. One that was not is shown with the sign for
waiting in the place of its glyph, until it is judged again. A row is one text in columns of fixed width, which
paints several times as quickly as a table of single cells.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rich.text import Text

from ledger.domain.headlines import LONGEST
from tui.signs import Signs, said, tone, verdict_words

if TYPE_CHECKING:
    from textual.app import App

    from ledger.job import PartLine, Summary

MOST_NUMBER, MOST_TITLE = 20, 40
_CUT = "~"  # where a cell was too long; every terminal has it
_GAP = " "
_LEAST_WHY, _LEAST_TITLE = 24, 12
HEADS = (" ", "part", "rev", "state", "fix", "wait", "sign", "why", "title")

Widths = tuple[int, ...]
SORTED_BY = ("part", "rev", "fix", "wait", "sign", "why", "title")


@dataclass
class Row:
    """A part and, once it is known, what its verdict was, whether that is fresh, or why there is none."""

    part: PartLine
    found: Summary | None = None
    fresh: bool = False
    fault: str = ""

    @property
    def order(self) -> tuple[int, int, int, str]:
        """What there is to fix first, then to wait for or to sign; then what is ready, then what is out."""
        found = self.found
        if self.part.locked and (found is None or found.go):
            return (3, 0, 0, self.part.number)
        if found is None:
            return (1, 0, 0, self.part.number)
        return (2 if found.go else 0, -found.fix, -(found.wait + found.sign), self.part.number)

    @property
    def state(self) -> str:
        """`out` once it is locked, `ready` when only the lock is missing, `to fix` else; empty where unknown."""
        if self.found is None:
            return ""
        if not self.found.go:
            return "to fix"
        return "out" if self.part.locked else "ready"

    @property
    def line(self) -> str:
        """What a filter looks in: number, title, verdict."""
        verdict = "" if self.found is None else "GO" if self.found.go else "NO-GO"
        verdict += " locked" if self.part.locked else ""
        return f"{self.part.number} {self.part.title} {verdict}".lower()

    def text(self, app: App[object] | App[None], signs: Signs, widths: Widths, *, marked: bool) -> Text:
        """Mark, number, revision, state, how much there is to fix, to wait for and to sign, why, title."""
        part, found = self.part, self.found
        counts = (found.fix, found.wait, found.sign) if found else (0, 0, 0)
        cells = (
            Text(signs.chosen if marked else " "),
            said(part.number),
            said(part.revision),
            self._verdict(app, signs),
            *(Text(str(n) if n else ("-" if found else "")) for n in counts),
            said(found.why) if found else Text(),
            said(part.title),
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
        if found.go and self.part.locked:
            return Text(f"{signs.locked} LOCKED", style=tone(app, "success"))
        return Text(verdict_words(signs, go=found.go), style=tone(app, "success" if found.go else "error"))


_KEYS: dict[str, Callable[[Row], Any]] = {
    "part": lambda r: r.part.number,
    "rev": lambda r: r.part.revision,
    "state": lambda r: r.order,
    "fix": lambda r: -r.found.fix if r.found else 0,
    "wait": lambda r: -r.found.wait if r.found else 0,
    "sign": lambda r: -r.found.sign if r.found else 0,
    "why": lambda r: r.found.why if r.found else "",
    "title": lambda r: r.part.title,
}


def matching(rows: Iterable[Row], words: str, column: str = "") -> list[Row]:
    """The rows that hold every one of these words, what is to be done first, or by the named column."""
    expected = words.lower().split()
    found = sorted((r for r in rows if all(w in r.line for w in expected)), key=lambda r: r.order)
    return sorted(found, key=_KEYS[column]) if column else found


def column_at(wide: Widths, cell: int) -> str:
    """The name of the column that this cell of a row is in."""
    end = 0
    for name, width in zip(HEADS, wide, strict=True):
        end += width + len(_GAP) if width else 0
        if cell < end:
            return name
    return ""


def widths(rows: Iterable[Row], room: int) -> Widths:
    """The width of every column in so many cells; why has what the others leave, the title may go."""
    longest = max((len(r.part.number) for r in rows), default=0)
    fixed = (1, min(max(longest, len("part")), MOST_NUMBER), 3, 8, 3, 4, 4)  # mark to sign
    left = room - sum(fixed) - len(_GAP) * (len(HEADS) - 1)
    title = min(left - LONGEST, MOST_TITLE)
    if title < _LEAST_TITLE:
        return (*fixed, max(left + len(_GAP), _LEAST_WHY), 0)
    return (*fixed, left - title, title)


def heads(wide: Widths, order: str = "") -> Text:
    """The line above the rows; the column that they are sorted by is underlined."""
    return _joined([Text(h, style="underline" if h == order and h else "") for h in HEADS], wide)


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
