"""
The smallest gap between two plates, and how far one ring clears an opening that it passes through.

Distances are between true lines and arcs, in closed form; chords only serve to find which edges are near.
An *edge* is one line or arc of a ring, the *rim* of an opening its ring. Where a ring *sticks out* of an
opening, the worst protrusion is searched on chords, with proof of how far it may be out.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely
from scipy.spatial import cKDTree

from ledger.domain.shape import Contour, Point, arc_of
from ledger.fit.chords import Chords, Edges, chords_of, corners_of, edges_between, edges_of, near_ones
from ledger.fit.overlap import Region, finite, flat_corners
from ledger.fit.protrusion import FINE_MM, farthest_out

TOUCH_MM = 1e-9  # nearer than this is touching: the rounding of the closed forms
_FIND_MM = 0.01  # sagitta of the chords that edges are found by
_PROMISING = 24
_WORTH_BOXES = 40_000  # pairs of chords


@dataclass(frozen=True, slots=True)
class Gap:
    """
    The smallest distance, the two places where it is, and how far it may be out.

    Negative only from `clears`: by how much the ring sticks out at worst, and where.
    """

    distance_mm: float
    at_a: Point
    at_b: Point
    error_mm: float = 0.0

    @property
    def least_mm(self) -> float:
        """The gap that is there for certain."""
        return self.distance_mm - self.error_mm


@dataclass(frozen=True, slots=True)
class _Edge:
    """A line (radius 0) or an arc; `first` and `sweep` are angles in radians, the sweep signed."""

    start: Point
    end: Point
    centre: Point = (0.0, 0.0)
    radius: float = 0.0
    first: float = 0.0
    sweep: float = 0.0

    def nearest(self, p: Point) -> Point:
        """The point of this edge that is nearest to p."""
        if not self.radius:
            foot, along = self.foot(p)
            return self.start if along <= 0 else self.end if along >= 1 else foot
        dx, dy = p[0] - self.centre[0], p[1] - self.centre[1]
        away = math.hypot(dx, dy)
        if away:
            turn = math.atan2(dy, dx) - self.first
            if (turn if self.sweep > 0 else -turn) % (2 * math.pi) <= abs(self.sweep):
                out = self.radius / away
                return (self.centre[0] + out * dx, self.centre[1] + out * dy)
        return min(self.start, self.end, key=lambda q: math.dist(p, q))

    def foot(self, p: Point) -> tuple[Point, float]:
        """The foot of p on the endless line, and its place on the edge: 0 at the start, 1 at the end."""
        (ax, ay), (bx, by) = self.start, self.end
        dx, dy = bx - ax, by - ay
        along = ((p[0] - ax) * dx + (p[1] - ay) * dy) / (dx * dx + dy * dy)
        return (ax + along * dx, ay + along * dy), along


def smallest_gap(a: Region, b: Region) -> Gap:
    """The smallest distance between the material of two plates, 0 where they meet. Raises BadInput."""
    one, two = _flat(a.rings), _flat(b.rings)
    near = _between(one, two, a.chord_error_mm + b.chord_error_mm)
    for start, (edges, _), rings in ((a.outline, two, b.rings), (b.outline, one, a.rings)):
        place = _start(start)
        if near.distance_mm > 0 and _holds(edges.by_ring(len(rings)), place):
            return Gap(0.0, place, place, near.error_mm)
    return near


def clears(inner: Contour, opening: Contour) -> Gap:
    """
    How far a ring stays inside an opening's rim; negative where it sticks out, by how much at worst.

    `at_a` lies on the ring, `at_b` on the rim. Inside, the distance is that of the true arcs.
    Sticking out, it is true for the place given, and the worst place is at most `error_mm` worse.
    """
    one, two = _flat((inner,)), _flat((opening,))
    spent = inner.chord_error_mm + opening.chord_error_mm
    near = _between(one, two, spent)
    if near.distance_mm > 0 and _inside(two[0], _start(inner)):
        return near
    place, slack = farthest_out(inner, opening)
    at_a = _nearest_of(_edges((inner,)), place)
    at_b = _nearest_of(_edges((opening,)), at_a)
    out = 0.0 if _inside(two[0], at_a) else math.dist(at_a, at_b)
    error = spent + slack + 2 * FINE_MM
    return Gap(-out, at_a, at_b, error) if out > TOUCH_MM else Gap(0.0, near.at_a, near.at_b, error)


def reach_to(rings: Iterable[Contour], point: Point) -> tuple[float, Point]:
    """How far a point is from the nearest edge of rings, exact for lines and arcs, and where that is."""
    place = _nearest_of(_edges(rings), point)
    return math.dist(place, point), place


@lru_cache(maxsize=16)  # a plate is held against several others, at its worst and as drawn
def _flat(rings: tuple[Contour, ...]) -> tuple[Edges, Chords]:
    """The edges of rings, and the chords that they are found by. Raises BadInput for a ring that is in doubt."""
    edges = edges_between([finite(corners_of(ring)) for ring in rings])
    chords = chords_of(edges, _FIND_MM)
    ends = np.searchsorted(edges.ring[chords.edge], np.arange(1, len(rings)))
    for corners in np.split(chords.start, ends):
        flat_corners(corners)
    return edges, chords


def _between(ours: tuple[Edges, Chords], theirs: tuple[Edges, Chords], error_mm: float) -> Gap:
    """The smallest distance between two sets of rings, exact, among edges whose chords are near enough."""
    (e, one), (f, two) = ours, theirs
    if len(one.edge) * len(two.edge) > _WORTH_BOXES:
        one, two = near_ones(one, two, 4 * _FIND_MM)
    lines, others = _lines(one), _lines(two)
    tree = shapely.STRtree(others)
    reach = (
        _upper(one, two, lines, others, tree) + 4 * _FIND_MM
    )  # each chord is within one sagitta of its arc
    found = tree.query(lines, predicate="dwithin", distance=reach)
    apart = shapely.distance(lines[found[0]], others[found[1]])
    off = one.off_mm[found[0]] + two.off_mm[found[1]] + TOUCH_MM
    found = found[:, apart - off <= float((apart + off).min())]
    pairs = {(int(one.edge[i]), int(two.edge[j])) for i, j in found.T}
    best = Gap(math.inf, (0.0, 0.0), (0.0, 0.0))
    made: tuple[dict[int, _Edge], dict[int, _Edge]] = ({}, {})
    for i, j in sorted(pairs):
        ours_, theirs_ = made[0].setdefault(i, _edge(e, i)), made[1].setdefault(j, _edge(f, j))
        for p, q in _near_pairs(ours_, theirs_):
            if math.dist(p, q) < best.distance_mm:
                best = Gap(math.dist(p, q), p, q)
    distance = best.distance_mm if best.distance_mm > TOUCH_MM else 0.0
    return Gap(distance, best.at_a, best.at_b, error_mm)


def _upper(
    one: Chords,
    two: Chords,
    lines: npt.NDArray[np.object_],
    others: npt.NDArray[np.object_],
    tree: shapely.STRtree,
) -> float:
    """A distance that is there for certain, and seldom much more than the least: from chords that promise most."""
    ends = cKDTree(np.column_stack([two.start.real, two.start.imag]))
    points = np.column_stack([one.start.real, one.start.imag])
    some = np.unique(np.linspace(0, len(points) - 1, _PROMISING).astype(int))
    bound = float(np.min(ends.query(points[some])[0]))
    far = np.asarray(ends.query(points, distance_upper_bound=bound * (1 + 1e-9) + TOUCH_MM)[0])
    near = np.argsort(far, kind="stable")[:_PROMISING]
    some = np.unique(np.concatenate([near, (near - 1) % len(lines), _long(one, float(far.min()))]))
    _, first = tree.query_nearest(lines[some], return_distance=True, all_matches=False)
    least = float(np.min(first))
    theirs = _long(two, least)
    if not len(theirs):
        return least
    _, second = shapely.STRtree(lines).query_nearest(others[theirs], return_distance=True, all_matches=False)
    return min(least, float(np.min(second)))


def _long(chords: Chords, apart_mm: float) -> npt.NDArray[np.intp]:
    """The longest chords, of those so long that their ends tell little of how near they come."""
    length = np.abs(chords.end - chords.start)
    longest = np.argsort(-length, kind="stable")[:_PROMISING]
    return longest[length[longest] > apart_mm / 4]


def _lines(chords: Chords) -> npt.NDArray[np.object_]:
    ends = np.stack([chords.start, chords.end], axis=1)
    return np.asarray(shapely.linestrings(np.stack([ends.real, ends.imag], axis=2)), dtype=object)


def _edge(edges: Edges, k: int) -> _Edge:
    a, b, bulge = complex(edges.start[k]), complex(edges.end[k]), float(edges.bulge[k])
    start, end = (a.real, a.imag), (b.real, b.imag)
    return _Edge(start, end, *arc_of(start, end, bulge)) if bulge else _Edge(start, end)


def _near_pairs(e: _Edge, f: _Edge) -> Iterator[tuple[Point, Point]]:
    """
    Pairs of points, one on each edge, among them the nearest.

    The nearest pair is at an end, a crossing, or stationary: on the line through both centres, or on the
    perpendicular from a centre. Each such place is brought onto both edges, so no pair is ever off them.
    """
    for place in (e.start, e.end, f.start, f.end, *_stationary(e, f)):
        on_f = f.nearest(e.nearest(place))
        yield e.nearest(on_f), on_f


def _stationary(e: _Edge, f: _Edge) -> list[Point]:
    """Where the two endless curves cross, and where they run parallel nearest to each other."""
    if e.radius and f.radius:
        return _two_circles(e, f)
    if e.radius or f.radius:
        return _line_and_circle(*((f, e) if e.radius else (e, f)))
    (ax, ay), (bx, by), (cx, cy) = e.start, e.end, f.start
    ux, uy, vx, vy = bx - ax, by - ay, f.end[0] - cx, f.end[1] - cy
    cross = ux * vy - uy * vx
    if cross == 0:
        return []
    along = ((cx - ax) * vy - (cy - ay) * vx) / cross
    return [(ax + along * ux, ay + along * uy)]


def _line_and_circle(line: _Edge, arc: _Edge) -> list[Point]:
    """Both crossings, or the foot of the centre where the line passes by: between crossings it is no minimum."""
    foot, _ = line.foot(arc.centre)
    half = math.sqrt(max(0.0, arc.radius**2 - math.dist(foot, arc.centre) ** 2))
    length = math.dist(line.start, line.end)
    ux, uy = (line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length
    return [(foot[0] + side * half * ux, foot[1] + side * half * uy) for side in (-1, 1)]


def _two_circles(e: _Edge, f: _Edge) -> list[Point]:
    """Both crossings, or a place on the line of centres on the side where the circles are nearest."""
    apart = math.dist(e.centre, f.centre)
    if apart == 0:
        return []
    ux, uy = (f.centre[0] - e.centre[0]) / apart, (f.centre[1] - e.centre[1]) / apart
    along = (apart**2 + e.radius**2 - f.radius**2) / (2 * apart)
    half = math.sqrt(max(0.0, e.radius**2 - along**2))
    x, y = e.centre[0] + along * ux, e.centre[1] + along * uy
    return [(x - side * half * uy, y + side * half * ux) for side in (-1, 1)]


def _edges(rings: Iterable[Contour]) -> list[_Edge]:
    found = edges_of(rings)
    return [_edge(found, k) for k in range(len(found.bulge))]


def _nearest_of(edges: list[_Edge], p: Point) -> Point:
    return min((e.nearest(p) for e in edges), key=lambda q: math.dist(p, q))


def _start(ring: Contour) -> Point:
    x, y, _ = ring.vertices[0]
    return (x, y)


def _holds(rings: list[Edges], p: Point) -> bool:
    """Whether a point that is on no ring lies in the material: inside the first and no other."""
    outline, *cutouts = rings
    return _inside(outline, p) and not any(_inside(c, p) for c in cutouts)


def inside(ring: Contour, p: Point) -> bool:
    """Whether a point off the ring lies inside it."""
    return _inside(_flat((ring,))[0], p)


def _inside(found: Edges, p: Point) -> bool:
    """Whether a point off the ring lies inside: a ray to the right crosses it an odd number of times."""
    middle = (found.start.imag + found.end.imag) / 2
    far = np.abs(found.end - found.start) * (1 + np.abs(found.bulge))
    level = np.flatnonzero(np.abs(middle - p[1]) <= far)  # no other edge can reach this height
    return sum(x > p[0] for k in level for x in _at_height(_edge(found, int(k)), p[1])) % 2 == 1


def _at_height(e: _Edge, y: float) -> Iterator[float]:
    """Where an edge crosses a height, each rising or falling stretch counted without its upper end."""
    if not e.radius:
        if (e.start[1] > y) != (e.end[1] > y):
            yield e.start[0] + (y - e.start[1]) / (e.end[1] - e.start[1]) * (e.end[0] - e.start[0])
        return
    sign = math.copysign(1.0, e.sweep)
    stops = [(0.0, e.start[1]), (abs(e.sweep), e.end[1])]
    for pole in (1, -1):
        turn = sign * (pole * math.pi / 2 - e.first) % (2 * math.pi)
        if turn < abs(e.sweep):
            stops.append((turn, e.centre[1] + pole * e.radius))
    stops.sort()
    for (turn, low), (next_turn, high) in itertools.pairwise(stops):
        if (low > y) != (high > y):
            half = math.sqrt(max(0.0, e.radius**2 - (y - e.centre[1]) ** 2))
            yield e.centre[0] + math.copysign(half, math.cos(e.first + sign * (turn + next_turn) / 2))
