"""
The fit held against published rules and an independent solver.

Floating and fixed fastener formulas: ASME Y14.5M-1982/1994, nonmandatory appendix B (B3 floating T = H - F, B4
fixed T = (H - F)/2), with ISO 273:1979 medium holes. Smallest enclosing circles: literals of the JTS test suite,
MinimumBoundingCircleTest.java. Bolt circles: chord factors sin(180°/n), and
Machinery's Handbook 31st ed. p. 709, example 1.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import minimize

from ledger.domain.shape import Hole
from ledger.fit.pattern import PatternCase, Ply, fit
from ledger.fit.shift import enclosing

ISO_273_MEDIUM = {"M6": (6.0, 6.6), "M10": (10.0, 11.0), "M12": (12.0, 13.5)}


def plate(points, diameter, **fields):
    diameters = np.broadcast_to(diameter, (len(points),))
    cores = [((float(x), float(y)),) for x, y in points]
    holes = tuple(
        Hole(f"H{k}", c, float(d)) for k, (c, d) in enumerate(zip(cores, diameters, strict=True), 1)
    )
    return Ply(holes, declared=True, **fields)


def compared(a, b, bolt, joint="through", **fields):
    return fit(PatternCase(a=a, b=b, fastener_mm=bolt, largest_fastener_mm=bolt, joint=joint, **fields))


def square_with_each_hole_out_by(off):
    """Four holes, each moved outward along its diagonal: no turn or shift helps, so every hole is off by `off`."""
    corner = 50 + off / math.sqrt(2)
    return [(-corner, -corner), (corner, -corner), (corner, corner), (-corner, corner)]


@pytest.mark.parametrize("size", ISO_273_MEDIUM)
@pytest.mark.parametrize(("joint", "share"), [("through", 1.0), ("tapped", 0.5)])
def test_the_position_tolerance_of_the_rule_is_just_taken_up(size, joint, share):
    bolt, hole = ISO_273_MEDIUM[size]
    each = (hole - bolt) * share  # T = H - F, or (H - F)/2
    other = hole if joint == "through" else bolt
    b = plate(square_with_each_hole_out_by(-each / 2), other)
    tight = compared(plate(square_with_each_hole_out_by(each / 2), hole), b, bolt, joint)
    assert tight.margin_mm == pytest.approx(0.0, abs=1e-6)
    over = compared(plate(square_with_each_hole_out_by(each / 2 + 0.01), hole), b, bolt, joint)
    assert over.verdict == "NO-GO"
    drawn = square_with_each_hole_out_by(0)
    plies = plate(drawn, hole, position_mm=each), plate(drawn, other, position_mm=each)
    stated = compared(*plies, bolt, joint)
    assert stated.worst_case_margin_mm == pytest.approx(0.0, abs=1e-9)


def test_each_ply_must_pass_the_fastener_by_itself():
    points = square_with_each_hole_out_by(0)
    assert compared(plate(points, 8.0), plate(points, 18.0), 12.0).verdict != "GO"


@pytest.mark.parametrize(
    ("points", "centre", "radius"),
    [
        ([(10, 10), (20, 20)], (15, 15), 7.0710678118654755),
        ([(10, 10), (20, 20), (30, 30)], (20, 20), 14.142135623730951),
        ([(100, 100), (200, 100), (150, 90)], (150, 100), 50),
        ([(10, 10), (20, 20), (10, 20), (15, 19)], (15, 15), 7.0710678118654755),
    ],
)
def test_the_best_shift_is_the_centre_of_the_smallest_enclosing_circle(points, centre, radius):
    found, _held = enclosing(np.array([complex(*p) for p in points]), np.zeros(len(points)))
    assert (found.real, found.imag) == pytest.approx(centre, abs=1e-5)
    assert max(abs(complex(*p) - found) for p in points) == pytest.approx(radius, abs=1e-5)


@pytest.mark.parametrize(
    ("n", "chord"), [(3, 0.8660), (4, 0.7071), (5, 0.5878), (6, 0.5), (8, 0.3827), (12, 0.2588)]
)
def test_a_bolt_circle_set_out_by_chord_factors_goes_on_one_set_out_by_angles(n, chord):
    turn = [2 * math.pi * k / n for k in range(n)]
    by_angle = [(60 * math.cos(t), 60 * math.sin(t)) for t in turn]
    step = 2 * math.asin(chord)  # the printed four figures, walked round the circle
    by_chord = [(60 * math.cos(step * k), 60 * math.sin(step * k)) for k in range(n)]
    found = compared(plate(by_angle, 11.0), plate(by_chord, 11.0), 10.0)
    assert found.verdict == "GO"
    assert found.margin_mm > 0.9


def test_machinerys_handbook_example_one_is_a_regular_bolt_circle():
    printed = [(0, -0.5), (-0.47553, -0.15451), (-0.29389, 0.40451), (0.29389, 0.40451), (0.47553, -0.15451)]
    exact = [(0.5 * math.sin(2 * math.pi * k / 5), 0.5 * math.cos(2 * math.pi * k / 5)) for k in range(5)]
    a, b = ([(100 * x, 100 * y) for x, y in holes] for holes in (printed, exact))
    found = compared(plate(a, 11.0), plate(b, 11.0), 10.0)
    assert found.margin_mm == pytest.approx(1.0, abs=2e-3)
    assert found.ways == 5


def independent_margin(a, b, c):
    """The margin by scipy's SLSQP from several starts, on the epigraph form, true distances at the answer."""
    a, b, c = np.asarray(a, float), np.asarray(b, float), np.asarray(c, float)

    def offsets(x):
        turn = np.array([[math.cos(x[0]), -math.sin(x[0])], [math.sin(x[0]), math.cos(x[0])]])
        return np.hypot(*((a - a.mean(0)) @ turn.T + x[1:3] - (b - b.mean(0))).T)

    best = -math.inf
    for start in np.linspace(-math.pi, math.pi, 13)[:-1]:
        x0 = np.array([start, 0.0, 0.0, 0.0])
        x0[3] = float(np.min(c - offsets(x0)))
        limits = {"type": "ineq", "fun": lambda x: c - offsets(x) - x[3]}
        found = minimize(
            lambda x: -x[3], x0, constraints=[limits], method="SLSQP", options={"maxiter": 300, "ftol": 1e-13}
        )
        best = max(best, float(np.min(c - offsets(found.x))))
    return best


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.filterwarnings("ignore:.*clipped.*:RuntimeWarning")
def test_no_pose_of_an_independent_solver_is_better(seed):
    random = np.random.default_rng(seed)
    n = int(random.integers(3, 9))
    a = random.uniform(-100, 100, (n, 2))
    angle = random.uniform(-math.pi, math.pi)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    b = a @ turn.T + random.uniform(-500, 500, 2) + random.normal(0, 0.2, (n, 2))
    ours = compared(plate(a, 13.5), plate(b, 13.5), 12.0)
    assert ours.verdict == "GO"
    assert ours.proven
    assert ours.margin_mm == pytest.approx(independent_margin(a, b, np.full(n, 1.5)), abs=1e-6)
    where = np.array([ours.pose.place(tuple(p)) for p in a])
    assert 1.5 - np.hypot(*(where - b).T).max() == pytest.approx(ours.margin_mm, abs=1e-8)
