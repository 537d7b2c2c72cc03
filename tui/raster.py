"""
Drawing rings into a terminal: one boolean grid of dots for each layer, cells made from the grids.

A *dot* is a braille dot (two by four in a cell) or, without UTF-8, a whole cell. A *layer* is one plate; where
two layers share a cell both stay visible. A *mark* is a short word on top. A *view* is the middle of the picture
and how many mm a dot is. A dashed layer can be told from a whole one without colour.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from ledger.domain.errors import visible
from ledger.domain.shape import Box, Contour, Point

_BITS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]])
_BRAILLE = 0x2800
_DASH = 3
_ROUNDING = 1e-6  # of a dot: a line that lies on the edge of a dot is not split by arithmetic
_FARTHEST = 10  # so many cells from its rim a label may stand that must be shown
_EDGE = 0.92  # of the room is filled when the whole is shown

Grid = NDArray[np.bool_]
Points = NDArray[np.float64]


@dataclass(frozen=True)
class Layer:
    """One plate, or its lines that are no rings (`closed` is False): its style, its sign without braille."""

    rings: tuple[Contour, ...]
    style: str = ""
    sign: str = "#"
    dashed: bool = False
    closed: bool = True
    over: bool = False  # in a cell that it shares with others it alone gives the style

    @cached_property
    def boxes(self) -> Points:
        """[min x, min y, max x, max y] of every ring; worked out once, however often it is drawn."""
        return np.array([ring.box for ring in self.rings], dtype=float).reshape(-1, 4)

    @cached_property
    def circles(self) -> Points:
        """[x, y, radius] of every ring that is a circle; of any other ring, not a number."""
        found = np.full((len(self.rings), 3), np.nan)
        for at, ring in enumerate(self.rings):
            if len(ring.vertices) == 2 and all(abs(v[2]) == 1.0 for v in ring.vertices):  # noqa: PLR2004 - two half turns
                (ax, ay, _), (bx, by, _) = ring.vertices
                radius = math.hypot(bx - ax, by - ay) / 2
                if radius > 0:
                    found[at] = ((ax + bx) / 2, (ay + by) / 2, radius)
        return found


@dataclass(frozen=True, slots=True)
class Mark:
    """
    A short word at a place in mm; where it has a `rim`, beside that and over no stroke, or nowhere, unless it `must`.
    """

    at: Point
    text: str
    style: str = "bold"
    rim: Box | None = None
    must: bool = False


@dataclass(frozen=True, slots=True)
class View:
    """What is looked at: the middle in mm, and mm in a dot."""

    middle: Point
    mm_per_dot: float

    def moved(self, dots_x: float, dots_y: float) -> View:
        """The view moved by so many dots, y upwards."""
        x, y = self.middle
        return replace(self, middle=(x + dots_x * self.mm_per_dot, y + dots_y * self.mm_per_dot))

    def closer(self, factor: float) -> View:
        """The view so many times closer."""
        return replace(self, mm_per_dot=self.mm_per_dot / factor)


@dataclass(frozen=True, slots=True)
class Room:
    """The cells at hand, and whether they can show braille."""

    columns: int
    rows: int
    braille: bool = True

    @property
    def dots(self) -> tuple[int, int]:
        """Dots across and down."""
        return (self.columns * 2, self.rows * 4) if self.braille else (self.columns, self.rows)

    @property
    def tall(self) -> float:
        """How many times as tall as wide a dot is."""
        return 1.0 if self.braille else 2.0

    def dot(self, view: View, points: Points) -> Points:
        """Places in mm as dots, y downwards."""
        across, down = self.dots
        x = (points[:, 0] - view.middle[0]) / view.mm_per_dot + across / 2
        y = down / 2 - (points[:, 1] - view.middle[1]) / view.mm_per_dot / self.tall
        return np.stack((x, y), axis=1)

    def cell(self, view: View, at: Point) -> tuple[int, int]:
        """Column and row of a place in mm."""
        across, down = self.dots
        x = (at[0] - view.middle[0]) / view.mm_per_dot + across / 2
        y = down / 2 - (at[1] - view.middle[1]) / view.mm_per_dot / self.tall
        return (int(x // 2), int(y // 4)) if self.braille else (int(x // 1), int(y // 1))


def whole(boxes: Sequence[Box], room: Room) -> View:
    """The view that shows everything."""
    if not boxes:
        return View((0.0, 0.0), 1.0)
    low_x, low_y = min(b[0] for b in boxes), min(b[1] for b in boxes)
    high_x, high_y = max(b[2] for b in boxes), max(b[3] for b in boxes)
    across, down = room.dots
    scale = max((high_x - low_x) / max(across, 1), (high_y - low_y) / max(down * room.tall, 1)) / _EDGE
    return View(((low_x + high_x) / 2, (low_y + high_y) / 2), scale if scale > 0 else 1.0)


def grid(layer: Layer, view: View, room: Room) -> Grid:
    """The dots of a layer, [down, across]."""
    across, down = room.dots
    out: Grid = np.zeros((down, across), dtype=bool)
    reach_x, reach_y = across / 2 * view.mm_per_dot, down / 2 * view.mm_per_dot * room.tall
    (x, y), boxes = view.middle, layer.boxes
    seen = (boxes[:, 0] <= x + reach_x) & (boxes[:, 2] >= x - reach_x)
    seen &= (boxes[:, 1] <= y + reach_y) & (boxes[:, 3] >= y - reach_y)
    round_ones = seen & np.isfinite(layer.circles).all(axis=1) & (not layer.dashed)
    lines = [_lines(layer.rings[i], view.mm_per_dot / 3) for i in np.flatnonzero(seen & ~round_ones)]
    if round_ones.any():
        lines.append(_round(layer.circles[round_ones], view.mm_per_dot / 3))
    for a, b in lines:
        ends = slice(None) if layer.closed else slice(-1)
        _draw(out, room.dot(view, a[ends]), room.dot(view, b[ends]), dashed=layer.dashed)
    return out


def _round(circles: Points, sagitta_mm: float) -> tuple[Points, Points]:
    """Starts and ends of the lines of many circles at once, as fine as the largest of them wants."""
    largest = circles[:, 2].max()
    pieces = max(4, math.ceil(math.pi / (math.acos(max(-1.0, 1 - sagitta_mm / largest)) or 1e-3)))
    turn = np.arange(pieces) * (2 * math.pi / pieces)
    ring = np.stack((np.cos(turn), np.sin(turn)), axis=1)
    points = circles[:, None, :2] + circles[:, None, 2:] * ring
    return points.reshape(-1, 2), np.roll(points, -1, axis=1).reshape(-1, 2)


def _lines(ring: Contour, sagitta_mm: float) -> tuple[Points, Points]:
    """Starts and ends of the lines that a ring is flattened to; none where a place is not finite."""
    points = np.array(ring.flattened(max(sagitta_mm, ring.chord_error_mm)), dtype=float).reshape(-1, 2)
    if len(points) < 2 or not np.isfinite(points).all():  # noqa: PLR2004 - a point is no line
        points = points[:0]
    return points, np.concatenate((points[1:], points[:1]))


def paint(
    layers: Sequence[Layer], marks: Iterable[Mark], view: View, room: Room, under: Style | None = None
) -> list[Strip]:
    """The picture, a strip for each row of cells; `under` is the style of the ground it is drawn on."""
    if room.columns <= 0 or room.rows <= 0:
        return []
    bits = np.zeros((len(layers), room.rows, room.columns), dtype=int)
    for at, layer in enumerate(layers):
        bits[at] = _cells(grid(layer, view, room), room)
    signs, styles = _signs(layers, bits, room), _styles(layers, bits)
    names = ["", *(layer.style for layer in layers), "bold"]
    for column, row, mark in _placed(marks, view, room, np.asarray(bits.any(axis=0))):
        if mark.style not in names:
            names.append(mark.style)
        signs[row][column : column + len(mark.text)] = mark.text
        styles[row, column : column + len(mark.text)] = names.index(mark.style)
    ground = under or Style.null()
    looks = [ground + Style.parse(name) for name in names]
    return [_line(row, styles[y], looks) for y, row in enumerate(signs)]


def _signs(layers: Sequence[Layer], bits: NDArray[np.int_], room: Room) -> list[list[str]]:
    """The sign of every cell, row by row."""
    if room.braille:
        codes = np.bitwise_or.reduce(bits, axis=0) if len(layers) else np.zeros(bits.shape[1:], dtype=int)
        return [[chr(_BRAILLE + c) if c else " " for c in row] for row in codes.tolist()]
    alphabet = [" ", *(layer.sign for layer in layers), "@"]
    return [[alphabet[which] for which in row] for row in _styles(layers, bits).tolist()]


def _styles(layers: Sequence[Layer], bits: NDArray[np.int_]) -> NDArray[np.int_]:
    """Of every cell: 0 for nothing, 1 and up for the one layer that is there or lies over, last for several."""
    drawn = bits > 0
    many = drawn.sum(axis=0)
    own = (drawn * np.arange(1, len(bits) + 1)[:, None, None]).sum(axis=0)
    which: NDArray[np.int_] = np.where(many > 1, len(bits) + 1, own)
    for at, layer in enumerate(layers):
        if layer.over:
            which = np.where(drawn[at], at + 1, which)
    return which


def _placed(marks: Iterable[Mark], view: View, room: Room, drawn: Grid) -> Iterator[tuple[int, int, Mark]]:
    """Column, row and mark of those that lie wholly in the room and, beside their rims, on no stroke and no mark."""
    taken = [bytearray(row.astype(np.uint8).tobytes()) for row in drawn]
    for mark in sorted(marks, key=lambda m: not m.must):
        shown = replace(mark, text=visible(mark.text))
        wide = len(shown.text)
        for column, row in _cells_for(shown, view, room):
            within = 0 <= row < room.rows and column >= 0 and column + wide <= room.columns
            if within and (mark.rim is None or not any(taken[row][column : column + wide])):
                break
        else:
            column, row = room.cell(view, mark.at)
            if not mark.must or not (0 <= row < room.rows and column >= 0 and column + wide <= room.columns):
                continue
        taken[row][column : column + wide] = b"\1" * wide
        yield column, row, shown


def _cells_for(mark: Mark, view: View, room: Room) -> Iterator[tuple[int, int]]:
    """Where a mark may stand: at its place; of one with a rim in it, to the right, to the left, above and below."""
    column, row = room.cell(view, mark.at)
    if mark.rim is None:
        yield column, row
        return
    left, bottom, right, top = mark.rim
    wide = len(mark.text)
    middle = column - wide // 2
    yield middle, row
    yield room.cell(view, (right, mark.at[1]))[0] + 1, row
    yield room.cell(view, (left, mark.at[1]))[0] - wide, row
    yield middle, room.cell(view, (mark.at[0], top))[1] - 1
    yield middle, room.cell(view, (mark.at[0], bottom))[1] + 1
    if mark.must:
        yield from _farther(wide, room.cell(view, (left, top)), room.cell(view, (right, bottom)))


def _farther(
    wide: int, top_left: tuple[int, int], bottom_right: tuple[int, int]
) -> Iterator[tuple[int, int]]:
    """Places around a rim, in cells, step by step farther out: beside it at every height, then above and below."""
    (left, top), (right, bottom) = top_left, bottom_right
    for step in range(1, _FARTHEST + 1):
        for row in range(top - step, bottom + step + 1):
            yield right + 1 + step, row
            yield left - wide - step, row
        for column in range(left - step, right + step + 1):
            yield column - wide // 2, top - 1 - step
            yield column - wide // 2, bottom + 1 + step


def _line(signs: list[str], styles: NDArray[np.int_], looks: Sequence[Style]) -> Strip:
    """A row of cells, one piece for each run of one style; a short blank goes with the piece before it."""
    pieces: list[tuple[str, int]] = []
    starts = [0, *(np.flatnonzero(np.diff(styles)) + 1).tolist(), len(signs)]
    for start, end in pairwise(starts):
        words, look = "".join(signs[start:end]), int(styles[start])
        if pieces and not look and not looks[pieces[-1][1]].reverse:
            pieces[-1] = (pieces[-1][0] + words, pieces[-1][1])
        elif pieces and pieces[-1][1] == look:
            pieces[-1] = (pieces[-1][0] + words, look)
        else:
            pieces.append((words, look))
    return Strip([Segment(words, looks[look]) for words, look in pieces]).adjust_cell_length(len(signs))


def _cells(dots: Grid, room: Room) -> NDArray[np.int_]:
    if not room.braille:
        return dots.astype(int)
    parts = dots.reshape(room.rows, 4, room.columns, 2)
    out: NDArray[np.int_] = np.einsum("rycx,yx->rc", parts.astype(int), _BITS)
    return out


def _draw(out: Grid, a: Points, b: Points, *, dashed: bool) -> None:
    size = np.array([out.shape[1], out.shape[0]], dtype=float)
    a, b = _clipped(a, b, size)
    if not len(a):
        return
    steps = np.ceil(np.abs(b - a).max(axis=1)).astype(int) + 1
    which = np.repeat(np.arange(len(a)), steps)
    run = np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps)
    share = run / np.maximum(np.repeat(steps, steps) - 1, 1)
    dots = np.floor(a[which] + (b[which] - a[which]) * share[:, None] + _ROUNDING).astype(int)
    keep = ((dots >= 0) & (dots < size)).all(axis=1)
    if dashed:
        keep &= (np.arange(len(dots)) // _DASH) % 2 == 0
    out[dots[keep, 1], dots[keep, 0]] = True


def _clipped(a: Points, b: Points, size: Points) -> tuple[Points, Points]:
    """The pieces of the lines that lie in the room (Liang and Barsky's way)."""
    d = b - a
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.stack((-a / d, (size - a) / d))
    inside = (a >= 0) & (a <= size)
    low = np.where(d == 0, np.where(inside, -np.inf, np.inf), t.min(axis=0)).max(axis=1)
    high = np.where(d == 0, np.inf, t.max(axis=0)).min(axis=1)
    enter, leave = np.maximum(low, 0.0), np.minimum(high, 1.0)
    keep = enter <= leave
    a, d = a[keep], d[keep]
    return a + d * enter[keep, None], a + d * leave[keep, None]
