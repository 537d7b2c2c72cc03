"""Rings of lines and arcs keep area, length and box, whichever way they are run."""

import itertools
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ledger.domain.shape import Contour, Hole, Profile, arc_of, edge_length, profile_from_json

PLATE = Contour(((0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 60.0, 0.0), (0.0, 60.0, 0.0)))

coordinate = st.floats(-500, 500).map(lambda x: round(x, 3))
bulge = st.one_of(st.just(0.0), st.floats(-2, 2).filter(lambda b: abs(b) > 1e-3))


@st.composite
def rings(draw):
    vertices = draw(st.lists(st.tuples(coordinate, coordinate, bulge), min_size=3, max_size=8))
    ring = Contour(tuple(vertices))
    assume(all(math.dist(a, b) > 1 for a, b, _ in ring.edges()))
    return ring


def test_a_circle_of_two_arcs_has_the_area_and_length_of_a_circle():
    rim = Hole("H1", ((7.0, -3.0),), 13.5).contour()
    assert math.pi * 6.75**2 == pytest.approx(rim.area_mm2, rel=1e-14)
    assert math.pi * 13.5 == pytest.approx(rim.length_mm, rel=1e-14)
    assert rim.box == pytest.approx((0.25, -9.75, 13.75, 3.75))


def test_a_slot_is_a_rectangle_with_round_ends():
    slot = Hole("H1", ((0.0, 0.0), (12.0, 5.0)), 8.0)
    assert slot.is_slot
    assert slot.centre == (6.0, 2.5)
    assert 13 * 8 + math.pi * 16 == pytest.approx(slot.contour().area_mm2, rel=1e-12)
    assert 26 + math.pi * 8 == pytest.approx(slot.contour().length_mm, rel=1e-12)
    assert slot.contour().box == pytest.approx((-4, -4, 16, 9))


def test_a_plate_with_round_corners_has_the_area_of_its_closed_form():
    r, b = 5.0, math.tan(math.pi / 8)
    right, left = ((100 - r, 0, b), (100, r, 0), (100, 60 - r, b)), ((r, 60, b), (0, 60 - r, 0), (0, r, b))
    ring = Contour(((r, 0, 0), *right, (100 - r, 60, 0), *left))
    assert 100 * 60 - (4 - math.pi) * r * r == pytest.approx(ring.area_mm2, rel=1e-14)
    assert ring.box == pytest.approx((0, 0, 100, 60))


@given(rings())
def test_running_a_ring_the_other_way_turns_the_area_and_keeps_the_length(ring):
    other = ring.reversed()
    assert other.area_mm2 == pytest.approx(-ring.area_mm2, rel=1e-9, abs=1e-6)
    assert other.length_mm == pytest.approx(ring.length_mm, rel=1e-12)
    assert other.box == pytest.approx(ring.box, abs=1e-9)


@given(rings())
def test_a_ring_reversed_twice_is_itself(ring):
    assert set(ring.reversed().reversed().vertices) == set(ring.vertices)


@given(rings(), st.sampled_from([0.001, 0.05, 1.0]))
def test_the_box_holds_every_flattened_point(ring, sagitta):
    low_x, low_y, high_x, high_y = ring.box
    for x, y in ring.flattened(sagitta):
        assert low_x - 1e-9 <= x <= high_x + 1e-9
        assert low_y - 1e-9 <= y <= high_y + 1e-9


@given(rings(), st.sampled_from([0.001, 0.05, 1.0]))
def test_the_box_is_no_larger_than_the_flattened_points_and_the_sagitta(ring, sagitta):
    points = ring.flattened(sagitta)
    around = [f(p[axis] for p in points) for f in (min, max) for axis in (0, 1)]
    assert around == pytest.approx(ring.box, abs=sagitta + 1e-9)


@given(rings(), st.sampled_from([0.001, 0.05, 1.0]))
def test_no_chord_is_farther_from_its_arc_than_the_sagitta(ring, sagitta):
    for a, b, bulge_ in ring.edges():
        if bulge_:
            (cx, cy), radius, _, _ = arc_of(a, b, bulge_)
            points = [*Contour(((*a, bulge_), (*b, 0.0))).flattened(sagitta)]
            for p, q in itertools.pairwise(points):
                middle = math.dist(((p[0] + q[0]) / 2, (p[1] + q[1]) / 2), (cx, cy))
                assert radius - middle <= sagitta + 1e-9


@given(rings(), st.integers(0, 7))
def test_the_canonical_ring_does_not_depend_on_its_start_or_its_sense(ring, turn):
    v = ring.vertices
    assume(len({(round(p[1], 6), round(p[0], 6)) for p in v}) == len(v))
    assume(abs(ring.area_mm2) > 1)
    turned = Contour(v[turn % len(v) :] + v[: turn % len(v)])
    assert turned.canonical() == ring.canonical()
    assert ring.reversed().canonical().vertices == ring.canonical().vertices


@given(rings())
def test_edge_lengths_add_up_to_the_length(ring):
    assert math.fsum(edge_length(a, b, k) for a, b, k in ring.edges()) == pytest.approx(ring.length_mm)


def test_a_profile_knows_its_net_area_and_size():
    profile = Profile(PLATE, holes=(Hole("H1", ((50.0, 30.0),), 20.0),), outlines=(PLATE,))
    assert profile.area_mm2 == pytest.approx(6000 - math.pi * 100)
    assert profile.cut_length_mm == pytest.approx(320 + math.pi * 20)
    assert profile.size_mm == (100.0, 60.0)
    assert profile.hole("H1") is profile.holes[0]
    assert profile.hole("H2") is None


@given(st.lists(rings(), max_size=3), st.lists(st.tuples(coordinate, coordinate), max_size=4))
def test_a_profile_comes_back_from_json_as_it_went(openings, places):
    holes = tuple(Hole(f"H{n}", (p,), 9.0) for n, p in enumerate(places, 1))
    profile = Profile(PLATE, holes=holes, openings=tuple(openings), outlines=(PLATE,))
    assert profile_from_json(profile.to_json()) == profile
