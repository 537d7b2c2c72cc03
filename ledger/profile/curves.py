"""
Arcs, ellipses and splines as vertices in mm, seen through a map of the plane.

Arcs stay arcs: one of more than half a turn is cut in two, so that no bulge exceeds 1. Ellipses and splines
become points so close that no chord is further than the *sagitta* from its curve. The number of points comes
from a bound on the second derivative (|error| <= |r''|·dt²/8), not from probing, so no wiggle is missed.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from ledger.domain.shape import Point, Vertex
from ledger.profile.affine import Affine

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SAGITTA_MM = 0.001
MOST_POINTS = 200_000
_ROUND = 1e-6
_FULL = 2 * math.pi


class TooFine(Exception):
    """An entity that would need more points than are read."""


def arc_vertices(centre: Point, radius: float, start: float, sweep: float) -> list[Vertex]:
    """An open arc; angles in radians, the sweep signed. The last vertex is its end, with bulge 0."""
    halves = 2 if abs(sweep) > math.pi * (1 + 1e-12) else 1
    bulge = math.tan(sweep / halves / 4)
    steps = [start + sweep * k / halves for k in range(halves + 1)]
    points = [(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in steps]
    return [(x, y, bulge if k < halves else 0.0) for k, (x, y) in enumerate(points)]


def circle_vertices(centre: Point, radius: float) -> list[Vertex]:
    """A closed circle as two half turns, counter-clockwise."""
    x, y = centre
    return [(x - radius, y, 1.0), (x + radius, y, 1.0)]


def round_axes(u: Point, v: Point) -> float | None:
    """The radius, if two half axes of an ellipse are equal and square to each other; else None."""
    first, second = math.hypot(*u), math.hypot(*v)
    largest = max(first, second)
    if not largest > 0:
        return None
    askew = abs(u[0] * v[0] + u[1] * v[1]) / largest
    if max(abs(first - second), askew) > _ROUND * largest:
        return None
    return (first + second) / 2


def ellipse_points(centre: Point, u: Point, v: Point, *, start: float, sweep: float) -> list[Vertex]:
    """
    Points centre + u·cos t + v·sin t from `start` over `sweep` radians, both ends included.

    `u` and `v` need not be square to each other: a block scaled unequally makes them so.
    """
    longest = float(np.linalg.norm(np.array([u, v]), 2))
    pieces = _pieces(abs(sweep) * math.sqrt(longest / (8 * SAGITTA_MM)))
    t = start + sweep * np.arange(pieces + 1) / pieces
    xs = centre[0] + u[0] * np.cos(t) + v[0] * np.sin(t)
    ys = centre[1] + u[1] * np.cos(t) + v[1] * np.sin(t)
    return [(float(x), float(y), 0.0) for x, y in zip(xs, ys, strict=True)]


def spline_points(
    control: list[Point], *, degree: int, knots: list[float], weights: list[float], to: Affine
) -> list[Vertex]:
    """A B-spline over its whole knot range, both ends included; without weights all are 1."""
    w = np.array(weights or [1.0] * len(control))
    xy = np.array([to.place(x, y) for x, y in control])
    spans = _bezier(np.column_stack([xy * w[:, None], w]), np.array(knots), degree)
    vertices: list[Vertex] = []
    for bezier in spans:
        points = _flat(bezier, degree)
        vertices.extend((float(x), float(y), 0.0) for x, y in points[:-1])
        if len(vertices) > MOST_POINTS:
            raise TooFine(f"it needs more than {MOST_POINTS} points")
    x, y = spans[-1, -1, :2] / spans[-1, -1, 2]
    return [*vertices, (float(x), float(y), 0.0)]


def _bezier(homogeneous: Floats, knots: Floats, degree: int) -> Floats:
    """Bézier points of every knot span that has length, by blossoming (de Boor with one argument a step)."""
    k = np.arange(degree, len(knots) - degree - 1)
    k = k[knots[k + 1] > knots[k]]
    out = np.empty((len(k), degree + 1, 3))
    for column in range(degree + 1):
        d = [homogeneous[k - degree + j] for j in range(degree + 1)]
        for r in range(1, degree + 1):
            t = knots[k + 1] if r <= column else knots[k]
            for j in range(degree, r - 1, -1):
                low, high = knots[j + k - degree], knots[j + 1 + k - r]
                share = ((t - low) / (high - low))[:, None]
                d[j] = (1 - share) * d[j - 1] + share * d[j]
        out[:, column] = d[degree]
    return out


def _flat(bezier: Floats, degree: int) -> Floats:
    """Points of one rational Bézier piece. Bounds after shifting it to its first point, so that they are tight."""
    w = bezier[:, 2]
    control = bezier[:, :2] / w[:, None]
    shifted = (control - control[0]) * w[:, None]
    reach = float(np.max(np.linalg.norm(control - control[0], axis=1)))
    if degree == 1:
        return control
    bend = degree * (degree - 1) * _longest(np.diff(shifted, 2, axis=0))
    if float(np.ptp(w)) > 0:
        w1 = degree * float(np.max(np.abs(np.diff(w))))
        w2 = degree * (degree - 1) * float(np.max(np.abs(np.diff(w, 2))))
        least = float(np.min(w))
        speed = (degree * _longest(np.diff(shifted, axis=0)) + w1 * reach) / least
        bend = (bend + 2 * w1 * speed + w2 * reach) / least
    else:
        bend /= float(w[0])
    pieces = _pieces(math.sqrt(bend / (8 * SAGITTA_MM)))
    t = (np.arange(pieces + 1) / pieces)[:, None]
    values = [bezier[i][None, :] for i in range(degree + 1)]
    for _ in range(degree):
        values = [(1 - t) * a + t * b for a, b in pairwise(values)]
    points: Floats = values[0][:, :2] / values[0][:, 2:]
    return points


def _longest(vectors: Floats) -> float:
    return float(np.max(np.linalg.norm(vectors, axis=1)))


def _pieces(expected: float) -> int:
    if not expected <= MOST_POINTS:
        raise TooFine(f"it needs more than {MOST_POINTS} points")
    return max(1, math.ceil(expected))


def full_turn(sweep: float) -> bool:
    """Whether an angle is a whole turn, but for noise in the file."""
    return abs(abs(sweep) - _FULL) <= _ROUND
