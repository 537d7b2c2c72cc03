"""Plates that lie over each other share an area, known to within a stated error."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole
from ledger.fit.overlap import Region, overlap_area


def disc(x, y, diameter):
    return Hole("H1", ((float(x), float(y)),), diameter).contour()


def plate(x, y, width, height):
    return Contour(((x, y, 0.0), (x + width, y, 0.0), (x + width, y + height, 0.0), (x, y + height, 0.0)))


def test_two_plates_share_the_rectangle_between_their_corners():
    shared = overlap_area(Region(plate(0, 0, 100, 60)), Region(plate(90, 50, 100, 60)))
    assert shared.area_mm2 == pytest.approx(100)
    assert 90 < shared.where[0] < 100
    assert 50 < shared.where[1] < 60
    assert shared.error_mm2 < 1e-8
    assert shared.least_mm2 == pytest.approx(100)


def test_plates_that_touch_along_an_edge_share_nothing():
    shared = overlap_area(Region(plate(0, 0, 100, 60)), Region(plate(100, 0, 50, 60)))
    assert (shared.area_mm2, shared.where, shared.least_mm2) == (0.0, None, 0.0)


def test_plates_that_touch_after_turning_do_not_collide_for_certain():
    pose = Pose(33.0, 7.0, -11.0)
    a, b = (pose.place_contour(c) for c in (plate(0, 0, 100, 60), plate(100, 0, 50, 60)))
    assert overlap_area(Region(a), Region(b)).least_mm2 == 0.0


def test_a_collar_lies_in_the_opening_of_a_plate_without_a_collision():
    base = Region(plate(0, 0, 100, 100), (disc(50, 50, 40),))
    assert overlap_area(base, Region(disc(50, 50, 39))).least_mm2 == 0.0
    eccentric = overlap_area(base, Region(disc(51, 50, 39)))
    assert eccentric.least_mm2 > 0.1
    assert eccentric.where[0] > 60


def test_the_place_lies_in_the_material_of_both():
    ring = Region(disc(0, 0, 100), (disc(0, 0, 90),))
    shared = overlap_area(ring, ring)
    assert 45 < math.hypot(*shared.where) < 50


def test_cut_outs_that_cross_each_other_are_not_taken_off_twice():
    both = Region(plate(0, 0, 100, 60), (plate(10, 10, 30, 30), plate(20, 20, 30, 30)))
    whole = Region(plate(-1, -1, 102, 62))
    assert overlap_area(both, whole).area_mm2 == pytest.approx(6000 - 2 * 900 + 400)


def test_holes_far_from_the_overlap_do_not_blur_it():
    holes = tuple(disc(20 + 40 * i, 30, 13.5) for i in range(20))
    shared = overlap_area(Region(plate(0, 0, 800, 60), holes), Region(plate(799.99, 0, 100, 60)))
    assert shared.area_mm2 == pytest.approx(0.6)
    assert shared.error_mm2 < 1e-6


@pytest.mark.parametrize(
    "ring",
    [
        Contour(((0.0, 0.0, 0.0), (10.0, 10.0, 0.0), (10.0, 0.0, 0.0), (0.0, 10.0, 0.0))),
        Contour(((0.0, 0.0, 0.0), (10.0, 0.0, 0.0))),
        Contour(((0.0, 0.0, 0.0), (float("nan"), 0.0, 0.0), (0.0, 10.0, 0.0))),
        Contour(((0.0, 0.0, float("inf")), (10.0, 0.0, 0.0), (0.0, 10.0, 0.0))),
        Contour(((5.0, 5.0, 0.0),) * 4),
        Contour(()),
    ],
    ids=["crosses itself", "two corners", "not a number", "endless bulge", "one point", "empty"],
)
def test_a_ring_that_bounds_nothing_is_refused(ring):
    for pair in (
        (Region(ring), Region(plate(0, 0, 9, 9))),
        (Region(plate(0, 0, 9, 9), (ring,)), Region(disc(0, 0, 5))),
    ):
        with pytest.raises(BadInput):
            overlap_area(*pair)


def test_an_earlier_flattening_is_counted_in_the_error():
    rough = Contour(plate(0, 0, 100, 60).vertices, chord_error_mm=0.01)
    assert overlap_area(Region(rough), Region(plate(-9, -9, 200, 200))).error_mm2 >= 0.01 * 320


@given(
    st.floats(1, 40),
    st.floats(1, 40),
    st.floats(0.001, 0.999),
    st.floats(-180, 180),
    st.sampled_from([0.001, 0.01, 0.1]),
)
def test_the_lens_of_two_discs_lies_within_the_error(r, s, part, turn, sagitta):
    apart = abs(r - s) + part * (r + s - abs(r - s))
    x, y = apart * math.cos(turn), apart * math.sin(turn)
    found = overlap_area(Region(disc(0, 0, 2 * r)), Region(disc(x, y, 2 * s)), sagitta_mm=sagitta)
    first = math.acos((apart**2 + r * r - s * s) / (2 * apart * r))
    second = math.acos((apart**2 + s * s - r * r) / (2 * apart * s))
    lens = r * r * (first - math.sin(2 * first) / 2) + s * s * (second - math.sin(2 * second) / 2)
    assert abs(found.area_mm2 - lens) <= found.error_mm2 + 1e-9


@given(st.floats(-180, 180), st.floats(-300, 300), st.booleans())
def test_moving_both_plates_changes_nothing(angle, shift, turned_over):
    pose = Pose(angle, shift, -shift, turned_over)
    a, b = plate(0, 0, 100, 60), disc(95, 30, 40)
    still = overlap_area(Region(a), Region(b))
    moved = overlap_area(Region(pose.place_contour(a)), Region(pose.place_contour(b)))
    assert moved.area_mm2 == pytest.approx(still.area_mm2, abs=still.error_mm2 + moved.error_mm2)
