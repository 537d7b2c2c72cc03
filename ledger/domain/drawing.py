"""
What a picture shows, decided once for paper, screen and file: strokes with roles, labels, sizes, notes.

All places are in mm of the part, y up. A *role* is what a stroke is; its *pen* is how it looks on every medium, in mm
on paper: one scheme of colors, said here alone (black ink; blue, orange, green and vermilion that color-blind people
tell apart, after Okabe and Ito, from memory). No role is told by color alone: the plies of a connection differ in their
dashes, a wrong hole is thick and crossed. A *label* names what its *rim* surrounds; where it stands is worked out by
the painter's letters (`ledger.papers.lettered`, and cells in a terminal), never over a stroke. A *size* is a dimension
with its words. *Notes* stand below.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from ledger.domain.shape import Box, Contour, Point, Vertex

Role = Literal["plate", "upper", "between", "lower", "bend", "mark", "size", "wrong", "move"]
SizeKind = Literal["width", "height", "diameter", "distance"]

INK: Final = "#000000"
GROUND: Final = "#ffffff"


@dataclass(frozen=True, slots=True)
class Pen:
    """How a role is drawn: its color, its width and how long it is down and up, in mm on paper."""

    color: str
    width_mm: float = 0.3
    dashes_mm: tuple[float, float] | None = None


PENS: Final[Mapping[Role, Pen]] = {
    "plate": Pen(INK),
    "upper": Pen("#56b4e9"),
    "between": Pen("#009e73", dashes_mm=(1.2, 0.6)),
    "lower": Pen("#e69f00", dashes_mm=(2.6, 0.8)),
    "bend": Pen(INK, 0.15, (3.0, 1.0)),
    "mark": Pen(INK, 0.15, (0.3, 0.8)),
    "size": Pen(INK, 0.1),
    "wrong": Pen("#d55e00", 0.5),
    "move": Pen("#d55e00", 0.35),
}


@dataclass(frozen=True, slots=True)
class Line:
    """Vertices with a role; `closed` joins the last to the first."""

    vertices: tuple[Vertex, ...]
    role: Role
    closed: bool = True


@dataclass(frozen=True, slots=True)
class Label:
    """A short word for what `rim` surrounds. `inside_mm` is how large a circle about its middle is free of strokes."""

    text: str
    rim: Box
    role: Role = "plate"
    inside_mm: float = 0.0

    @property
    def middle(self) -> Point:
        """The middle of the rim."""
        return ((self.rim[0] + self.rim[2]) / 2, (self.rim[1] + self.rim[3]) / 2)


@dataclass(frozen=True, slots=True)
class Size:
    """A dimension in words: of the whole box (`width`, `height`), of a hole, or from one place to another."""

    kind: SizeKind
    words: str
    name: str = ""
    ends: tuple[Point, ...] = ()
    rim: Box = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Drawing:
    """
    What is shown, in the order in which it is drawn. `box` is that of what is cut; strokes may reach out of it.

    `unsized` names the dimensions that stand in tables only, because there are too many to draw.
    """

    box: Box
    title: str = ""
    lines: tuple[Line, ...] = ()
    labels: tuple[Label, ...] = ()
    sizes: tuple[Size, ...] = ()
    notes: tuple[str, ...] = ()
    unsized: tuple[str, ...] = ()

    @property
    def side_mm(self) -> float:
        """The larger side of the box."""
        return max(self.box[2] - self.box[0], self.box[3] - self.box[1], 1e-3)

    @property
    def extent(self) -> Box:
        """The box of every stroke, marks and bend lines that reach out of the plate with it."""
        return around((Contour(line.vertices).box for line in self.lines), empty=self.box)


def around(boxes: Iterable[Box], *, empty: Box = (0.0, 0.0, 1.0, 1.0)) -> Box:
    """The box around boxes; `empty` where there are none."""
    found = list(boxes)
    if not found:
        return empty
    return (
        min(b[0] for b in found),
        min(b[1] for b in found),
        max(b[2] for b in found),
        max(b[3] for b in found),
    )
