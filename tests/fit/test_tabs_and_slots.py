"""Tabs and slots are found however the plates lie, and are seated where the tightest has the most room."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole
from ledger.fit.tabs import Slot, Tab, seat_tabs, slots_of, tabs_of

poses = st.builds(Pose, st.floats(-180, 180), st.floats(-500, 500), st.floats(-500, 500), st.booleans())


def ring(*points):
    return Contour(tuple((float(x), float(y), 0.0) for x, y in points))


def comb(places, width=30.0, length=10.0, relief=0.0):
    """A plate 400 x 100 with tabs downwards from its lower edge, with or without square reliefs beside them."""
    points = [(0, 0)]
    for at in places:
        left, right = at - width / 2, at + width / 2
        if relief:
            points += [(left - relief, 0), (left - relief, relief), (left, relief)]
        else:
            points.append((left, 0))
        points += [(left, -length), (right, -length)]
        points += [(right, relief), (right + relief, relief), (right + relief, 0)] if relief else [(right, 0)]
    return ring(*points, (400, 0), (400, 100), (0, 100))


@settings(max_examples=50)
@given(poses)
def test_tabs_are_found_however_the_plate_lies(pose):
    found = tabs_of(pose.place_contour(comb((60, 200, 330))))
    assert [(round(t.width_mm, 6), round(t.length_mm, 6), t.shoulders) for t in found] == [(30, 10, 2)] * 3
    places = sorted(t.place_mm for t in found)
    assert sorted([places[1] - places[0], places[2] - places[1]]) == pytest.approx([130, 140])


def test_reliefs_beside_tabs_count_as_shoulders():
    found = tabs_of(comb((60, 200), relief=2.0))
    assert [(t.width_mm, t.length_mm) for t in found] == [(30.0, 10.0)] * 2


def test_a_tab_at_the_end_of_an_edge_has_one_shoulder_and_counts_where_no_other_has_two():
    found = tabs_of(ring((0, -10), (30, -10), (30, 0), (200, 0), (200, 100), (0, 100)))
    assert [(t.width_mm, t.length_mm, t.shoulders) for t in found if t.out == (0.0, -1.0)] == [
        (30.0, 10.0, 1)
    ]


def test_a_plain_plate_and_a_round_one_have_no_tabs():
    assert tabs_of(ring((0, 0), (200, 0), (200, 100), (0, 100))) == ()
    assert tabs_of(Hole("", ((0.0, 0.0),), 100.0).contour()) == ()


@settings(max_examples=50)
@given(poses, st.floats(5, 40), st.floats(1, 4.9))
def test_a_rectangular_opening_is_a_slot_of_its_sides(pose, long, wide):
    (slot,) = slots_of([pose.place_contour(ring((0, 0), (long, 0), (long, wide), (0, wide)))], ())
    assert (slot.length_mm, slot.width_mm) == pytest.approx((long, wide))
    assert slot.middle == pytest.approx(pose.place((long / 2, wide / 2)))


def test_corner_reliefs_leave_the_clear_size_of_a_slot():
    bones = ring(
        (1, 0), (29, 0), (29, -1), (31, -1), (31, 1), (30, 1), (30, 9), (31, 9), (31, 11), (29, 11),
        (29, 10), (1, 10), (1, 11), (-1, 11), (-1, 9), (0, 9), (0, 1), (-1, 1), (-1, -1), (1, -1),
    )  # fmt: skip
    (slot,) = slots_of([bones], ())
    assert (slot.length_mm, slot.width_mm) == (30.0, 10.0)


def test_round_ends_stop_a_sheet_at_its_corners():
    """A sheet as thick as half the width: its corners meet the round end at r cos 30 from the end's centre."""
    (slot,) = slots_of((), [Hole("H1", ((0.0, 0.0), (20.0, 0.0)), 10.0)])
    assert slot.clear_length_mm(5.0) == pytest.approx(20 + 2 * 5 * math.cos(math.radians(30)))
    assert slot.clear_length_mm(10.0) == 20.0


def test_a_triangle_is_no_slot():
    assert slots_of([ring((0, 0), (30, 0), (0, 10))], ()) == ()


def tab(place, width):
    return Tab((place, 0.0), (0.0, -1.0), width, 10.0, 2)


def slot(place, length):
    return Slot((place, 0.0), (1.0, 0.0), length, 10.5)


rows = st.lists(
    st.tuples(st.floats(-0.4, 0.4), st.floats(20, 30), st.floats(-0.2, 1.0)), min_size=1, max_size=5
)


@settings(max_examples=80)
@given(rows, st.floats(-300, 300))
def test_the_spare_room_is_the_best_over_all_shifts(strays, moved):
    """Against a scan in steps of 0.01 mm over the shifts that could be best."""
    places = [100.0 * k * (1 + 0.07 * k) for k in range(len(strays))]  # no two spacings alike: one way only
    tabs = [tab(p, w) for p, (_, w, _) in zip(places, strays, strict=True)]
    slots = [slot(p + dx + moved, w + more) for p, (dx, w, more) in zip(places, strays, strict=True)]
    fit = seat_tabs(tabs, slots, 10.0)

    def room(shift):
        return min(
            (s.length_mm - t.width_mm) / 2 - abs(t.place_mm + shift - s.middle[0])
            for t, s in zip(tabs, slots, strict=True)
        )

    assert fit.tabs_left == ()
    scanned = max(room(moved + k / 100) for k in range(-100, 101))
    assert scanned - 1e-9 <= fit.spare_mm <= scanned + 0.006 or len(strays) <= 2


def test_tabs_go_in_turned_end_for_end_where_only_that_fits():
    tabs = [tab(0, 20), tab(50, 30), tab(150, 20)]
    slots = [slot(0, 21), slot(100, 31), slot(150, 21)]
    fit = seat_tabs(tabs, slots, 10.0)
    assert fit.spare_mm == pytest.approx(0.5)
    assert fit.tabs_left == ()


def test_spare_slots_and_left_tabs_are_counted():
    assert seat_tabs([tab(0, 20)], [slot(0, 21), slot(90, 21)], 10.0).slots_left == 1
    fit = seat_tabs([tab(0, 20), tab(90, 20)], [slot(0, 21)], 10.0)
    assert (len(fit.seated), len(fit.tabs_left)) == (1, 1)
    assert seat_tabs([], [slot(0, 21)], 10.0) is None
    assert seat_tabs([tab(0, 20)], [], 10.0) is None
