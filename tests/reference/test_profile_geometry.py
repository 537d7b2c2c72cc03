"""
Closed forms and published factors against what the reader measures on files.

Sources: DXF reference, bulge: tan(included angle / 4); the rest is school geometry, worked out in each docstring.
"""

from __future__ import annotations

import io
import math

import ezdxf
import pytest
from ezdxf.math import cubic_bezier_from_arc

from ledger.domain.shape import arc_of
from ledger.profile.read import read_profile
from ledger.profile.units import BY_CODE, read_unit


def read(draw, units=4):
    document = ezdxf.new("R2010", units=units)
    draw(document.modelspace())
    out = io.StringIO()
    document.write(out)
    return read_profile(out.getvalue().encode())


# Source: NIST Special Publication 811, appendix B (1 in = 25.4 mm, 1 ft = 304.8 mm, 1 yd = 914.4 mm, 1 mil = 0.0254 mm
# exactly; 1 mi = 1609.344 m). Rows MU-SI-in and MU-SI-ft of the project's check values; yard, mile and mil by the same
# definition (1 yd = 36 in, 1 mi = 5280 ft, 1 mil = 0.001 in).
@pytest.mark.parametrize(
    ("name", "mm"), [("in", 25.4), ("ft", 304.8), ("yd", 914.4), ("mi", 1609344.0), ("mil", 0.0254)]
)
def test_imperial_units_are_exact(name, mm):
    assert next(u.mm for u in BY_CODE.values() if u.name == name) == pytest.approx(mm, rel=1e-15)


def test_the_inch_is_25_4_mm_to_the_last_bit():
    """NIST SP 811: exact, and 25.4 is also what a float of it is."""
    assert read_unit("in").mm == 25.4
    assert read_unit("ft").mm == 304.8 or abs(read_unit("ft").mm - 304.8) < 1e-13


def test_the_survey_foot_is_1200_3937ths_of_a_metre():
    """NIST SP 811, appendix B.6: 1 ft (US survey) = 1200/3937 m, about 304.8006 mm."""
    assert read_unit("survey ft").mm == pytest.approx(304.8006096012192, rel=1e-15)


def test_a_plate_of_one_by_two_inches_measures_25_4_by_50_8():
    """NIST SP 811 (MU-SI-in), through a whole file."""
    profile = read(lambda s: s.add_lwpolyline([(0, 0), (1, 0), (1, 2), (0, 2)], close=True), units=1)
    assert profile.size_mm == (25.4, 50.8)


def test_bulge_one_half_over_a_chord_of_ten():
    """GE-BULGE: chord 10, bulge 0.5 gives radius 6.25, sagitta 2.5, included angle 106.26020470831196 degrees."""
    _, radius, _, sweep = arc_of((0, 0), (10, 0), 0.5)
    assert radius == pytest.approx(6.25, abs=1e-9)
    assert math.degrees(sweep) == pytest.approx(106.26020470831196, abs=1e-9)
    profile = read(lambda s: s.add_lwpolyline([(0, 0, 0.5), (10, 0, 0)], format="xyb", close=True))
    assert profile.outline.box == pytest.approx((0, -2.5, 10, 0), abs=1e-9)


def test_a_segment_of_a_circle_has_its_closed_form_area():
    """r²/2·(a − sin a) with r 6.25 and a = 4·atan(0.5)."""
    profile = read(lambda s: s.add_lwpolyline([(0, 0, 0.5), (10, 0, 0)], format="xyb", close=True))
    angle = 4 * math.atan(0.5)
    assert profile.area_mm2 == pytest.approx(6.25**2 / 2 * (angle - math.sin(angle)), abs=1e-9)


@pytest.mark.parametrize("hand", [1, -1])
def test_bulge_one_is_a_half_turn(hand):
    """DXF reference: a bulge of 1 is a semicircle; positive turns counter-clockwise. Area of a half disc: pi·r²/2."""
    profile = read(lambda s: s.add_lwpolyline([(0, 0, hand), (20, 0, 0)], format="xyb", close=True))
    assert profile.area_mm2 == pytest.approx(math.pi * 50, abs=1e-9)
    assert profile.outline.box[1] == pytest.approx(-10 if hand > 0 else 0, abs=1e-9)


def test_a_rounded_rectangle():
    """w·h − (4 − pi)·r², perimeter 2·(w + h) − (8 − 2·pi)·r."""
    w, h, r, b = 120, 80, 12, math.tan(math.pi / 8)
    ring = [
        (r, 0, 0),
        (w - r, 0, b),
        (w, r, 0),
        (w, h - r, b),
        (w - r, h, 0),
        (r, h, b),
        (0, h - r, 0),
        (0, r, b),
    ]
    profile = read(lambda s: s.add_lwpolyline(ring, format="xyb", close=True))
    assert profile.area_mm2 == pytest.approx(w * h - (4 - math.pi) * r * r, abs=1e-9)
    assert profile.cut_length_mm == pytest.approx(2 * (w + h) - (8 - 2 * math.pi) * r, abs=1e-9)
    assert profile.size_mm == pytest.approx((w, h), abs=1e-9)


def test_a_ring():
    """pi·(R² − r²); both rims 2·pi·(R + r)."""

    def draw(space):
        space.add_circle((3, 4), 40)
        space.add_circle((3, 4), 15)

    profile = read(draw)
    assert profile.area_mm2 == pytest.approx(math.pi * (1600 - 225), abs=1e-9)
    assert profile.cut_length_mm == pytest.approx(2 * math.pi * 55, abs=1e-9)


@pytest.mark.parametrize("turn", [0, 30])
def test_an_ellipse_within_its_chord_error(turn):
    """pi·a·b; a polygon inscribed within sagitta s loses at most s times the perimeter, about s·pi·(a + b)·1.05."""
    a, b = 40.0, 15.0
    axis = (a * math.cos(math.radians(turn)), a * math.sin(math.radians(turn)))
    profile = read(lambda s: s.add_ellipse((10, 5), axis, ratio=b / a))
    lost = math.pi * a * b - profile.area_mm2
    assert 0 <= lost <= profile.outline.chord_error_mm * math.pi * (a + b) * 1.05
    width = 2 * math.hypot(a * math.cos(math.radians(turn)), b * math.sin(math.radians(turn)))
    assert profile.size_mm[0] == pytest.approx(width, abs=2 * profile.outline.chord_error_mm)


def test_an_ellipse_flattened_for_a_sagitta_keeps_it():
    """The middle of every chord lies within 0.001 mm of the ellipse x²/a² + y²/b² = 1 (first-order distance)."""
    a, b = 200.0, 20.0
    profile = read(lambda s: s.add_ellipse((0, 0), (a, 0), ratio=b / a))
    for (ax, ay), (bx, by), _ in profile.outline.edges():
        x, y = (ax + bx) / 2, (ay + by) / 2
        value = (x / a) ** 2 + (y / b) ** 2 - 1
        slope = 2 * math.hypot(x / a**2, y / b**2)
        assert abs(value) / slope <= 0.001 * 1.01


def test_a_parabola_as_a_spline_has_the_area_archimedes_gave_it():
    """Quadrature of the parabola: a segment has 4/3 of the triangle on its chord with its tip at the vertex."""

    def draw(space):
        space.add_open_spline([(0, 0), (50, 80), (100, 0)], degree=2)
        space.add_line((0, 0), (100, 0))

    profile = read(draw)
    triangle = 100 * 40 / 2
    assert profile.area_mm2 == pytest.approx(4 / 3 * triangle, abs=0.001 * 200)
    assert profile.outline.box[3] == pytest.approx(40, abs=0.001)


def test_a_circle_of_four_cubic_splines_is_off_by_the_known_share():
    """A quarter circle as one cubic, k = 4/3·tan(pi/8), bulges by at most 2.73e-4 of r (common, from memory)."""

    def draw(space):
        space.add_lwpolyline([(-60, -60), (60, -60), (60, 60), (-60, 60)], close=True)
        for curve in cubic_bezier_from_arc((0, 0), 20, 0, 360, segments=4):
            space.add_open_spline(curve.control_points, degree=3)

    (hole,) = read(draw).holes
    assert hole.made_of == "spline"
    assert hole.diameter_mm == pytest.approx(40, abs=2 * 20 * 2.73e-4)
    assert hole.departure_mm <= 20 * 2.73e-4 + 0.001


@pytest.mark.parametrize("sides", [12, 24, 100])
def test_the_circle_that_passes_a_regular_polygon_is_its_incircle(sides):
    """Apothem: R·cos(pi/n)."""
    points = [
        (10 * math.cos(2 * math.pi * k / sides), 10 * math.sin(2 * math.pi * k / sides)) for k in range(sides)
    ]

    def draw(space):
        space.add_lwpolyline([(-60, -60), (60, -60), (60, 60), (-60, 60)], close=True)
        space.add_lwpolyline(points, close=True)

    (hole,) = read(draw).holes
    assert hole.diameter_mm == pytest.approx(20 * math.cos(math.pi / sides), abs=1e-8)


def test_a_slot_has_its_closed_form_area():
    """Length between centres L, width w: L·w + pi·w²/4."""

    def draw(space):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        ring = [(30, 26, 0), (60, 26, 1), (60, 34, 0), (30, 34, 1)]
        space.add_lwpolyline(ring, format="xyb", close=True)

    assert read(draw).area_mm2 == pytest.approx(6000 - 30 * 8 - math.pi * 16, abs=1e-9)
