"""Builders for the tests of sheets: parts, who issues them, and what can be read off a page."""

from __future__ import annotations

import io
from dataclasses import replace
from decimal import Decimal

import pypdf
from packet_samples import bent, plate, rectangle, taken

from ledger.domain.bend import Bend, ends_of
from ledger.domain.measured_on import read_measured_on
from ledger.domain.quantity import read_length
from ledger.domain.record import Dimension
from ledger.domain.shape import Hole, Profile
from ledger.papers.title_block import Issue
from ledger.standards.size_limits import limits_of

ISSUE = Issue(
    owner="Pier mount job",
    subject="0123456789abcdef" * 4,
    creator="Mira Holm",
    approval="Jonas Feld, checked",
    day="2026-03-02",
    seal=f"41:{'ab' * 32}",
)
PREVIEW = replace(ISSUE, day="", seal="")


def dimension(name="width", nominal="300 mm", limits="+0.2/-0.1", measured_on="width", **fields):
    length = read_length(nominal)
    return Dimension(
        name, length, limits_of(limits, length), "given", measured_on=read_measured_on(measured_on), **fields
    )


def bent_part(**changes):
    """The pier plate with a bend, a mark, a key dimension and a coat."""
    whole = plate(
        dimensions=(dimension(),),
        coating="hot-dip zinc",
        coating_thickness=read_length("0.07 mm"),
        thickness=read_length("1/2 in"),
        hand="as drawn",
    )
    return replace(whole, taken=taken(bent(whole.taken.profile)), **changes)


def square_bend(label, **changes):
    """A square bend up about 3 mm at the bend line of `bent_part`."""
    line = ends_of(bent_part().taken.profile.bends[0])
    return replace(Bend(label, line, Decimal(90), "up", radius=read_length("3 mm")), **changes)


def riddled(count):
    """A plate with many holes in rows of forty."""
    holes = tuple(
        Hole(f"H{k + 1}", ((10.0 + 9.0 * (k % 40), 10.0 + 9.0 * (k // 40)),), 5.0) for k in range(count)
    )
    ring = rectangle(380.0, 30.0 + 9.0 * (count // 40))
    return plate(taken=taken(Profile(ring, holes=holes, outlines=(ring,))), operations=())


def pages(data):
    return pypdf.PdfReader(io.BytesIO(data), strict=True).pages


def words(data):
    """The text of every page, runs of white space made one blank."""
    return " ".join(" ".join(page.extract_text() for page in pages(data)).split())


def run_together(data):
    """The same without any white space, for words that may be wrapped anywhere."""
    return "".join(words(data).split())


def printed(data, number=None):
    """(x, y, size, bold, text) of every piece of text (of one page, by number): mm, points, as it was drawn."""
    found = []

    def see(text, matrix, inner, font, size):
        if text.strip():
            a, b, c, d, e, f = matrix
            x, y = inner[4] * a + inner[5] * c + e, inner[4] * b + inner[5] * d + f
            found.append(
                (float(x) * 25.4 / 72, float(y) * 25.4 / 72, size, "Bold" in font["/BaseFont"], text.strip())
            )

    for page in pages(data) if number is None else [pages(data)[number]]:
        page.extract_text(visitor_text=see)
    return found


def points_drawn(data):
    """Every point (mm) that a line or a curve of the first page ends at, from the content stream."""
    content = pages(data)[0].get_contents().operations
    ends = [(values[-2:], op) for values, op in content if op in (b"m", b"l", b"c")]
    return [(float(x) * 25.4 / 72, float(y) * 25.4 / 72) for (x, y), _ in ends]


def lines_drawn(data):
    """((x, y), (x, y)) in mm of every straight line drawn by itself on the first page."""
    found, start = [], None
    for values, op in pages(data)[0].get_contents().operations:
        if op == b"m":
            start = values
        elif op == b"l" and start is not None:
            found.append(tuple((float(x) * 25.4 / 72, float(y) * 25.4 / 72) for x, y in (start, values)))
            start = None
    return found


def blacks_drawn(data):
    """(left, bottom, width, height) in mm of every rectangle of the first page."""
    content = pages(data)[0].get_contents().operations
    return [tuple(float(v) * 25.4 / 72 for v in values) for values, op in content if op == b"re"]
