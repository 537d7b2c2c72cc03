"""What a NO-GO smells of, what would fix it, and how plates that go together can be assembled wrong."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plates_of_holes import MOUNT_BASE, SQUARE, circle, compare, laid, ply

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole
from ledger.fit.advice import advice, turned_by_mistake
from ledger.fit.case import PatternCase
from ledger.fit.fixes import larger_holes, slots_that_save
from ledger.fit.pattern import fit
from ledger.fit.slips import slips
from ledger.fit.ways import Bent, Plate, guard, wrong_ways

CROOKED = [(0.0, 0.0), (100.0, 0.0), (120.0, 70.0), (15.0, 60.0)]
CLASSES = {"fine": 13.0, "medium": 13.5, "coarse": 14.5}


def case(a, b, bolt=12.0, **fields):
    a = a if hasattr(a, "holes") else ply(a)
    b = b if hasattr(b, "holes") else ply(b)
    return PatternCase(a, b, bolt, bolt, **fields)


def smells(given):
    return {(s.kind, s.side) for s in slips(given, fit(given))}


def scaled(points, factor):
    return [(x * factor, y * factor) for x, y in points]


def test_inches_taken_as_millimetres_are_named_with_the_drawing():
    inches = ply(scaled(CROOKED, 1 / 25.4), 13.5 / 25.4, declared=True)
    assert ("scale", "b") in smells(case(ply(CROOKED, declared=True), inches))


def test_a_mirrored_drawing_is_named():
    assert ("mirrored", "") in smells(case(CROOKED, [(-x, y) for x, y in CROOKED]))


def test_a_pitch_of_25_for_25_4_is_named():
    grid = [(25.4 * i, 25.4 * j) for i in range(8) for j in range(2)]
    rounded = [(25.0 * i, 25.0 * j) for i in range(8) for j in range(2)]
    assert ("scale", "b") in smells(case(ply(grid, 6.6), ply(rounded, 6.6), 6.0))


def test_the_radius_of_a_bolt_circle_for_its_diameter_is_named():
    assert ("scale", "a") in smells(case(circle(6, 60), circle(6, 120)))


def test_a_shifted_origin_and_a_quarter_turn_are_named_where_the_position_is_stated():
    assert ("shift", "") in smells(case(CROOKED, laid(CROOKED, 0, 40, 10), position=Pose()))
    assert ("quarter", "") in smells(case(CROOKED, laid(CROOKED, 90, 40, 10), position=Pose()))


def test_a_pattern_that_is_merely_wrong_smells_of_nothing():
    out = [(0, 0), (104, 0), (120, 70), (15, 60)]
    assert not slips(case(CROOKED, out), compare(CROOKED, out))
    assert not slips(case(CROOKED, CROOKED), compare(CROOKED, CROOKED))


def test_the_next_class_of_clearance_holes_is_told_only_where_it_helps():
    out = [(0, 0), (104, 0), (100, 60), (0, 60)]
    given = case(MOUNT_BASE, out)
    saved = larger_holes(given, fit(given), [CLASSES])
    assert (saved.named, saved.diameters_mm) == ("coarse", (14.5,))
    assert saved.margin_mm == pytest.approx(0.5, abs=0.01)
    far = case(MOUNT_BASE, [(0, 0), (109, 0), (100, 60), (0, 60)])
    assert larger_holes(far, fit(far), [CLASSES]) is None


def test_a_slot_is_drawn_along_the_way_the_hole_is_out():
    given = case(MOUNT_BASE, [(0, 0), (104.2, 0), (100, 60), (0, 60)])
    saved = slots_that_save(given, fit(given))
    assert saved.side == "a"
    ((label, core, diameter),) = saved.slots
    assert (label, diameter) == ("H2", 13.5)
    assert core[0] == (100.0, 0.0)
    assert core[1] == pytest.approx((104.5, 0.0), abs=0.02)


def test_advice_is_for_what_does_not_go_together():
    given = case(MOUNT_BASE, [(0, 0), (104, 0), (100, 60), (0, 60)])
    said = " ".join(advice(given, fit(given), ("BASE", "TURN"), [CLASSES]))
    assert "coarse clearance holes" in said
    assert "slot" in said
    assert not list(advice(case(SQUARE, SQUARE), compare(SQUARE, SQUARE), ("A", "B"), [CLASSES]))


CUT_CORNER = Contour(((-20, -20, 0), (80, -20, 0), (80, 60, 0), (60, 80, 0), (-20, 80, 0)))
WHOLE = Contour(((-20, -20, 0), (80, -20, 0), (80, 80, 0), (-20, 80, 0)))
OPENING = Contour(((10, 10, 0), (20, 10, 0), (20, 40, 0), (10, 40, 0)))


def plate(*rings, holes=(), bends=()):
    """Rings with the four holes of SQUARE and others: x, y, diameter."""
    four = [Hole(f"H{k}", ((float(x), float(y)),), 13.5) for k, (x, y) in enumerate(SQUARE, 1)]
    more = [Hole(f"H{k}", ((float(x), float(y)),), float(d)) for k, (x, y, d) in enumerate(holes, 5)]
    return Plate(rings, (*four, *more), tuple(Bent(*b) for b in bends))


def test_a_square_pattern_on_two_unlike_plates_goes_together_in_three_wrong_ways():
    found = compare(SQUARE, SQUARE)
    assert len(found.assemblies) == found.ways == 4
    assert len(wrong_ways(found, plate(CUT_CORNER), plate(WHOLE, OPENING))) == 3


def test_a_turn_that_lays_either_plate_on_itself_is_no_other_way():
    found = compare(SQUARE, SQUARE)
    assert not wrong_ways(found, plate(CUT_CORNER), plate(WHOLE))
    assert not wrong_ways(found, plate(WHOLE), plate(CUT_CORNER))
    halves = Contour(((-30, -20, 0), (90, -20, 0), (90, 80, 0), (-30, 80, 0)))
    assert len(wrong_ways(found, plate(halves), plate(CUT_CORNER))) == 2


def test_the_hole_to_move_leaves_one_way_only():
    stated, plates = case(SQUARE, SQUARE), (plate(CUT_CORNER), plate(WHOLE, OPENING))
    found = fit(stated)
    hole = guard(stated, found, *plates)
    moved = [
        (x + hole.move_a_mm[0], y + hole.move_a_mm[1]) if f"H{k}" == hole.a else (x, y)
        for k, (x, y) in enumerate(SQUARE, 1)
    ]
    again = compare(moved, moved)
    assert again.verdict == "GO"
    assert not wrong_ways(again, *plates)
    text, fix = turned_by_mistake(stated, found, ("A", "B"), plates)
    assert "turned 90°" in text
    assert hole.a in fix


@pytest.mark.parametrize(
    ("count", "turns"),
    [
        (3, "120°"),
        (4, "90°, or turned 180°"),
        (6, "60°, or turned 120°, or turned 180°"),
        (8, "45°, or turned 90°, or turned 135° and 1 more"),
    ],
)
def test_each_wrong_turn_is_named_once_and_the_rest_counted(count, turns):
    """Turned so far either way is one thing to look for: a circle of n holes has n - 1 wrong ways and n // 2 turns."""
    angles = [2 * math.pi * k / count for k in range(count)]
    ring = [(30 + 40 * math.cos(t), 30 + 40 * math.sin(t)) for t in angles]
    stated, found = case(ring, ring), compare(ring, ring)
    holes = tuple(Hole(f"H{k}", (p,), 13.5) for k, p in enumerate(ring, 1))
    plates = (Plate((CUT_CORNER,), holes), Plate((WHOLE, OPENING), holes))
    assert len(wrong_ways(found, *plates)) == count - 1
    text, _ = turned_by_mistake(stated, found, ("A", "B"), plates, (True, False))
    assert text == f"A also bolts up turned {turns}"


def turns_of(a, b):
    found = compare(SQUARE, SQUARE)
    return sorted(round(w.pose.angle_deg) % 360 for w in wrong_ways(found, a, b))


def test_a_hole_off_the_middle_tells_a_wrong_way_by_its_place_or_its_size():
    off, twice = plate(WHOLE, holes=[(30, 10, 9)]), plate(WHOLE, holes=[(30, 10, 9), (30, 50, 9)])
    other_size = plate(WHOLE, holes=[(30, 10, 9), (30, 50, 13.5)])
    assert turns_of(off, plate(CUT_CORNER)) == [90, 180, 270]
    assert turns_of(plate(CUT_CORNER), off) == [90, 180, 270]
    assert turns_of(twice, plate(CUT_CORNER)) == [90, 270]
    assert turns_of(other_size, plate(CUT_CORNER)) == [90, 180, 270]
    assert turns_of(plate(WHOLE, holes=[(30, 30, 40)]), off) == []


def test_a_bolted_hole_lies_where_its_bolt_says_but_a_larger_one_is_seen():
    """A hole 1.2 mm off its place still takes its bolt; turned, the plate lies 1.2 mm elsewhere at most."""
    one = plate(WHOLE)
    near = replace(one, holes=(replace(one.holes[0], core=((0.8, -0.8),)), *one.holes[1:]))
    large = replace(one, holes=(replace(one.holes[0], diameter_mm=17.0), *one.holes[1:]))
    assert turns_of(near, plate(CUT_CORNER)) == []
    assert turns_of(large, plate(CUT_CORNER)) == [90, 180, 270]


def test_a_bend_line_tells_a_wrong_way_by_its_place_or_by_which_way_it_is_bent():
    low, high = ((-20.0, 0.0), (80.0, 0.0)), ((-20.0, 60.0), (80.0, 60.0))
    one, both = plate(WHOLE, bends=[(*low, "up")]), plate(WHOLE, bends=[(*low, "up"), (*high, "up")])
    assert turns_of(one, plate(CUT_CORNER)) == [90, 180, 270]
    assert turns_of(both, plate(CUT_CORNER)) == [90, 270]
    assert turns_of(plate(WHOLE, bends=[(*low, "up"), (*high, "down")]), plate(CUT_CORNER)) == [90, 180, 270]


@settings(max_examples=25)
@given(
    st.lists(st.tuples(st.floats(-15, 15), st.floats(-15, 15), st.sampled_from([6, 9, 13])), max_size=3),
    st.sampled_from([1, 2, 4]),
)
def test_holes_repeated_all_around_leave_only_the_turns_that_do_not_meet_them(spots, times):
    """Holes laid out two or four times around the middle of the bolts look the same after that turn."""
    holes = []
    for x, y, d in spots:
        for k in range(times):
            px, py = Pose(360.0 / times * k).place((x, y))
            holes.append((30 + px, 30 + py, d))
    wrong = turns_of(plate(WHOLE, holes=holes), plate(CUT_CORNER))
    assert not [w for w in wrong if w % (360 // times) == 0]
    far = [s for s in spots if math.hypot(s[0], s[1]) > 5]
    if len(spots) == 1 and far and times < 4:
        assert wrong == [90, 180, 270] if times == 1 else [90, 270]
