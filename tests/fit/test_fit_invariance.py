"""What must not matter to a fit does not: where a drawing lies, how it is turned, the order of its holes."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.pattern import PatternCase, Ply, fit

SHAPE = [(0.0, 0.0), (100.0, 0.0), (120.0, 70.0), (15.0, 60.0), (60.0, 35.0)]  # no symmetry
OFFSETS = st.lists(st.tuples(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4)), min_size=5, max_size=5)
POSES = st.builds(Pose, st.floats(-180, 180), st.floats(-1e3, 1e3), st.floats(-1e3, 1e3))


def ply(points, **fields):
    return Ply(tuple(Hole(f"H{k}", (p,), 13.5) for k, p in enumerate(points, 1)), **fields)


def compared(a, b, **fields):
    return fit(PatternCase(a=ply(a), b=ply(b), fastener_mm=12.0, largest_fastener_mm=12.0, **fields))


def moved(points, offsets):
    return [(x + dx, y + dy) for (x, y), (dx, dy) in zip(points, offsets, strict=True)]


@settings(max_examples=30)
@given(OFFSETS, POSES, POSES)
def test_moving_and_turning_either_drawing_changes_no_margin(offsets, lay_a, lay_b):
    b = moved(SHAPE, offsets)
    plain = compared(SHAPE, b)
    laid = compared([lay_a.place(p) for p in SHAPE], [lay_b.place(p) for p in b])
    assert laid.verdict == plain.verdict == "GO"
    assert laid.margin_mm == pytest.approx(plain.margin_mm, abs=1e-7)
    assert {(p.a, p.b) for p in laid.pairs} == {(p.a, p.b) for p in plain.pairs}


@settings(max_examples=30)
@given(OFFSETS, st.permutations(range(5)))
def test_the_order_of_the_holes_changes_nothing_by_position(offsets, order):
    b = moved(SHAPE, offsets)
    plain, shuffled = compared(SHAPE, b), compared(SHAPE, [b[k] for k in order])
    assert shuffled.margin_mm == pytest.approx(plain.margin_mm, abs=1e-7)
    assert {(p.a, order[int(p.b[1:]) - 1] + 1) for p in shuffled.pairs} == {
        (p.a, int(p.b[1:])) for p in plain.pairs
    }


@settings(max_examples=30)
@given(OFFSETS)
def test_swapping_the_plies_inverts_the_pose_and_keeps_the_margin(offsets):
    b = moved(SHAPE, offsets)
    there, back = compared(SHAPE, b), compared(b, SHAPE)
    assert back.margin_mm == pytest.approx(there.margin_mm, abs=1e-7)
    for p in SHAPE:
        assert math.dist(back.pose.place(there.pose.place(p)), p) < 1e-3


@settings(max_examples=20)
@given(OFFSETS, st.floats(0, 0.3), st.floats(0, 0.3))
def test_the_worst_case_is_never_above_the_nominal(offsets, position, shrink):
    a = ply(SHAPE, position_mm=position, shrink_mm=shrink)
    b = ply(moved(SHAPE, offsets), position_mm=position)
    found = fit(PatternCase(a=a, b=b, fastener_mm=12.0, largest_fastener_mm=12.0))
    assert found.worst_case_margin_mm <= found.margin_mm + 1e-9


def test_a_mirrored_plate_fits_only_turned_over():
    mirrored = [(-x, y) for x, y in SHAPE]
    assert compared(SHAPE, mirrored).verdict != "GO"
    over = compared(SHAPE, mirrored, turned_over="yes")
    assert over.verdict == "GO"
    assert over.pose.turned_over
    assert compared(SHAPE, mirrored, turned_over="either").pose.turned_over


def test_one_hole_four_millimetres_out_is_named_with_its_move_in_both_drawings():
    square = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]
    off = [(0.0, 0.0), (104.0, 0.0), (100.0, 60.0), (0.0, 60.0)]
    found = compared(square, off)
    assert found.verdict == "NO-GO"
    assert found.margin_mm < 0
    assert len(found.wrong) == 1
    wrong = found.wrong[0]
    assert (wrong.a, wrong.b) == ("H2", "H2")
    assert wrong.move_b_mm == pytest.approx((-4.0, 0.0), abs=1e-6)
    assert wrong.move_a_mm == pytest.approx((4.0, 0.0), abs=1e-6)
    assert not {(p.a, p.b) for p in found.pairs} & {(wrong.a, wrong.b)}


def test_one_millimetre_over_four_holes_still_goes_because_the_pattern_shifts():
    square = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]
    assert compared(square, [(0.0, 0.0), (101.0, 0.0), (100.0, 60.0), (0.0, 60.0)]).verdict == "GO"


@pytest.mark.parametrize(("n", "ways"), [(4, 4), (6, 6), (8, 8)])
def test_a_bolt_circle_goes_together_in_as_many_ways_as_it_has_holes(n, ways):
    circle = [(60 * math.cos(2 * math.pi * k / n), 60 * math.sin(2 * math.pi * k / n)) for k in range(n)]
    found = compared(circle, circle)
    assert found.ways == ways
    assert found.margin_mm == pytest.approx(1.5)


@pytest.mark.parametrize(("apart", "margin"), [(100.0, 1.5), (101.0, 1.0), (103.0, 0.0), (104.0, -0.5)])
def test_two_holes_follow_the_closed_form(apart, margin):
    a, b = (
        ply([(0.0, 0.0), (100.0, 0.0)], declared=True),
        ply([(5.0, 5.0), (5.0, 5.0 + apart)], declared=True),
    )
    found = fit(PatternCase(a=a, b=b, fastener_mm=12.0, largest_fastener_mm=12.0))
    assert found.margin_mm == pytest.approx(margin, abs=1e-9)


def test_two_random_plates_have_no_common_pattern():
    import random

    source = random.Random(7)
    plates = [[(source.uniform(0, 400), source.uniform(0, 400)) for _ in range(20)] for _ in range(2)]
    assert compared(*plates).code == "no_common_pattern"
