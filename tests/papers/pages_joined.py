"""Printed sheets read back as a person joins them: by the crosses on their cuts, and by nothing that laid them out."""

from __future__ import annotations

import io
import math

import pypdf

MM = 25.4 / 72
CROSS_MM = 2.5


def paths(page):
    """Every path of a page as its points in mm, curves by their ends; whether it has curves."""
    found, points, curved = [], [], False
    for values, op in page.get_contents().operations:
        if op in (b"m", b"l", b"c"):
            if op == b"m" and points:
                found.append((points, curved))
                points, curved = [], False
            points.append(tuple(float(v) * MM for v in values[-2:]))
            curved = curved or op == b"c"
        elif op in (b"S", b"s", b"n", b"f", b"f*"):
            if points:
                found.append((points, curved))
            points, curved = [], False
    return found


def circles(page):
    """(x, y, diameter) of every whole circle of a page in mm."""
    found = []
    for points, curved in paths(page):
        (x, y), (x0, y0) = points[0], points[-1]
        if curved and math.hypot(x - x0, y - y0) < 1e-3:
            xs, ys = [p[0] for p in points], [p[1] for p in points]
            centre = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
            radii = [math.dist(p, centre) for p in points]
            if max(radii) - min(radii) < 0.01:
                found.append((*centre, 2 * radii[0]))
    return found


def crosses(page):
    """The crosses of a page by their rings."""
    return [(x, y) for x, y, d in circles(page) if abs(d - CROSS_MM) < 0.01]


def shift(before, after, *, across):
    """How far the second page is moved so that its crosses lie on those of the first; they must all agree."""
    along, beside = (0, 1) if across else (1, 0)
    first, second = crosses(before), crosses(after)
    # The joint is the last cut of the first sheet across (the lowest down), and the first of the second.
    a_at, b_at = (
        (max(p[0] for p in first), min(p[0] for p in second))
        if across
        else (min(p[1] for p in first), max(p[1] for p in second))
    )
    a = sorted((p for p in first if abs(p[along] - a_at) < 0.01), key=lambda p: p[beside])
    b = sorted((p for p in second if abs(p[along] - b_at) < 0.01), key=lambda p: p[beside])
    assert len(a) == len(b) >= 2
    moves = [(p[0] - q[0], p[1] - q[1]) for p, q in zip(a, b, strict=True)]
    assert all(math.dist(moves[0], m) < 0.01 for m in moves)
    return moves[0]


def joined(data, across, down):
    """Holes (x, y, diameter) and straight corners of every sheet, in mm from the first page's lower left corner."""
    pages = pypdf.PdfReader(io.BytesIO(data), strict=True).pages
    assert len(pages) == across * down
    places, holes, corners = {}, [], []
    for k, page in enumerate(pages):
        row, column = divmod(k, across)
        if column:
            base, move = places[row, column - 1], shift(pages[k - 1], page, across=True)
        elif row:
            base, move = places[row - 1, 0], shift(pages[k - across], page, across=False)
        else:
            base, move = (0.0, 0.0), (0.0, 0.0)
        dx, dy = places[row, column] = (base[0] + move[0], base[1] + move[1])
        holes += [(x + dx, y + dy, d) for x, y, d in circles(page) if abs(d - CROSS_MM) > 0.01]
        corners += [
            (x + dx, y + dy)
            for points, curved in paths(page)
            if not curved and len(points) > 3
            for x, y in points
        ]
    return holes, corners
