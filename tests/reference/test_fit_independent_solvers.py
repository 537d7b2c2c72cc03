"""
The exact margin against solvers of another kind, on random and on degenerate patterns.

A grid over the whole circle of rotations, each with the smallest circle around discs found by an independent convex
solver and refined where it is best; SLSQP from many starts. Ours is never worse, and the others never better, than
what their own accuracy leaves.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from ledger.fit.layout import lay_out
from ledger.fit.minimax import best_pose
from ledger.fit.pose_choice import least_squares
from ledger.fit.proof import proves


def exact(a, b, c):
    cores_a, cores_b = ([((float(z.real), float(z.imag)),) for z in side] for side in (a, b))
    layout = lay_out(cores_a, cores_b, np.asarray(c, float), turned_over=False)
    found = best_pose(layout, least_squares(layout)[0])
    margin = found.margin * layout.reach_mm
    assert proves(
        cores_a, cores_b, list(c), found.certificates, turned_over=False,
        margin_mm=margin, tolerance_mm=layout.tolerance * layout.reach_mm,
    )  # fmt: skip
    return margin


def at_angle(a, b, c, angle):
    """The best margin at one rotation: subgradient-free, by Weiszfeld-like pattern search on a convex function."""
    v = np.exp(1j * angle) * a - b
    shift, step = -v.mean(), float(np.abs(v - v.mean()).max()) + 1e-9
    level = float((np.abs(v + shift) - c).max())
    while step > 1e-9:
        moves = shift + step * np.exp(0.25j * np.pi * np.arange(8))
        levels = (np.abs(v[None, :] + moves[:, None]) - c).max(axis=1)
        best = int(levels.argmin())
        if levels[best] < level - 1e-15:
            level, shift = float(levels[best]), moves[best]
        else:
            step /= 2
    return -level


def by_grid(a, b, c, turns=120):
    """The best over a grid of rotations, the best three refined by golden section."""
    grid = np.linspace(-math.pi, math.pi, turns, endpoint=False)
    levels = np.array([at_angle(a, b, c, t) for t in grid])
    best = float(levels.max())
    for k in np.argsort(-levels)[:3]:
        low, high = grid[k] - 2 * math.pi / turns, grid[k] + 2 * math.pi / turns
        for _ in range(40):
            one, two = low + 0.382 * (high - low), low + 0.618 * (high - low)
            if at_angle(a, b, c, one) < at_angle(a, b, c, two):
                low = one
            else:
                high = two
        best = max(best, at_angle(a, b, c, (low + high) / 2))
    return best


def by_slsqp(a, b, c, starts=16):
    p, q = a - a.mean(), b - b.mean()
    unit = max(float(np.abs(p).max()), float(np.abs(q).max()), 1e-12)
    p, q, c = p / unit, q / unit, np.asarray(c) / unit
    best = -math.inf
    for turn in np.linspace(-math.pi, math.pi, starts, endpoint=False):

        def room(x):
            return c - np.abs(np.exp(1j * x[0]) * p - q + x[1] + 1j * x[2])

        x0 = np.array([turn, 0, 0, 0.0])
        x0[3] = room(x0).min()
        limits = {"type": "ineq", "fun": lambda x, room=room: room(x) - x[3]}
        found = minimize(
            lambda x: -x[3], x0, constraints=[limits], method="SLSQP", options={"ftol": 1e-14, "maxiter": 200}
        )
        best = max(best, float(room(found.x).min()))
    return best * unit


def plane(*points):
    return np.array([complex(*p) for p in points])


DEGENERATE = {
    "collinear": (
        plane((0, 0), (50, 0), (120, 0)),
        plane((0, 0.2), (50.4, 0), (119.5, 0.1)),
        [1.5, 1.5, 1.5],
    ),
    "two holes": (plane((0, 0), (100, 0)), plane((3, 4), (3, 104.8)), [1.5, 0.5]),
    "coincident": (plane((5, 5), (5, 5), (80, 0)), plane((5, 5.3), (5.3, 5), (80, 0.2)), [1.0, 1.0, 1.0]),
    "all in one place": (plane((5, 5), (5, 5), (5, 5)), plane((0, 0), (1, 0), (0, 1)), [1.0, 1.0, 1.0]),
    "concentric sizes": (
        plane((0, 0), (0, 0), (60, 0)),
        plane((0.1, 0), (0, 0.1), (60.2, 0)),
        [0.5, 3.0, 1.0],
    ),
    "huge": (
        plane((0, 0), (9e5, 0), (9e5, 7e5)),
        plane((0, 0), (9e5 + 1, 0), (9e5, 7e5 - 1)),
        [1.5, 1.5, 1.5],
    ),
    "tiny": (plane((0, 0), (1e-3, 0), (0, 1e-3)), plane((0, 0), (1.1e-3, 0), (0, 1e-3)), [1e-3, 1e-3, 1e-3]),
    "near singular": (
        plane((0, 0), (100, 1e-7), (200, 0)),
        plane((0, 0), (100.3, 0), (200, 1e-7)),
        [1.0, 1.0, 1.0],
    ),
    "all margins equal": (
        plane((0, 0), (100, 0), (100, 100), (0, 100)),
        plane((-1, -1), (101, -1), (101, 101), (-1, 101)),
        [1.5] * 4,
    ),
    "several optima": (plane((0, 0), (20, 0), (3, 17)), plane((0, 0), (9, 1), (14, 12)), [0.0, 0.0, 0.0]),
    "pattern and allowance of one size": (plane((0, 0), (15, 0)), plane((0, 0), (13.4, 3.0)), [3.0, 3.0]),
}


@pytest.mark.parametrize("name", DEGENERATE)
@pytest.mark.filterwarnings("ignore:.*clipped.*:RuntimeWarning")
def test_degenerate_patterns_are_solved_and_proven(name):
    a, b, c = DEGENERATE[name]
    margin = exact(a, b, c)
    scale = max(1.0, float(np.abs(b - b.mean()).max()))
    assert margin >= by_slsqp(a, b, c) - 1e-9 * scale
    assert margin >= by_grid(a, b, np.array(c)) - 1e-8 * scale
    if scale < 1e4:  # the grid's own accuracy
        assert margin == pytest.approx(max(by_slsqp(a, b, c), by_grid(a, b, np.array(c))), abs=2e-5 * scale)


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.filterwarnings("ignore:.*clipped.*:RuntimeWarning")
def test_no_solver_is_better_on_random_patterns_with_several_optima(seed):
    random = np.random.default_rng(seed)
    n = int(random.integers(3, 7))
    a, b = (random.uniform(-20, 20, n) + 1j * random.uniform(-20, 20, n) for _ in range(2))
    c = random.uniform(0, 4, n)
    margin, other = exact(a, b, c), by_slsqp(a, b, c)
    assert margin >= other - 1e-8
    assert margin == pytest.approx(max(other, by_grid(a, b, c, turns=60)), abs=1e-3)


POINTS = st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=3, max_size=7)


@given(POINTS, st.integers(0, 10**6))
@settings(max_examples=25)
def test_a_hole_more_never_leaves_more_room(points, seed):
    random = np.random.default_rng(seed)
    a = plane(*points)
    b = a + random.normal(0, 0.5, len(a)) + 1j * random.normal(0, 0.5, len(a))
    c = random.uniform(0.5, 2, len(a))
    assert exact(a, b, c) <= exact(a[:-1], b[:-1], c[:-1]) + 2e-9
