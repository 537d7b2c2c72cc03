"""
Hole patterns against published values and identities.

Y14.5: ASME Y14.5M-1982/1994, nonmandatory appendix B: floating H = F + T, fixed H = F + T1 + T2 with a projected
zone, and H = F + T1 + T2 (1 + 2 P / D) without one. Read through a secondary source; the figures 6.44 and 0.44 in part
from memory.
Chords: chordal factors sin(180°/n) as printed to four places; wheel circles by the exact identity D sin(180° k/n).
Circles: JTS, MinimumBoundingCircleTest.java (locationtech/jts), expected centre and radius literals.
"""

from __future__ import annotations

import math

import pytest

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.joint import unprojected_mm
from ledger.fit.layout import lay_out
from ledger.fit.minimax import margin_at
from ledger.fit.pattern import PatternCase, Ply, fit
from ledger.fit.shift import best_shift

INCH = 25.4


def plate(points, diameter, **fields):
    holes = (Hole(f"H{k}", ((float(x), float(y)),), diameter) for k, (x, y) in enumerate(points, 1))
    return Ply(tuple(holes), declared=True, **fields)


def compared(a, b, bolt, **fields):
    return fit(PatternCase(a, b, bolt, bolt, **fields))


BASE = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]


def test_floating_fasteners_leave_hole_less_fastener_to_each_part():
    """H 6.44, F 6.00: T = 0.44 for each part (Y14.5 B3)."""
    found = compared(plate(BASE, 6.44, position_mm=0.44), plate(BASE, 6.44, position_mm=0.44), 6.0)
    assert found.worst_case_margin_mm == pytest.approx(0.0, abs=1e-9)
    over = compared(plate(BASE, 6.44, position_mm=0.441), plate(BASE, 6.44, position_mm=0.44), 6.0)
    assert over.worst_case_margin_mm < 0


def test_fixed_fasteners_leave_half_of_it_to_each_part():
    """H 6.44, F 6.00: T = 0.22 for each part (Y14.5 B4)."""
    parts = plate(BASE, 6.44, position_mm=0.22), plate(BASE, 6.0, position_mm=0.22)
    assert compared(*parts, 6.0, joint="tapped").worst_case_margin_mm == pytest.approx(0.0, abs=1e-9)
    assert compared(*parts, 6.0).worst_case_margin_mm < 0


def test_a_position_hole_out_by_half_of_both_tolerances_just_goes():
    """One hole of each part strays by T/2, opposite ways, in a stated position: the floating rule is exact."""
    found = compared(plate([(0.22, 0)], 6.44), plate([(-0.22, 0)], 6.44), 6.0, position=Pose())
    assert (found.verdict, found.margin_mm) == ("GO", 0.0)
    over = compared(plate([(0.2201, 0)], 6.44), plate([(-0.22, 0)], 6.44), 6.0, position=Pose())
    assert over.verdict == "NO-GO"


def test_a_projected_zone_needs_fastener_plus_both_tolerances():
    """F 6.35, T1 0.2, T2 0.4: H = 6.95 (Y14.5 B4 with a projected zone)."""
    parts = plate(BASE, 6.95, position_mm=0.2), plate(BASE, 6.35, position_mm=0.4)
    assert compared(*parts, 6.35, joint="tapped").worst_case_margin_mm == pytest.approx(0.0, abs=1e-9)


def test_without_a_projected_zone_the_hole_grows_with_the_lean():
    """H = F + T1 + T2 (1 + 2 P / D), P 10, D 20 (Y14.5 B5)."""
    lean = unprojected_mm(0.4, clearance_ply_mm=10.0, engagement_mm=20.0)
    hole = 6.35 + 0.2 + 0.4 * (1 + 2 * 10 / 20)
    parts = plate(BASE, hole, position_mm=0.2), plate(BASE, 6.35, position_mm=lean)
    assert compared(*parts, 6.35, joint="tapped").worst_case_margin_mm == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("points", "centre", "radius"),
    [
        ([(10, 10), (20, 20)], (15, 15), 7.0710678118654755),
        ([(10, 10), (20, 20), (30, 30)], (20, 20), 14.142135623730951),
        ([(100, 100), (200, 100), (150, 90)], (150, 100), 50),
        ([(10, 10), (20, 20), (10, 20), (15, 19)], (15, 15), 7.0710678118654755),
    ],
)
def test_at_a_fixed_turn_holes_without_play_on_one_pin_miss_by_the_enclosing_radius(points, centre, radius):
    """All holes of A on one place of B: the best shift brings the centre of the smallest circle there (JTS)."""
    cores = [((float(x), float(y)),) for x, y in points]
    layout = lay_out(cores, [((0.0, 0.0),)] * len(cores), [0.0] * len(cores), turned_over=False)
    shift = best_shift(layout, 0.0)
    assert -margin_at(layout, 0.0, shift) * layout.reach_mm == pytest.approx(radius, abs=1e-9)
    pose = layout.pose(0.0, shift)
    assert (-pose.x_mm, -pose.y_mm) == pytest.approx(centre, abs=1e-9)


CHORD_FACTORS = {
    3: 0.866,
    4: 0.7071,
    5: 0.5878,
    6: 0.5,
    7: 0.4339,
    8: 0.3827,
    9: 0.342,
    10: 0.309,
    12: 0.2588,
}


@pytest.mark.parametrize("n", CHORD_FACTORS)
def test_two_neighbours_of_a_bolt_circle_lie_a_chord_factor_apart(n):
    """Two holes drilled the printed chord apart on two neighbours of a 100 mm circle: the margin tells the chord."""
    turn = 2 * math.pi / n
    circle = [(50.0, 0.0), (50 * math.cos(turn), 50 * math.sin(turn))]
    found = compared(plate([(0, 0), (100 * CHORD_FACTORS[n], 0)], 11.0), plate(circle, 11.0), 10.0)
    assert found.margin_mm == pytest.approx(1.0, abs=100 * 6e-5 / 2)


WHEELS = [
    pytest.param(5, 4.5 * INCH, 2.64503 * INCH, 4.27975 * INCH, id="5 on 4.5 in"),
    pytest.param(5, 4.75 * INCH, 2.79198 * INCH, 4.51752 * INCH, id="5 on 4.75 in"),
    pytest.param(5, 5.0 * INCH, 2.93893 * INCH, 4.75528 * INCH, id="5 on 5 in"),
    pytest.param(5, 5.5 * INCH, 3.23282 * INCH, 5.23081 * INCH, id="5 on 5.5 in"),
    pytest.param(5, 114.3, 67.18385, 108.70576, id="5 on 114.3 mm"),
    pytest.param(4, 100.0, 70.71068, 100.0, id="4 on 100 mm"),
    pytest.param(5, 100.0, 58.77853, 95.10565, id="5 on 100 mm"),
    pytest.param(6, 5.5 * INCH, 2.75 * INCH, 4.76314 * INCH, id="6 on 5.5 in"),
]


@pytest.mark.parametrize(("n", "diameter", "next_mm", "skip_mm"), WHEELS)
def test_three_holes_set_out_by_two_chords_lie_on_the_bolt_circle(n, diameter, next_mm, skip_mm):
    rise = math.sqrt(next_mm**2 - (skip_mm / 2) ** 2)
    three = [(0.0, 0.0), (skip_mm / 2, rise), (skip_mm, 0.0)]
    ring = [
        (diameter / 2 * math.cos(2 * math.pi * k / n), diameter / 2 * math.sin(2 * math.pi * k / n))
        for k in range(n)
    ]
    found = compared(plate(three, 13.5), plate(ring, 13.5), 12.0)
    assert len(found.pairs) == 3
    assert found.margin_mm == pytest.approx(1.5, abs=5e-3)
    assert len(found.unmatched_b) == n - 3
    assert found.verdict == "NO-GO"
