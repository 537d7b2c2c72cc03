"""Builders of plates for the tests of the fit: neutral plates and a telescope mount's base."""

from __future__ import annotations

import math

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole
from ledger.fit.pattern import PatternCase, Ply, fit

MOUNT_BASE = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]
SQUARE = [(0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0)]


def holes(points, diameter=13.5):
    return tuple(Hole(f"H{k}", ((float(x), float(y)),), diameter) for k, (x, y) in enumerate(points, 1))


def slot(label, x, y, half, diameter=13.5):
    return Hole(label, ((x - half[0], y - half[1]), (x + half[0], y + half[1])), diameter)


def laid(points, angle=0.0, x=0.0, y=0.0, turned_over=False):
    return [Pose(angle, x, y, turned_over).place(p) for p in points]


def circle(n, diameter):
    turns = [2 * math.pi * k / n for k in range(n)]
    return [(diameter / 2 * math.cos(t), diameter / 2 * math.sin(t)) for t in turns]


def ply(points, diameter=13.5, **fields):
    return Ply(holes(points, diameter), **fields)


def compare(a, b, bolt=12.0, **fields):
    a = a if isinstance(a, Ply) else ply(a)
    b = b if isinstance(b, Ply) else ply(b)
    fields.setdefault("largest_fastener_mm", bolt)
    return fit(PatternCase(a, b, bolt, **fields))


def box(points, edge=15.0):
    """The outline of a rectangle around holes."""
    x, y = zip(*points, strict=True)
    low, high = (min(x) - edge, min(y) - edge), (max(x) + edge, max(y) + edge)
    return Contour(((*low, 0.0), (high[0], low[1], 0.0), (*high, 0.0), (low[0], high[1], 0.0)))


def spread(random, n, size=400.0, apart=20.0):
    """So many places of holes in a square, none nearer to another than so."""
    points = []
    while len(points) < n:
        p = tuple(random.uniform(0, size, 2).tolist())
        if all(math.dist(p, q) > apart for q in points):
            points.append(p)
    return points


def how_many(random):
    """4 to 8 holes in most cases, 12 to 40 in a few."""
    few = random.random() < 0.93
    return int(random.integers(4, 9)) if few else int(random.choice([12, 20, 40], p=[0.7, 0.2, 0.1]))


def off_by(random, points, most):
    """Each hole off its place by as much at most, any way."""
    by = most * np.sqrt(random.random(len(points))) * np.exp(2j * np.pi * random.random(len(points)))
    return [(x + d.real, y + d.imag) for (x, y), d in zip(points, by.tolist(), strict=True)]


def meet(pose, a, b, take_up):
    """Whether at this pose every hole of the plate with fewer meets one of the other, each its own."""
    placed, on = (np.array(points) @ [1, 1j] for points in (laid_by(pose, a), b))
    apart = np.abs(placed[:, None] - on[None, :]) <= take_up + 2e-6
    return int((maximum_bipartite_matching(csr_array(apart)) >= 0).sum()) == min(len(a), len(b))


def laid_by(pose, points):
    return [pose.place(p) for p in points]
