"""
Builders of small DXF files for the tests of the reader: raw tags, and drawings made with the CAD library.

The plate is our own: 120 x 80 mm, two 9 mm holes, a slot 8 wide and 30 long, a square opening of 12 mm.
"""

from __future__ import annotations

import io
import math
from functools import cache

import ezdxf
from raw_dxf import (  # noqa: F401 - the tests take them from here
    R2000,
    arc,
    block,
    box,
    circle,
    closed,
    header,
    insert,
    line,
    raw,
    section,
    spline,
    tag,
)

from ledger.profile.parse import parse
from ledger.profile.scan import scan

PLATE = [(0, 0), (120, 0), (120, 80), (0, 80)]
HOLES = [(20, 20, 9), (100, 60, 9)]
SLOT = ((40, 60), (62, 60), 8)
SQUARE = [(70, 14), (82, 14), (82, 26), (70, 26)]


def read(data, unit=None, roles=None):
    """The profile, parsed in this process: quick, and no child between test and code."""
    return parse(data, scan(data), unit=unit, roles=roles)


def codes(profile, severity=None):
    return {f.code for f in profile.findings if severity in (None, f.severity)}


def finding(profile, code):
    return next(f for f in profile.findings if f.code == code)


def drawing(draw, version="R2010", units=4):
    """Bytes of a drawing that `draw(modelspace, document)` made."""
    document = ezdxf.new(version, units=units)
    draw(document.modelspace(), document)
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode("utf-8")


def polygon(x, y, r, sides, turn=0.0):
    return [
        (x + r * math.cos(turn + 2 * math.pi * k / sides), y + r * math.sin(turn + 2 * math.pi * k / sides))
        for k in range(sides)
    ]


def draw_plate(space, factor=1.0):
    """The plate with LINEs, CIRCLEs and ARCs, in a unit of `factor` to the millimetre."""
    f = factor
    for ring in (PLATE, SQUARE):
        for (ax, ay), (bx, by) in zip(ring, ring[1:] + ring[:1], strict=True):
            space.add_line((ax * f, ay * f), (bx * f, by * f))
    for x, y, d in HOLES:
        space.add_circle((x * f, y * f), d / 2 * f)
    (ax, ay), (bx, by), width = SLOT
    r = width / 2
    space.add_line((ax * f, (ay - r) * f), (bx * f, (by - r) * f))
    space.add_arc((bx * f, by * f), r * f, -90, 90)
    space.add_line((bx * f, (by + r) * f), (ax * f, (ay + r) * f))
    space.add_arc((ax * f, ay * f), r * f, 90, 270)


@cache
def plate_bytes(version="R2010", units=4, factor=1.0):
    return drawing(lambda space, _: draw_plate(space, factor), version, units)


PLATE_AREA = 120 * 80 - 2 * math.pi * 4.5**2 - (22 * 8 + math.pi * 16) - 144
