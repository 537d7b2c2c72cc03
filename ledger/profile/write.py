"""
Write a clean DXF: R2010, every contour one closed polyline, every round hole a circle.

Cut contours lie on layer CUT, marks on MARK, bend lines on BEND, and nothing else is in the file. Bulges are kept,
so arcs stay arcs. The same shapes give the same bytes: no date, no random number goes in. The unit stands in the
header, both as `$INSUNITS` and `$MEASUREMENT`. Shapes come in mm and are written in the unit asked for.
"""

from __future__ import annotations

import io
import math
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from ledger.domain.errors import BadInput
from ledger.domain.shape import Contour, Hole, Profile, Stroke
from ledger.profile.units import CODE_OF, Unit, read_unit

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

CUT, MARK, BEND, TEXT = "CUT", "MARK", "BEND", "TEXT"
_COLOURS = {CUT: 7, MARK: 3, BEND: 5, TEXT: 8}
_TEXT_HEIGHT_MM = 3.0
_fixed = threading.Lock()


def write_dxf(
    outline: Contour | Sequence[Contour] | None,
    holes: Sequence[Hole] = (),
    openings: Sequence[Contour] = (),
    *,
    unit: str = "mm",
    texts: Sequence[tuple[float, float, str]] = (),
    marks: Sequence[Stroke] = (),
    bends: Sequence[Stroke] = (),
) -> bytes:
    """
    The bytes of a DXF file. `texts` are (x, y, words) on layer TEXT: with any, the file is no longer clean.

    Raises BadInput for an unknown unit, and for a shape with a number that is not finite.
    """
    used = read_unit(unit)
    outlines = () if outline is None else (outline,) if isinstance(outline, Contour) else tuple(outline)
    with fixed_metadata():
        document, space = _new(used, with_text=bool(texts))
        pen = _Pen(space, used)
        for ring in (*outlines, *openings):
            pen.polyline(ring.vertices, CUT, closed=True)
        for hole in holes:
            pen.hole(hole)
        for layer, strokes in ((MARK, marks), (BEND, bends)):
            for stroke in strokes:
                pen.stroke(stroke, layer)
        for x, y, words in texts:
            pen.text(x, y, words)
        return as_bytes(document)


def write_profile(profile: Profile, *, unit: str = "mm") -> bytes:
    """A clean copy of a profile: what was understood of the file, and nothing else."""
    return write_dxf(
        profile.outlines,
        profile.holes,
        profile.openings,
        unit=unit,
        marks=profile.marks,
        bends=profile.bends,
    )


def as_bytes(document: Drawing) -> bytes:
    """The bytes of a document, the same in every process: the library lists classes in an order of chance."""
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode("utf-8")


class _Pen:
    """Draws shapes in mm into a model space in another unit."""

    def __init__(self, space: Modelspace, unit: Unit) -> None:
        self.space = space
        self.unit = unit

    def size(self, mm: float) -> float:
        value = mm / self.unit.mm
        if not math.isfinite(value):
            raise BadInput(f"a shape holds the number {mm}, which cannot be drawn")
        return value + 0.0

    def polyline(self, vertices: Sequence[tuple[float, float, float]], layer: str, *, closed: bool) -> None:
        points = [(self.size(x), self.size(y), bulge) for x, y, bulge in vertices]
        self.space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs={"layer": layer})

    def hole(self, hole: Hole) -> None:
        if hole.is_slot:
            self.polyline(hole.contour().vertices, CUT, closed=True)
            return
        x, y = hole.core[0]
        centre = (self.size(x), self.size(y))
        self.space.add_circle(centre, self.size(hole.diameter_mm / 2), dxfattribs={"layer": CUT})

    def stroke(self, stroke: Stroke, layer: str) -> None:
        vertices = stroke.vertices
        closed = len(vertices) > 2 and vertices[0][:2] == vertices[-1][:2]  # noqa: PLR2004 - a ring repeats its first
        self.polyline(vertices[:-1] if closed else vertices, layer, closed=closed)

    def text(self, x: float, y: float, words: str) -> None:
        height = self.size(_TEXT_HEIGHT_MM)
        at = (self.size(x), self.size(y))
        self.space.add_text(words, height=height, dxfattribs={"layer": TEXT, "insert": at})


def _new(unit: Unit, *, with_text: bool) -> tuple[Any, Modelspace]:
    from ezdxf.filemanagement import new

    document = new("R2010", setup=False, units=CODE_OF[unit.name])
    document.header["$MEASUREMENT"] = 0 if unit.imperial else 1
    for name, colour in _COLOURS.items():
        if name != TEXT or with_text:
            document.layers.add(name, color=colour)
    return document, document.modelspace()


@contextmanager
def fixed_metadata() -> Iterator[None]:
    """The library's own switch for a file without date and random numbers; it is one for the whole process."""
    with _fixed:  # the first import, too: of two threads at once one may find the library half made
        from ezdxf._options import options

        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before
