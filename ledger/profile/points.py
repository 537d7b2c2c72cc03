"""
A DXF of measured places at true size, to draw a new part over: holes as circles, points as crosses, labels beside.

What was measured lies on MEASURED_HOLES and MEASURED_POINTS, its expanded uncertainty as circles on UNCERTAINTY, the
labels on LABELS. The file is in mm; the same places give the same bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from ledger.domain.measured_points import MeasuredPoint
from ledger.profile.write import as_bytes, fixed_metadata

HOLES, POINTS, UNCERTAINTY, LABELS = "MEASURED_HOLES", "MEASURED_POINTS", "UNCERTAINTY", "LABELS"
_COLOURS: Final = {HOLES: 5, POINTS: 3, UNCERTAINTY: 1, LABELS: 8}
_MM: Final = 4  # $INSUNITS
CROSS_MM: Final = 5.0
TEXT_MM: Final = 3.0


def points_dxf(points: Sequence[MeasuredPoint]) -> bytes:
    """The bytes of the file."""
    with fixed_metadata():
        from ezdxf.filemanagement import new

        document = new("R2010", setup=False, units=_MM)
        document.header["$MEASUREMENT"] = 1
        for name, colour in _COLOURS.items():
            document.layers.add(name, color=colour)
        space = document.modelspace()
        for point in points:
            (x, y), half = point.at, CROSS_MM / 2
            if point.diameter_mm is not None:
                space.add_circle((x, y), point.diameter_mm / 2, dxfattribs={"layer": HOLES})
            for a, b in (((x - half, y), (x + half, y)), ((x, y - half), (x, y + half))):
                space.add_line(a, b, dxfattribs={"layer": POINTS})
            if point.uncertainty_mm:
                space.add_circle((x, y), point.uncertainty_mm, dxfattribs={"layer": UNCERTAINTY})
            beside = (x + max(half, (point.diameter_mm or 0) / 2) + 1, y + 1)
            space.add_text(point.label, height=TEXT_MM, dxfattribs={"layer": LABELS, "insert": beside})
        return as_bytes(document)
