"""
Builders of small DXF files for the tests of the reader: raw tags, and drawings made with the CAD library.

The plate is our own: 120 x 80 mm, two 9 mm holes, a slot 8 wide and 30 long, a square opening of 12 mm.
"""

from __future__ import annotations

import io
import math
from functools import cache

import ezdxf

from ledger.profile.parse import parse
from ledger.profile.scan import scan

PLATE = [(0, 0), (120, 0), (120, 80), (0, 80)]
HOLES = [(20, 20, 9), (100, 60, 9)]
SLOT = ((40, 60), (62, 60), 8)
SQUARE = [(70, 14), (82, 14), (82, 26), (70, 26)]


def tag(*pairs):
    """Group codes and values as the lines of an ASCII DXF."""
    return "".join(f"{code}\n{value}\n" for code, value in zip(pairs[::2], pairs[1::2], strict=True))


def section(name, body):
    return tag(0, "SECTION", 2, name) + body + tag(0, "ENDSEC")


def header(**variables):
    """A header; INSUNITS and MEASUREMENT are whole numbers, ACADVER a word."""
    codes = {"ACADVER": 1, "INSUNITS": 70, "MEASUREMENT": 70, "DWGCODEPAGE": 3}
    return section("HEADER", "".join(tag(9, f"${name}", codes[name], v) for name, v in variables.items()))


def raw(*entities, head=None, blocks="", tail=None, eof=True):
    """A whole file of raw tags; mm and metric unless the header says otherwise."""
    head = header(ACADVER="AC1009", INSUNITS=4, MEASUREMENT=1) if head is None else head
    body = head + (section("BLOCKS", blocks) if blocks else "") + section("ENTITIES", "".join(entities))
    return (body + (tag(0, "EOF") if eof else "") + (tail or "")).encode()


R2000 = header(ACADVER="AC1015", INSUNITS=4, MEASUREMENT=1)


def line(ax, ay, bx, by, *more, layer="0"):
    return tag(0, "LINE", 8, layer, 10, ax, 20, ay, 11, bx, 21, by, *more)


def circle(x, y, r, *more, layer="0"):
    return tag(0, "CIRCLE", 8, layer, 10, x, 20, y, 40, r, *more)


def arc(x, y, r, start, end, *more, layer="0"):
    return tag(0, "ARC", 8, layer, 10, x, 20, y, 40, r, 50, start, 51, end, *more)


def insert(name, x=0, y=0, *more, layer="0"):
    return tag(0, "INSERT", 8, layer, 2, name, 10, x, 20, y, *more)


def block(name, *entities):
    return (
        tag(0, "BLOCK", 8, "0", 2, name, 70, 0, 10, 0, 20, 0) + "".join(entities) + tag(0, "ENDBLK", 8, "0")
    )


def closed(points, layer="0"):
    """A closed chain of LINEs."""
    return "".join(line(*a, *b, layer=layer) for a, b in zip(points, points[1:] + points[:1], strict=True))


def box(x, y, width, height, layer="0"):
    return closed([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], layer)


def spline(degree, control, knots, *more, layer="0"):
    counts = (71, degree, 72, len(knots), 73, len(control))
    points = [v for x, y in control for v in (10, x, 20, y)]
    head = (8, layer, 100, "AcDbEntity", 100, "AcDbSpline", 70, 8)
    return tag(0, "SPLINE", *head, *counts, *(v for k in knots for v in (40, k)), *points, *more)


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
