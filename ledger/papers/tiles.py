"""
A figure of any size laid out on sheets at full size: which paper, which way up, how many, and what lies on each.

The *window* of a sheet is what of the figure can be printed on it: the paper less the margin that the printer leaves,
less a foot for words. Neighboring windows share an *overlap*; down its middle goes the *cut*, where one sheet is cut
off and laid on the next, and on the cut stand crosses at the same places of the figure on both sheets.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from ledger.domain.errors import BadInput, visible
from ledger.domain.plural import counted
from ledger.domain.quantity import read_length, show_mm
from ledger.domain.shape import Box, Point
from ledger.standards.papers import sizes_mm

FOOT_MM: Final = 20.0
_ROLL: Final = "roll"
_LONGEST_MM: Final = 5000.0  # ISO 32000-1 annex C.2: many readers stop at 14,400 units, 5,080 mm
_LEAST_ROLL_MM, _WIDEST_ROLL_MM = (
    200.0,
    1600.0,
)  # the foot has to go on it; the widest printers, common practice
_MARGINS: Final = (0.0, 30.0)
_OVERLAPS: Final = (6.0, 50.0)  # a cross is 5 mm
MOST_SHEETS: Final = 40  # more are asked for


@dataclass(frozen=True, slots=True)
class Sheets:
    """What is printed on: a paper by name, or `roll 24 in`; printable margin and overlap in mm."""

    paper: str = "A4"
    margin_mm: float = 10.0
    overlap_mm: float = 10.0


@dataclass(frozen=True, slots=True)
class Layout:
    """Sheets side by side: page and window in mm, how many across and down, where the lower left window begins."""

    page_mm: tuple[float, float]
    window_mm: tuple[float, float]
    across: int
    down: int
    overlap_mm: float
    start: Point

    @property
    def count(self) -> int:
        """How many sheets."""
        return self.across * self.down

    def windows(self) -> Iterator[tuple[int, int, Box]]:
        """Row and column of every sheet from 1, the top row first, and its window in mm of the figure."""
        (width, height), (x, y) = self.window_mm, self.start
        for row, column in ((r, c) for r in range(self.down) for c in range(self.across)):
            left = x + column * (width - self.overlap_mm)
            bottom = y + (self.down - 1 - row) * (height - self.overlap_mm)
            yield row + 1, column + 1, (left, bottom, left + width, bottom + height)

    def cuts(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Where the sheets are cut: upright cuts by x, level ones by y, mm of the figure."""
        return tuple(
            tuple(
                start
                + k * (side - self.overlap_mm)
                + self.overlap_mm / 2  # the middle of what two windows share
                for k in range(1, count)
            )
            for start, side, count in zip(self.start, self.window_mm, (self.across, self.down), strict=True)
        )  # type: ignore[return-value]  # two of them


def read_sheets(paper: str, margin: str, overlap: str) -> Sheets:
    """What is printed on, as written: `A3`, `roll 24 in`; margins with their units. Raises BadInput."""
    name = next((n for n in sizes_mm() if n.casefold() == paper.casefold()), paper)
    if name not in sizes_mm():
        _roll_mm(name)
    return Sheets(name, _between("margin", margin, _MARGINS), _between("overlap", overlap, _OVERLAPS))


def laid_out(box: Box, sheets: Sheets) -> Layout:
    """The sheets for a figure, upright or on the side, whichever takes fewer. Raises BadInput for a paper not known."""
    size = (box[2] - box[0], box[3] - box[1])
    found = [_layout(box, page, sheets) for page in _pages(size, sheets)]
    return min(found, key=lambda one: (one.count, one.page_mm[0] * one.page_mm[1]))


def tiles(size_mm: float, window_mm: float, overlap_mm: float) -> int:
    """How many windows cover a length, each sharing the overlap with the next."""
    return max(1, math.ceil((size_mm - overlap_mm) / (window_mm - overlap_mm) - 1e-9))


def require_few(layout: Layout, box: Box, sheets: Sheets) -> None:
    """Raises BadInput for more sheets than anybody prints without meaning to."""
    if layout.count > MOST_SHEETS:
        others = (
            f"{counted(laid_out(box, Sheets(n, sheets.margin_mm, sheets.overlap_mm)).count, 'sheet')} of {n}"
            for n in ("A3", "tabloid")
            if n != sheets.paper
        )
        raise BadInput(
            f"the template needs {counted(layout.count, 'sheet')} of {sheets.paper}; expected at most {MOST_SHEETS}: "
            f"print it on larger paper ({', '.join(others)}, or --paper 'roll 24 in'), or confirm with --yes"
        )


def _layout(box: Box, page: tuple[float, float], sheets: Sheets) -> Layout:
    window = (page[0] - 2 * sheets.margin_mm, page[1] - 2 * sheets.margin_mm - FOOT_MM)
    size = (box[2] - box[0], box[3] - box[1])
    across, down = (tiles(s, w, sheets.overlap_mm) for s, w in zip(size, window, strict=True))
    spread = [
        n * w - (n - 1) * sheets.overlap_mm - s for n, w, s in zip((across, down), window, size, strict=True)
    ]
    start = (box[0] - spread[0] / 2, box[1] - spread[1] / 2)
    return Layout(page, window, across, down, sheets.overlap_mm, start)


def _pages(size: tuple[float, float], sheets: Sheets) -> Iterator[tuple[float, float]]:
    """The pages that a figure may be printed on."""
    known = sizes_mm().get(sheets.paper)
    if known:
        yield known
        yield known[::-1]
        return
    width, beside = _roll_mm(sheets.paper), 2 * sheets.margin_mm
    for along, turned in ((size[1] + FOOT_MM, False), (size[0], True)):
        length = min(_LONGEST_MM, max(along + beside, _LEAST_ROLL_MM))
        yield (length, width) if turned else (width, length)


def _roll_mm(paper: str) -> float:
    """How wide a roll is, `roll 610 mm`. Raises BadInput."""
    word, _, width = paper.partition(" ")
    if word.casefold() != _ROLL or not width.strip():
        known = ", ".join(sizes_mm())
        raise BadInput(
            f"no paper {visible(paper)!r}; known: {known}, or a roll with its width, such as 'roll 24 in'"
        )
    mm = float(read_length(width).mm)
    if not _LEAST_ROLL_MM <= mm <= _WIDEST_ROLL_MM:
        raise BadInput(
            f"read a roll {show_mm(mm, 1)} wide; expected {_LEAST_ROLL_MM:g} to {_WIDEST_ROLL_MM:g} mm"
        )
    return mm


def _between(what: str, text: str, bounds: tuple[float, float]) -> float:
    mm = float(read_length(text).mm)
    if not bounds[0] <= mm <= bounds[1]:
        raise BadInput(f"read {show_mm(mm)} as the {what}; expected {bounds[0]:g} to {bounds[1]:g} mm")
    return mm
