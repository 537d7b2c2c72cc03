"""
What is concluded of two plates does not depend on how their drawings are written.

Moved, turned, mirrored, in another unit or version, entities shuffled, holes as arcs, bulges, splines or facets, in
blocks, on other layers, the files swapped: the same holes are read, and the fit concludes the same. A *plan* is a plate
as it is meant; a *drawing* is one of the many files that mean it.
"""

from __future__ import annotations

import math

import numpy as np
from many_cases import hold, many_cases
from profile_drawings import arc, block, circle, closed, header, insert, polygon, raw, read, tag

from ledger.domain.shape import Hole
from ledger.fit.pattern import PatternCase, Ply, fit

BOLT = 8.0
UNITS = [(1.0, 4, "mm"), (25.4, 1, "in"), (10.0, 5, "cm"), (1000.0, 6, "m")]
VERSIONS = ["AC1009", "AC1015", "AC1018", "AC1021", "AC1024", "AC1027", "AC1032"]
FACETS = 32


def plan(random):
    """Holes of 9 to 11 mm at least 25 mm apart on a plate of 300 x 200 mm: x, y, radius."""
    holes = []
    while len(holes) < 4 + int(random.integers(3)):
        x, y = random.uniform(20, 280), random.uniform(20, 180)
        if all(math.dist((x, y), h[:2]) > 25 for h in holes):
            holes.append((float(x), float(y), float(random.choice([4.5, 5.0, 5.5]))))
    return holes


def counterpart(random, holes):
    """The holes of the other plate: off by what they take up, or one by more, or one missing."""
    kind = int(random.integers(3))
    b = [(x + float(random.uniform(-0.3, 0.3)), y + float(random.uniform(-0.3, 0.3)), r) for x, y, r in holes]
    if kind == 1:
        b[0] = (b[0][0] + float(random.uniform(4, 9)), b[0][1], b[0][2])
    return b[1:] if kind == 2 else b


def bulged(version, at, r, layer):
    """A polyline of two half circles; the oldest version has only the old kind."""
    ends = [(at[0] - r, at[1]), (at[0] + r, at[1])]
    if version == "AC1009":
        vertices = [tag(0, "VERTEX", 8, layer, 10, x, 20, y, 42, 1) for x, y in ends]
        head = tag(0, "POLYLINE", 8, layer, 66, 1, 10, 0, 20, 0, 70, 1)
        return "".join((head, *vertices, tag(0, "SEQEND", 8, layer)))
    points = [v for x, y in ends for v in (10, x, 20, y, 42, 1)]
    return tag(0, "LWPOLYLINE", 8, layer, 100, "AcDbEntity", 100, "AcDbPolyline", 90, 2, 70, 1, *points)


def drawn_hole(random, version, at, r, layer):
    """A circle in one of the ways in which programs write it; seen from below its x is negated."""
    x, y = at
    below = tag(0, "CIRCLE", 8, layer, 10, -x, 20, y, 40, r, 210, 0, 220, 0, 230, -1)
    ways = [
        [circle(x, y, r, layer=layer)],
        [arc(x, y, r, 20, 200, layer=layer), arc(x, y, r, 200, 20, layer=layer)],
        [arc(x, y, r, start, start + 90, layer=layer) for start in (0, 90, 180, 270)],
        [bulged(version, at, r, layer)],
        [below],
        [closed(polygon(x, y, r, FACETS, 0.1), layer)],
    ]
    return ways[int(random.integers(len(ways)))]


def drawing(random, holes):
    """A file that means these holes, how its numbers were made, and the places of the holes as they then are, in mm."""
    angle, mirror = random.uniform(-math.pi, math.pi), float(random.choice([-1.0, 1.0]))
    shift = complex(*random.uniform(-500, 500, 2))
    factor, code, name = UNITS[int(random.integers(len(UNITS)))]
    layer, version = str(random.choice(["0", "CUT", "Holes", "7"])), str(random.choice(VERSIONS))

    def to(x, y):
        z = complex(mirror * x, y) * np.exp(1j * angle) + shift
        return z.real / factor, z.imag / factor

    corners = [to(*p) for p in ((0, 0), (300, 0), (300, 200), (0, 200))]
    parts = [closed(corners, layer)]
    for x, y, r in holes:
        parts += drawn_hole(random, version, to(x, y), r / factor, layer)
    order = random.permutation(len(parts))
    parts = [parts[k] for k in order]
    head = header(ACADVER=version, INSUNITS=code, MEASUREMENT=0 if name == "in" else 1)
    if random.random() < 0.25:
        data = raw(insert("PLATE"), head=head, blocks=block("PLATE", *parts))
    else:
        data = raw(*parts, head=head)
    places = [tuple(factor * v for v in to(x, y)) for x, y, _ in holes]
    return data, name, places, mirror


def concluded(a, b, turned_over):
    found = fit(PatternCase(Ply(a), Ply(b), BOLT, BOLT, turned_over=turned_over))
    return found.verdict, len(found.pairs), len(found.wrong), found.margin_mm


def near(one, other):
    """The same, but for what facets take from a hole."""
    if one[3] is None or other[3] is None:
        return one == other
    return one[:3] == other[:3] and abs(one[3] - other[3]) < 0.06


def any_drawing(seed):
    """Both plates in any drawing: the holes that were meant, and what is concluded of the plan, in either order."""
    random = np.random.default_rng([seed, 21])
    planned = plan(random)
    meant = [planned, counterpart(random, planned)]
    sides, mirrors = [], []
    for holes in meant:
        data, unit, places, mirror = drawing(random, holes)
        profile = read(data, unit=unit)
        assert not [f for f in profile.findings if f.severity == "stop"]
        assert len(profile.holes) == len(holes)
        for (x, y), (_, _, r) in zip(places, holes, strict=True):
            hole = min(profile.holes, key=lambda h: math.dist(h.centre, (x, y)))
            assert math.dist(hole.centre, (x, y)) < 0.002
            assert 2 * r * math.cos(math.pi / FACETS) - 1e-4 <= hole.diameter_mm <= 2 * r + 1e-4
        sides.append(profile.holes)
        mirrors.append(mirror)
    plain = [tuple(Hole(f"H{k}", ((x, y),), 2 * r) for k, (x, y, r) in enumerate(h, 1)) for h in meant]
    over = "yes" if mirrors[0] != mirrors[1] else "no"
    if seed % 2:
        sides, plain = sides[::-1], plain[::-1]
    found = concluded(*sides, over)
    assert near(found, concluded(*plain, "no")), f"{found}"
    return found[0]


@many_cases(150)  # two files written, read and fitted: 40 ms
def test_what_is_concluded_is_the_same_of_any_drawing(seeds):
    hold(any_drawing, seeds)
