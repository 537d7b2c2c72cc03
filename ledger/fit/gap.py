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
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from ledger.domain.shape import Contour, Point, arc_of
from ledger.fit.overlap import Region, flat_ring, straight_ends

TOUCH_MM = 1e-9  # nearer than this is touching: the rounding of the closed forms
_FIND_MM = 0.01  # sagitta of the chords that edges are found by
_FINE_MM = 0.0005  # sagitta of the chords that a protrusion is searched on
_SEARCH_MM = 5e-4  # how far the search may stop from the worst protrusion
_MOST_PIECES = 200_000

_Floats = npt.NDArray[np.float64]


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
    for ring in (*a.rings, *b.rings):
        flat_ring(ring, _FIND_MM)
    near = _between(_edges(a.rings), _edges(b.rings), a.chord_error_mm + b.chord_error_mm)
    for one, other in ((a, b), (b, a)):
        place = _start(one.outline)
        if near.distance_mm > 0 and _holds(other, place):
            return Gap(0.0, place, place, near.error_mm)
    return near


def clears(inner: Contour, opening: Contour) -> Gap:
    """
    How far a ring stays inside an opening's rim; negative where it sticks out, by how much at worst.

    `at_a` lies on the ring, `at_b` on the rim. Inside, the distance is that of the true arcs.
    Sticking out, it is true for the place given, and the worst place is at most `error_mm` worse.
    """
    flat_ring(inner, _FIND_MM)
    flat_ring(opening, _FIND_MM)
    spent = inner.chord_error_mm + opening.chord_error_mm
    near = _between(_edges((inner,)), _edges((opening,)), spent)
    if near.distance_mm > 0 and _inside(opening, _start(inner)):
        return near
    place, slack = _farthest_out(inner, opening)
    at_a = _nearest_of(_edges((inner,)), place)
    at_b = _nearest_of(_edges((opening,)), at_a)
    out = 0.0 if _inside(opening, at_a) else math.dist(at_a, at_b)
    error = spent + slack + 2 * _FINE_MM
    return Gap(-out, at_a, at_b, error) if out > TOUCH_MM else Gap(0.0, near.at_a, near.at_b, error)


def reach_to(rings: Iterable[Contour], point: Point) -> tuple[float, Point]:
    """How far a point is from the nearest edge of rings, exact for lines and arcs, and where that is."""
    place = _nearest_of(_edges(rings), point)
    return math.dist(place, point), place


def _between(ours: list[_Edge], theirs: list[_Edge], error_mm: float) -> Gap:
    """The smallest distance between two sets of edges, exact, among pairs whose chords are near enough."""
    lines, tree = _chords(ours), shapely.STRtree(_chords(theirs))
    _, found = tree.query_nearest(lines, return_distance=True, all_matches=False)
    reach = float(found.min()) + 4 * _FIND_MM  # each chord is within one sagitta of its arc
    best = Gap(math.inf, (0.0, 0.0), (0.0, 0.0))
    for i, j in tree.query(lines, predicate="dwithin", distance=reach).T:
        for p, q in _near_pairs(ours[i], theirs[j]):
            if math.dist(p, q) < best.distance_mm:
                best = Gap(math.dist(p, q), p, q)
    distance = best.distance_mm if best.distance_mm > TOUCH_MM else 0.0
    return Gap(distance, best.at_a, best.at_b, error_mm)


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
    made = []
    for ring in rings:
        for a, b, bulge in straight_ends(ring).edges():
            made.append(_Edge(a, b, *arc_of(a, b, bulge)) if bulge else _Edge(a, b))
    return made


def _chords(edges: list[_Edge]) -> npt.NDArray[np.object_]:
    lines = []
    for e in edges:
        bulge = math.tan(e.sweep / 4)
        lines.append(shapely.LineString(Contour(((*e.start, bulge), (*e.end, 0.0))).flattened(_FIND_MM)))
    return np.array(lines, dtype=object)


def _nearest_of(edges: list[_Edge], p: Point) -> Point:
    return min((e.nearest(p) for e in edges), key=lambda q: math.dist(p, q))


def _start(ring: Contour) -> Point:
    x, y, _ = ring.vertices[0]
    return (x, y)


def _holds(region: Region, p: Point) -> bool:
    """Whether a point that is on no ring lies in the material."""
    return _inside(region.outline, p) and not any(_inside(c, p) for c in region.cutouts)


def _inside(ring: Contour, p: Point) -> bool:
    """Whether a point off the ring lies inside: a ray to the right crosses it an odd number of times."""
    return sum(x > p[0] for e in _edges((ring,)) for x in _at_height(e, p[1])) % 2 == 1


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


def _farthest_out(inner: Contour, opening: Contour) -> tuple[Point, float]:
    """
    The place of the ring that is farthest outside the opening, and by how much another may be farther.

    Pieces of the ring are halved until none can hold a worse place. Two bounds hold on a piece: a distance
    changes no faster than the place, and the distance to one straight edge is largest at an end.
    """
    hole = flat_ring(opening, _FINE_MM)
    edge = hole.exterior
    shapely.prepare([hole, edge])
    corners = shapely.get_coordinates(hole)
    rim = np.asarray(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)), dtype=object)
    tree = shapely.STRtree(rim)
    ring = shapely.get_coordinates(flat_ring(inner, _FINE_MM))
    p, q, out = ring[:-1], ring[1:], _signed(ring, hole, edge)
    at_p, at_q = out[:-1], out[1:]
    place, worst, slack = ring[out.argmax()], out.max(), _SEARCH_MM
    while len(p):
        middle = (p + q) / 2
        at_middle = _signed(middle, hole, edge)
        if at_middle.max() > worst:
            place, worst = middle[at_middle.argmax()], at_middle.max()
        beside = rim[tree.nearest(shapely.points(middle))]
        flat = np.maximum(_distances(p, beside), _distances(q, beside))
        bound = np.minimum(flat, (at_p + at_q + np.hypot(*(q - p).T)) / 2)
        open_ = bound > worst + _SEARCH_MM
        if np.count_nonzero(open_) > _MOST_PIECES:
            slack = float(bound.max() - worst)
            break
        p, q = np.concatenate([p[open_], middle[open_]]), np.concatenate([middle[open_], q[open_]])
        at_p = np.concatenate([at_p[open_], at_middle[open_]])
        at_q = np.concatenate([at_middle[open_], at_q[open_]])
    return (float(place[0]), float(place[1])), slack


def _signed(points: _Floats, hole: shapely.Polygon, edge: shapely.LinearRing) -> _Floats:
    """How far points lie outside a hole; negative inside, by the distance to its edge."""
    return np.where(shapely.contains_properly(hole, shapely.points(points)), -1.0, 1.0) * _distances(
        points, edge
    )


def _distances(points: _Floats, to: Any) -> _Floats:
    return np.asarray(shapely.distance(shapely.points(points), to), dtype=np.float64)
