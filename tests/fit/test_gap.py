"""The smallest gap is that of the true lines and arcs; sticking out of an opening is a negative clearance."""

import math

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole
from ledger.fit.gap import clears, smallest_gap
from ledger.fit.overlap import Region, flat_region, flat_ring
from ledger.fit.rims import united

ELL = Contour(
    (
        (0.0, 0.0, 0.0),
        (200.0, 0.0, 0.0),
        (200.0, 50.0, 0.0),
        (50.0, 50.0, 0.0),
        (50.0, 200.0, 0.0),
        (0.0, 200.0, 0.0),
    )
)
# Two legs 50 wide and a notch of 100 between them.
FORK = Contour(
    (
        *((0.0, 0.0, 0.0), (200.0, 0.0, 0.0), (200.0, 200.0, 0.0), (150.0, 200.0, 0.0)),
        *((150.0, 50.0, 0.0), (50.0, 50.0, 0.0), (50.0, 200.0, 0.0), (0.0, 200.0, 0.0)),
    )
)
HALF_RING = Contour(((-30.0, 0.0, -1.0), (30.0, 0.0, 0.0), (40.0, 0.0, 1.0), (-40.0, 0.0, 0.0)))


def disc(x, y, diameter):
    return Hole("H1", ((float(x), float(y)),), float(diameter)).contour()


def plate(x, y, width, height):
    return Contour(((x, y, 0.0), (x + width, y, 0.0), (x + width, y + height, 0.0), (x, y + height, 0.0)))


def gap(a, b):
    return smallest_gap(Region(a), Region(b))


GAPS = {
    "two plates side by side": (plate(0, 0, 100, 60), plate(104.5, 10, 20, 20), 4.5),
    "corner to corner": (plate(0, 0, 10, 10), plate(13, 14, 10, 10), 5.0),
    "two discs": (disc(0, 0, 10), disc(20, 5, 6), math.hypot(20, 5) - 8),
    "disc to an edge": (disc(0, 0, 10), plate(8, -30, 4, 100), 3.0),
    "disc to a corner": (disc(0, 0, 10), plate(6, 8, 4, 100), 5.0),
    "disc within a half ring, the arc hollow towards it": (disc(0, 10, 10), HALF_RING, 15.0),
    "disc on the centre of a half ring": (disc(0, 0, 10), HALF_RING, 25.0),
    "disc below a half ring, to the ends of its arcs": (disc(0, -30, 10), HALF_RING, math.hypot(30, 30) - 5),
    "two half rings hooked into each other, each end inside the other's hollow": (
        HALF_RING,
        Contour(tuple((x + 35, 12 - y, -b) for x, y, b in HALF_RING.vertices)),
        30 - math.hypot(5, 12),
    ),
    "touching along an edge": (plate(0, 0, 10, 10), plate(10, 2, 5, 5), 0.0),
    "touching discs": (disc(0, 0, 10), disc(6, 8, 10), 0.0),
    "crossing": (plate(0, 0, 10, 10), plate(5, 5, 10, 10), 0.0),
    "crossing only through the arcs": (disc(0, 0, 20), plate(9.9, -1, 30, 2), 0.0),
    "one within the other": (plate(0, 0, 100, 100), disc(50, 50, 5), 0.0),
    "a slip of a hundredth of a micron": (plate(0, 0, 10, 10), plate(10 + 1e-5, 0, 5, 5), 1e-5),
}


@pytest.mark.parametrize(("a", "b", "distance"), GAPS.values(), ids=GAPS)
def test_the_gap_is_that_of_the_closed_form_from_either_side(a, b, distance):
    there, back = gap(a, b), gap(b, a)
    assert there.distance_mm == pytest.approx(distance, abs=1e-9)
    assert back.distance_mm == pytest.approx(distance, abs=1e-9)
    assert math.dist(there.at_a, there.at_b) == pytest.approx(distance, abs=1e-9)


def test_a_collar_in_an_opening_keeps_its_gap_to_the_rim():
    base = Region(plate(0, 0, 100, 100), (disc(50, 50, 40), disc(10, 10, 9)))
    found = smallest_gap(base, Region(disc(52, 50, 30)))
    assert found.distance_mm == pytest.approx(3.0)
    assert found.at_a == pytest.approx((70, 50))
    assert found.at_b == pytest.approx((67, 50))
    turned = smallest_gap(Region(disc(50, 48, 30)), base)
    assert turned.distance_mm == pytest.approx(3.0)
    assert turned.at_b == pytest.approx((50, 30))


def test_a_plate_that_lies_on_material_between_holes_has_no_gap():
    base = Region(plate(0, 0, 100, 100), (disc(50, 50, 40), disc(10, 10, 9)))
    assert smallest_gap(base, Region(disc(85, 85, 5))).distance_mm == 0.0
    assert smallest_gap(Region(disc(85, 85, 5)), base).distance_mm == 0.0


def test_a_centre_on_the_line_of_two_rim_vertices_is_inside():
    """The chord of the two half circles runs through it."""
    assert smallest_gap(Region(disc(0, 0, 100)), Region(disc(0, 0, 10))).distance_mm == 0.0
    assert clears(disc(0, 0, 10), disc(0, 0, 100)).distance_mm == pytest.approx(45)


def test_the_nearest_arc_is_found_even_where_its_chord_is_farther_than_another_edge():
    """Above the disc a chord lies 0.01 mm below its arc, so the chords alone would favour the edge on the right."""
    corner = ((53.005, 53.0, 0.0), (53.005, -60.0, 0.0), (70.0, -60.0, 0.0))
    ell = Contour((*corner, (70.0, 70.0, 0.0), (-60.0, 70.0, 0.0), (-60.0, 53.0, 0.0)))
    assert gap(disc(0, 0, 100), ell).distance_mm == pytest.approx(3.0, abs=1e-9)


def test_an_earlier_flattening_is_carried_along():
    rough = Contour(plate(0, 0, 10, 10).vertices, chord_error_mm=0.001)
    found = gap(rough, plate(12, 0, 10, 10))
    assert (found.distance_mm, found.error_mm, found.least_mm) == (2.0, 0.001, 1.999)


CLEARANCES = {
    "shaft in a bore": (disc(0, 0, 30), disc(1, 0, 40), 4.0),
    "shaft low in a bore": (disc(0, 0, 30), disc(0, 1, 40), 4.0),
    "shaft off to one side of a bore, not along an axis": (disc(3, 4, 10), disc(0, 0, 30), 5.0),
    "shaft that fills the bore": (disc(0, 0, 30), disc(0, 0, 30), 0.0),
    "shaft that touches the bore": (disc(0, 0, 30), disc(5, 0, 40), 0.0),
    "shaft too far to one side": (disc(0, 0, 30), disc(1, 0, 31), -0.5),
    "plate a little too wide": (plate(0, 0, 30, 30), plate(-1, -1, 25, 50), -6.0),
    "plate that fills the opening": (plate(0, 0, 30, 30), plate(0, 0, 30, 30), 0.0),
    "plate beside the opening": (plate(0, 0, 30, 30), plate(100, 0, 25, 50), -100.0),
    "plate around the opening": (plate(0, 0, 30, 30), plate(10, 10, 5, 5), -math.hypot(15, 15)),
    "square over the notch of an ell, worst at its far corner": (plate(10, 10, 150, 150), ELL, -110.0),
    "bar over the notch, its ends in the legs, worst in the middle": (plate(20, 150, 170, 10), FORK, -50.0),
    "square peg whose corners stick out of a round hole": (
        plate(-9, -9, 18, 18),
        disc(0, 0, 22),
        11 - 9 * 2**0.5,
    ),
    "round peg in a square hole": (disc(0, 0, 18), plate(-10, -10, 20, 20), 1.0),
}


@pytest.mark.parametrize(("inner", "opening", "distance"), CLEARANCES.values(), ids=CLEARANCES)
def test_a_ring_clears_an_opening_or_sticks_out_at_worst(inner, opening, distance):
    found = clears(inner, opening)
    assert abs(found.distance_mm - distance) <= found.error_mm + 1e-9
    assert found.error_mm <= 0.002


def test_a_ring_that_sticks_out_says_where():
    found = clears(plate(0, 0, 30, 30), plate(-1, -1, 25, 50))
    assert found.at_a[0] == pytest.approx(30)
    assert found.at_b[0] == pytest.approx(24)
    assert found.least_mm < -6


def test_a_ring_that_crosses_itself_is_refused():
    bow = Contour(((0.0, 0.0, 0.0), (10.0, 10.0, 0.0), (10.0, 0.0, 0.0), (0.0, 10.0, 0.0)))
    for question in (
        lambda: gap(bow, disc(50, 0, 5)),
        lambda: clears(bow, ELL),
        lambda: clears(disc(5, 5, 1), bow),
    ):
        with pytest.raises(BadInput):
            question()


SAGITTAS = (
    1e-3,
    1e-4,
)  # every one the tests below flatten with: a ring may cross itself at one and not the other


@st.composite
def stars(draw, x, y, reach):
    """A ring around a centre, of lines and of arcs that bend either way."""
    count = draw(st.integers(3, 7))
    radii = draw(st.lists(st.floats(0.5, 1), min_size=count, max_size=count))
    bulges = draw(st.lists(st.sampled_from([0.0, 0.3, -0.2, 0.1, 1e-9]), min_size=count, max_size=count))
    turn = draw(st.floats(0, 6))
    corners = [(reach * r, turn + 2 * math.pi * k / count) for k, r in enumerate(radii)]
    ring = Contour(
        tuple(
            (x + r * math.cos(t), y + r * math.sin(t), b) for (r, t), b in zip(corners, bulges, strict=True)
        )
    )
    try:
        for sagitta in SAGITTAS:
            flat_ring(ring, sagitta)
    except BadInput:
        assume(False)
    return ring


@settings(max_examples=60)
@given(st.data(), st.floats(-90, 90), st.floats(-90, 90))
def test_the_gap_agrees_with_finely_flattened_rings(data, x, y):
    a, b = data.draw(stars(0.0, 0.0, 40.0)), data.draw(stars(x, y, 25.0))
    assert gap(a, b).distance_mm == pytest.approx(flat_ring(a, 1e-4).distance(flat_ring(b, 1e-4)), abs=3e-4)


@settings(max_examples=40)
@given(st.data(), st.floats(-25, 25), st.floats(-25, 25))
def test_no_point_of_a_ring_sticks_out_farther_than_the_worst(data, x, y):
    inner, opening = data.draw(stars(x, y, 20.0)), data.draw(stars(0.0, 0.0, 40.0))
    found = clears(inner, opening)
    ring, hole = flat_ring(inner, 1e-3), flat_ring(opening, 1e-3)
    out = shapely.distance(
        shapely.points(shapely.get_coordinates(shapely.segmentize(ring.exterior, 0.1))), hole
    ).max()
    if out > 0.002:
        assert -found.distance_mm + found.error_mm >= out - 0.002
        assert -found.distance_mm <= out + 0.1
    else:
        assert found.distance_mm == pytest.approx(ring.exterior.distance(hole.exterior), abs=0.003)


@settings(max_examples=30)
@given(st.data(), st.floats(-180, 180), st.booleans())
def test_moving_both_plates_keeps_the_gap(data, angle, turned_over):
    pose = Pose(angle, 31.0, -17.0, turned_over)
    a, b = data.draw(stars(0.0, 0.0, 20.0)), data.draw(stars(45.0, 10.0, 20.0))
    moved = gap(pose.place_contour(a), pose.place_contour(b))
    assert moved.distance_mm == pytest.approx(gap(a, b).distance_mm, abs=1e-8)


OPEN = plate(10, 10, 200, 100)
CROSSED = {
    "a hole that lies within the opening": (disc(100, 60, 18), 41.0),
    "an opening within the opening": (plate(60, 20, 90, 80), 41.0),
    "a hole across the rim of the opening, farther away": (disc(210, 20, 10), 41.0),
    "an opening that touches the opening": (plate(210, 10, 50, 100), 41.0),
    "the same opening drawn twice": (OPEN, 41.0),
}


@pytest.mark.parametrize(("more", "distance"), CROSSED.values(), ids=CROSSED)
def test_cut_outs_that_cross_or_hold_each_other_count_where_material_ends(more, distance):
    """A disc of 18 mm lies 41 mm from the left and the lower rim of an opening."""
    base, one = Region(plate(-100, -100, 500, 400), (OPEN, more)), Region(disc(60, 60, 18))
    found, back = smallest_gap(one, base), smallest_gap(base, one)
    assert found.distance_mm == pytest.approx(distance, abs=1e-9)
    assert back.distance_mm == pytest.approx(distance, abs=1e-9)


def test_a_notch_beyond_the_outline_has_no_rim_there():
    notched = Region(plate(0, 0, 100, 100), (plate(80, 40, 60, 20),))
    assert gap(plate(0, 0, 100, 100), plate(130, 45, 10, 10)).distance_mm == 30
    assert smallest_gap(notched, Region(plate(130, 45, 10, 10))).distance_mm == pytest.approx(
        math.hypot(30, 5)
    )
    assert smallest_gap(notched, Region(plate(85, 45, 10, 10))).distance_mm == pytest.approx(5)


def test_a_plate_of_which_nothing_is_left_has_no_gap():
    gone = Region(plate(0, 0, 10, 10), (plate(-5, -5, 20, 20),))
    assert smallest_gap(gone, Region(plate(30, 0, 10, 10))).distance_mm == math.inf


@settings(max_examples=40)
@given(st.data(), st.lists(st.tuples(st.floats(-25, 25), st.floats(-25, 25)), min_size=2, max_size=4))
def test_the_gap_to_cut_outs_that_lie_anyhow_agrees_with_their_union(data, places):
    base = Region(plate(-40, -40, 80, 80), tuple(data.draw(stars(x, y, 15.0)) for x, y in places))
    one = Region(disc(data.draw(st.floats(-60, 60)), data.draw(st.floats(-60, 60)), 4))
    left = flat_region(base, 1e-4)
    assume(left.area > 1)
    assert smallest_gap(one, base).distance_mm == pytest.approx(
        left.distance(flat_region(one, 1e-4)), abs=3e-4
    )


def test_openings_that_run_into_each_other_are_one_opening():
    """A slot and a round hole at its middle: the key of a shaft has the room of both."""
    key = united((disc(50, 50, 40), plate(20, 45, 60, 10), disc(150, 50, 9)))
    assert len(key) == 2
    assert max(clears(plate(22, 46, 40, 8), rim).distance_mm for rim in key) == pytest.approx(1, abs=0.003)
    assert max(clears(disc(50, 50, 30), rim).distance_mm for rim in key) == pytest.approx(5, abs=0.003)
    apart = (disc(0, 0, 10), disc(20, 0, 10))
    assert united(apart) == apart
