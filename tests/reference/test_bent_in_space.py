"""
Bent parts in space against closed forms: holes on either side of a bend, as published for an L and a Z.

L bracket, t 3, inside R 3, K 0.44: holes 30 and 25 mm from the tangents, 40 mm apart along the bend. Z, t 2, R 3, K
0.42, web 14 between the tangents, holes 20 mm from the tangents in both legs.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from ledger.assembly.space import Bend, crossed, in_order, laid, nudged
from ledger.domain.pose import Pose
from ledger.standards.bending import allowance_mm

A, B, ALONG = 30.0, 25.0, 40.0


def bend(y, *, up, thick, radius, k, angle=90.0):
    taken = allowance_mm(angle, radius, thick, k)
    return Bend((0.0, y), (200.0, y), angle, radius, taken, thick, up)


def folded(p, q, bends):
    """The distance in space of two places of a flat drawing, on the drawn face."""
    way = crossed(p, q, bends)
    placed = in_order(tuple(b.beyond(q) for b in way)).place(np.array([*q, 0.0]))
    return float(np.linalg.norm(placed - np.array([*p, 0.0])))


@pytest.mark.parametrize(("up", "expected"), [(True, 58.932164), (False, 62.10475)])
@pytest.mark.parametrize("other_way", [False, True])
def test_two_holes_of_an_l_bracket(up, expected, other_way):
    """Bent up the drawn face is the inner one, bent down the outer one."""
    line = bend(100.0, up=up, thick=3.0, radius=3.0, k=0.44)
    half = line.allowance_mm / 2
    p, q = (50.0, 100.0 - half - A), (50.0 + ALONG, 100.0 + half + B)
    assert line.allowance_mm == pytest.approx(6.78584, abs=1e-5)
    assert math.dist(p, q) == pytest.approx(73.603601, abs=1e-6)
    ends = (q, p) if other_way else (p, q)
    assert folded(*ends, (line,)) == pytest.approx(expected, abs=1e-5)


def test_two_holes_of_a_z():
    up = bend(100.0, up=True, thick=2.0, radius=3.0, k=0.42)
    half = up.allowance_mm / 2
    down = bend(100.0 + 2 * half + 14.0, up=False, thick=2.0, radius=3.0, k=0.42)
    p, q = (50.0, 100.0 - half - 20.0), (50.0, down.a[1] + half + 20.0)
    assert math.dist(p, q) == pytest.approx(66.063716, abs=1e-6)
    way = in_order(tuple(b.beyond(q) for b in crossed(p, q, (down, up)))).place(np.array([*q, 0.0]))
    assert way[2] == pytest.approx(22.0, abs=1e-9)  # the offset of the legs: 2 R + t + web
    assert folded(p, q, (down, up)) == pytest.approx(52.801515, abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_frames_are_rigid_and_undone_by_their_backs(seed):
    random = np.random.default_rng(seed)
    pose = Pose(*random.uniform(-90, 90, 3), bool(seed % 2))
    line = Bend(
        (0.0, 0.0), tuple(random.uniform(1, 50, 2)), random.uniform(20, 160), 3.0, 6.0, 2.0, bool(seed % 3)
    )
    frame = (
        laid(pose, 7.0)
        .after(line.beyond((100.0, -100.0), 0.3, 1.0))
        .after(nudged((5.0, 6.0), 0.1, 0.2, 0.01))
    )
    assert np.linalg.det(frame.turn) == pytest.approx(1.0)
    points = random.uniform(-100, 100, (4, 3))
    assert np.allclose([frame.back.place(frame.place(p)) for p in points], points)
    flat = pose.place((3.0, 4.0))
    assert laid(pose, 7.0).place(np.array([3.0, 4.0, 0.0])) == pytest.approx([*flat, 7.0])
