"""
One line or arc of a ring in closed form: what of it is nearest to a point or to another, and where rays cross it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ledger.domain.shape import Point, arc_of
from ledger.fit.chords import Edges


@dataclass(frozen=True, slots=True)
class Edge:
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


def edge_of(edges: Edges, k: int) -> Edge:
    a, b, bulge = complex(edges.start[k]), complex(edges.end[k]), float(edges.bulge[k])
    start, end = (a.real, a.imag), (b.real, b.imag)
    return Edge(start, end, *arc_of(start, end, bulge)) if bulge else Edge(start, end)


def near_pairs(e: Edge, f: Edge) -> Iterator[tuple[Point, Point]]:
    """
    Pairs of points, one on each edge, among them the nearest.

    The nearest pair is at an end, a crossing, or stationary: on the line through both centres, or on the
    perpendicular from a centre. Each such place is brought onto both edges, so no pair is ever off them.
    """
    for place in (e.start, e.end, f.start, f.end, *stationary(e, f)):
        on_f = f.nearest(e.nearest(place))
        yield e.nearest(on_f), on_f


def stationary(e: Edge, f: Edge) -> list[Point]:
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


def _line_and_circle(line: Edge, arc: Edge) -> list[Point]:
    """Both crossings, or the foot of the centre where the line passes by: between crossings it is no minimum."""
    foot, _ = line.foot(arc.centre)
    half = math.sqrt(max(0.0, arc.radius**2 - math.dist(foot, arc.centre) ** 2))
    length = math.dist(line.start, line.end)
    ux, uy = (line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length
    return [(foot[0] + side * half * ux, foot[1] + side * half * uy) for side in (-1, 1)]


def _two_circles(e: Edge, f: Edge) -> list[Point]:
    """Both crossings, or a place on the line of centres on the side where the circles are nearest."""
    apart = math.dist(e.centre, f.centre)
    if apart == 0:
        return []
    ux, uy = (f.centre[0] - e.centre[0]) / apart, (f.centre[1] - e.centre[1]) / apart
    along = (apart**2 + e.radius**2 - f.radius**2) / (2 * apart)
    half = math.sqrt(max(0.0, e.radius**2 - along**2))
    x, y = e.centre[0] + along * ux, e.centre[1] + along * uy
    return [(x - side * half * uy, y + side * half * ux) for side in (-1, 1)]


def is_inside(found: Edges, p: Point) -> bool:
    """Whether a point off the ring lies inside: a ray to the right crosses it an odd number of times."""
    middle = (found.start.imag + found.end.imag) / 2
    far = np.abs(found.end - found.start) * (1 + np.abs(found.bulge))
    level = np.flatnonzero(np.abs(middle - p[1]) <= far)  # no other edge can reach this height
    return sum(x > p[0] for k in level for x in _at_height(edge_of(found, int(k)), p[1])) % 2 == 1


def _at_height(e: Edge, y: float) -> Iterator[float]:
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
