"""Builders of plates for the tests of the fit: neutral plates and a telescope mount's base."""

from __future__ import annotations

import math

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
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
