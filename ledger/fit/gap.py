"""
The smallest gap between two plates, and how far one ring clears an opening that it passes through.

Distances are between true lines and arcs, in closed form; chords only serve to find which edges are near.
An *edge* is one line or arc of a ring, the *rim* of an opening its ring. Where a ring *sticks out* of an
opening, the worst protrusion is searched on chords, with proof of how far it may be out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely

from ledger.domain.shape import Contour, Point
from ledger.fit.chords import Chords, Edges, chords_of, corners_of, edges_between, edges_of, near_ones
from ledger.fit.edge import Edge, edge_of, is_inside, near_pairs
from ledger.fit.overlap import Region, finite, flat_corners
from ledger.fit.protrusion import FINE_MM, farthest_out
from ledger.fit.rims import rims_of

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


def smallest_gap(a: Region, b: Region) -> Gap:
    """
    The smallest distance between the material of two plates, 0 where they meet. Raises BadInput.

    Cut-outs may hold, cross or touch each other and the outline: only where material ends is measured to. inf where
    nothing is left of one.
    """
    one, two = _rims(a.rings), _rims(b.rings)
    if not len(one[1].edge) or not len(two[1].edge):
        return Gap(math.inf, (0.0, 0.0), (0.0, 0.0))
    near = _between(one, two, a.chord_error_mm + b.chord_error_mm)
    for (rims, _), rings in ((one, b.rings), (two, a.rings)):
        place = (float(rims.start[0].real), float(rims.start[0].imag))
        if near.distance_mm > 0 and _holds(_flat(rings)[0].by_ring(len(rings)), place):
            return Gap(0.0, place, place, near.error_mm)
    return near


@lru_cache(maxsize=16)
def _rims(rings: tuple[Contour, ...]) -> tuple[Edges, Chords]:
    """The edges at which material ends, and their chords. Raises BadInput for a ring that is in doubt."""
    edges, chords = _flat(rings)
    rims = rims_of(edges, len(rings), chords)
    return (edges, chords) if rims is edges else (rims, chords_of(rims, _FIND_MM))


def clears(inner: Contour, opening: Contour) -> Gap:
    """
    How far a ring stays inside an opening's rim; negative where it sticks out, by how much at worst.

    `at_a` lies on the ring, `at_b` on the rim. Inside, the distance is that of the true arcs.
    Sticking out, it is true for the place given, and the worst place is at most `error_mm` worse.
    """
    one, two = _flat((inner,)), _flat((opening,))
    spent = inner.chord_error_mm + opening.chord_error_mm
    near = _between(one, two, spent)
    if near.distance_mm > 0 and is_inside(two[0], _start(inner)):
        return near
    place, slack = farthest_out(inner, opening)
    at_a = _nearest_of(_edges((inner,)), place)
    at_b = _nearest_of(_edges((opening,)), at_a)
    out = 0.0 if is_inside(two[0], at_a) else math.dist(at_a, at_b)
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
    made: tuple[dict[int, Edge], dict[int, Edge]] = ({}, {})
    for i, j in sorted(pairs):
        ours_, theirs_ = made[0].setdefault(i, edge_of(e, i)), made[1].setdefault(j, edge_of(f, j))
        for p, q in near_pairs(ours_, theirs_):
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
    from scipy.spatial import cKDTree

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


def _edges(rings: Iterable[Contour]) -> list[Edge]:
    found = edges_of(rings)
    return [edge_of(found, k) for k in range(len(found.bulge))]


def _nearest_of(edges: list[Edge], p: Point) -> Point:
    return min((e.nearest(p) for e in edges), key=lambda q: math.dist(p, q))


def _start(ring: Contour) -> Point:
    x, y, _ = ring.vertices[0]
    return (x, y)


def _holds(rings: list[Edges], p: Point) -> bool:
    """Whether a point that is on no ring lies in the material: inside the first and no other."""
    outline, *cutouts = rings
    return is_inside(outline, p) and not any(is_inside(c, p) for c in cutouts)


def inside(ring: Contour, p: Point) -> bool:
    """Whether a point off the ring lies inside it."""
    return is_inside(_edges_of(ring), p)


@lru_cache(maxsize=256)  # every seat and wrench is held against every ring of what lies on the face
def _edges_of(ring: Contour) -> Edges:
    return _flat((ring,))[0]
