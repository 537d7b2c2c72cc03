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

Widths = tuple[int, ...]


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
        """The cells of every column in its width."""
        look = Look(app, signs, marked)
        return _joined((column.cell(self, look) for column in COLUMNS), widths)

    def count(self, what: str) -> int:
        """How many stops are to `fix`, to `wait` for or to `sign`; 0 where nothing is known."""
        return getattr(self.found, what) if self.found else 0

    def verdict(self, app: App[object] | App[None], signs: Signs) -> Text:
        """GO or NO-GO with its sign; locked; failed; not known yet."""
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


@dataclass(frozen=True, slots=True)
class Look:
    """How a row is painted: by which app, with which signs, and whether it is marked."""

    app: App[object] | App[None]
    signs: Signs
    marked: bool


@dataclass(frozen=True, slots=True)
class Column:
    """
    A column: its head, its width in cells, how a row's cell reads, and what rows are sorted by in it.

    Of width None: the number is as wide as the longest, why and title share what the others leave. Without a `key`
    the header does not sort by it; `by_key` says whether the key that goes on to the next column stops here.
    """

    head: str
    width: int | None
    cell: Callable[[Row, Look], Text]
    key: Callable[[Row], Any] | None = None
    by_key: bool = True


def _count(what: str) -> Callable[[Row, Look], Text]:
    def cell(row: Row, _look: Look) -> Text:
        count = row.count(what)
        return Text(str(count) if count else "-" if row.found else "")

    return cell


COLUMNS: tuple[Column, ...] = (
    Column(" ", 1, lambda _row, look: Text(look.signs.chosen if look.marked else " ")),
    Column("part", None, lambda row, _: said(row.part.number), lambda row: row.part.number),
    Column("rev", 3, lambda row, _: said(row.part.revision), lambda row: row.part.revision),
    Column(
        "state", 8, lambda row, look: row.verdict(look.app, look.signs), lambda row: row.order, by_key=False
    ),
    Column("fix", 3, _count("fix"), lambda row: -row.count("fix")),
    Column("wait", 4, _count("wait"), lambda row: -row.count("wait")),
    Column("sign", 4, _count("sign"), lambda row: -row.count("sign")),
    Column(
        "why",
        None,
        lambda row, _: said(row.found.why if row.found else ""),
        lambda row: row.found.why if row.found else "",
    ),
    Column("title", None, lambda row, _: said(row.part.title), lambda row: row.part.title),
)
SORTED_BY = tuple(column.head for column in COLUMNS if column.key and column.by_key)
_KEYS = {column.head: column.key for column in COLUMNS if column.key}


def matching(rows: Iterable[Row], words: str, column: str = "") -> list[Row]:
    """The rows that hold every one of these words, what is to be done first, or by the named column."""
    expected = words.lower().split()
    found = sorted((r for r in rows if all(w in r.line for w in expected)), key=lambda r: r.order)
    return sorted(found, key=_KEYS[column]) if column else found


def column_at(wide: Widths, cell: int) -> str:
    """The name of the column that this cell of a row is in."""
    end = 0
    for column, width in zip(COLUMNS, wide, strict=True):
        end += width + len(_GAP) if width else 0
        if cell < end:
            return column.head
    return ""


def widths(rows: Iterable[Row], room: int) -> Widths:
    """The width of every column in so many cells; why has what the others leave, the title may go."""
    longest = max((len(r.part.number) for r in rows), default=0)
    own = {"part": min(max(longest, len("part")), MOST_NUMBER)}
    known = {c.head: c.width if c.width is not None else own.get(c.head, 0) for c in COLUMNS}
    left = room - sum(known.values()) - len(_GAP) * (len(COLUMNS) - 1)
    title = min(left - LONGEST, MOST_TITLE)
    if title < _LEAST_TITLE:
        known |= {"why": max(left + len(_GAP), _LEAST_WHY), "title": 0}
    else:
        known |= {"why": left - title, "title": title}
    return tuple(known.values())


def heads(wide: Widths, order: str = "") -> Text:
    """The line above the rows; the column that they are sorted by is underlined."""
    return _joined([Text(c.head, style="underline" if c.head == order else "") for c in COLUMNS], wide)


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
