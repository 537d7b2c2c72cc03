"""
Drawing rings into a terminal: one boolean grid of dots for each layer, cells made from the grids.

A *dot* is a braille dot (two by four in a cell) or, without UTF-8, a whole cell. A *layer* is one plate; where
two layers share a cell both stay visible. A *mark* is a short word on top. A *view* is the middle of the picture
and how many mm a dot is. A dashed layer can be told from a whole one without colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from rich.text import Text

from ledger.domain.shape import Box, Contour, Point

_BITS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]])
_BRAILLE = 0x2800
_DASH = 3
_ROUNDING = 1e-6  # of a dot: a line that lies on the edge of a dot is not split by arithmetic
_EDGE = 0.92  # of the room is filled when the whole is shown

Grid = NDArray[np.bool_]
Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Layer:
    """One plate: its rings, its style, its sign without braille."""

    rings: tuple[Contour, ...]
    style: str = ""
    sign: str = "#"
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """A short word at a place in mm."""

    at: Point
    text: str
    style: str = "bold"


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
        x, y = self.dot(view, np.array([at], dtype=float))[0]
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
    for ring in layer.rings:
        points = ring.flattened(max(view.mm_per_dot / 3, ring.chord_error_mm))
        if len(points) < 2:  # noqa: PLR2004 - a point is no line
            continue
        ends = room.dot(view, np.array([*points, points[0]], dtype=float))
        if np.isfinite(ends).all():
            _draw(out, ends, dashed=layer.dashed)
    return out


def paint(layers: Sequence[Layer], marks: Iterable[Mark], view: View, room: Room) -> list[Text]:
    """The picture, a line of text for each row of cells."""
    if room.columns <= 0 or room.rows <= 0:
        return []
    grids = [grid(layer, view, room) for layer in layers]
    cells = (
        np.stack([_cells(g, room) for g in grids]) if grids else np.zeros((0, room.rows, room.columns), int)
    )
    rows = [_row(layers, cells[:, y], room) for y in range(room.rows)]
    for mark in marks:
        column, row = room.cell(view, mark.at)
        if 0 <= row < room.rows and column >= 0 and column + len(mark.text) <= room.columns:
            line = rows[row]
            rows[row] = line[:column] + Text(mark.text, style=mark.style) + line[column + len(mark.text) :]
    return rows


def _row(layers: Sequence[Layer], cells: NDArray[np.int_], room: Room) -> Text:
    line = Text(no_wrap=True, end="")
    drawn = cells > 0
    for x in range(room.columns):
        owners = np.flatnonzero(drawn[:, x])
        style = layers[owners[0]].style if len(owners) == 1 else "bold" if len(owners) else ""
        line.append(_glyph(layers, cells[:, x], owners, room), style=style)
    return line


def _glyph(layers: Sequence[Layer], bits: NDArray[np.int_], owners: NDArray[np.intp], room: Room) -> str:
    if not len(owners):
        return " "
    if room.braille:
        return chr(_BRAILLE + int(np.bitwise_or.reduce(bits)))
    return layers[owners[0]].sign if len(owners) == 1 else "@"


def _cells(dots: Grid, room: Room) -> NDArray[np.int_]:
    if not room.braille:
        return dots.astype(int)
    parts = dots.reshape(room.rows, 4, room.columns, 2)
    out: NDArray[np.int_] = np.einsum("rycx,yx->rc", parts.astype(int), _BITS)
    return out


def _draw(out: Grid, ends: Points, *, dashed: bool) -> None:
    size = np.array([out.shape[1], out.shape[0]], dtype=float)
    a, b = _clipped(ends[:-1], ends[1:], size)
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
