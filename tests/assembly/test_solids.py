"""Solids: volumes, gaps and depths against what is reckoned by hand, and the same wherever everything stands."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from many_cases import hold, many_cases
from scipy.spatial.transform import Rotation

from ledger.assembly.folded import folded, solids_of
from ledger.assembly.solids import Flat, box_of, cylinder, depths, gap_mm, joined, placed, prism
from ledger.assembly.space import HERE, Bend, Frame

SQUARE = shapely.box(0, 0, 40, 40)


def moved(x, y=0.0, z=0.0):
    return Frame(np.eye(3), np.array([x, y, z], dtype=float))


def deep(one, other, flats=((), ())):
    return max((d.mm for d in depths(one, other, flats)), default=0.0)


def a_prism_has_the_area_of_its_sheet_times_its_height(seed):
    random = np.random.default_rng(seed)
    sheet = shapely.box(0, 0, *random.uniform(50, 200, 2))
    for _ in range(int(random.integers(0, 6))):
        sheet = sheet - shapely.Point(*random.uniform(0, 200, 2)).buffer(random.uniform(2, 20))
    high = random.uniform(1, 20)
    assert prism(sheet, -high, 0.0).volume() == pytest.approx(sheet.area * high, rel=1e-9)


@many_cases(suite=30, bench=1000)
def test_the_volume_of_a_prism(seeds):
    hold(a_prism_has_the_area_of_its_sheet_times_its_height, seeds)


def test_the_gap_between_two_boxes_and_between_a_box_and_a_cylinder():
    box = prism(SQUARE, 0, 10)
    assert gap_mm(box, placed(box, moved(43)), 100) == pytest.approx(3)
    assert gap_mm(box, placed(box, moved(43, 44)), 100) == pytest.approx(5)  # corner to corner, 3 and 4
    assert gap_mm(box, placed(box, moved(500)), 7) == 7  # no nearer than was asked
    assert gap_mm(box, placed(cylinder(6, 0, 10), moved(50, 20)), 100) == pytest.approx(4, abs=0.02)


@pytest.mark.parametrize(
    ("way", "expected"),
    [(moved(38), 2.0), (moved(0, 0, 7), 3.0), (moved(40), 0.0), (moved(0, 0, 10), 0.0), (moved(39.99), 0.01)],
)
def test_how_deep_two_boxes_are_in_each_other(way, expected):
    box = prism(SQUARE, 0, 10)
    assert deep(box, placed(box, way)) == pytest.approx(expected, abs=2e-3)


def test_a_rod_through_a_plate_is_as_deep_as_it_stands_out_or_is_from_the_edge():
    plate, rod = prism(SQUARE, -2, 0), placed(cylinder(3, -20, 30), moved(20, 20))
    flat = (Flat(SQUARE, HERE, 2.0),)
    assert deep(plate, rod) == pytest.approx(2.0, abs=2e-3)  # the ball that the sheet leaves
    assert deep(plate, rod, (flat, ())) == pytest.approx(
        19.0, abs=1.01
    )  # 20 less the middle plane, on a grid
    near = placed(cylinder(3, -20, 30), moved(20, 6))
    assert deep(plate, near, (flat, ())) <= 9.0
    assert deep(plate, near, (flat, ())) >= 7.5


def test_a_rod_is_not_sought_in_a_hole_of_what_goes_through_a_plate():
    plate, tube = prism(SQUARE, -2, 0), cylinder(8, -20, 30) - cylinder(6, -20, 30)
    found = [*depths(plate, placed(tube, moved(20, 20)), ((Flat(SQUARE, HERE, 2.0),), ()))]
    rods = [d for d in found if d.axis is not None]
    assert rods
    assert all(5.9 < math.hypot(*(d.at[0][:2] - 20)) < 8.1 for d in rods)


def depths_hold(seed):
    """Moved by less than it says, the one still is in the other; wherever both stand, it says the same."""
    random = np.random.default_rng(seed)
    sheet = shapely.box(0, 0, *random.uniform(30, 80, 2)) - shapely.Point(20, 20).buffer(5)
    one, flat = prism(sheet, -6, 0), (Flat(sheet, HERE, 6.0),)
    tall = prism(shapely.box(-3, -15, 3, 15), -40, 40)
    tilt = Rotation.from_rotvec(random.normal(0, 0.4, 3)).as_matrix()
    other = placed(tall, Frame(tilt, np.array([*random.uniform(0, 60, 2), random.uniform(-30, 30)])))
    found = deep(one, other, (flat, ()))
    for _ in range(5):
        way = random.normal(0, 1, 3)
        way *= found * 0.99 / np.linalg.norm(way)
        assert not (one ^ placed(other, moved(*way))).is_empty() or found == 0
    if found > 0:
        assert gap_mm(one, other, 10.0) == 0
    everywhere = Frame(Rotation.random(random_state=seed).as_matrix(), random.uniform(-500, 500, 3))
    there = deep(placed(one, everywhere), placed(other, everywhere), ((Flat(sheet, everywhere, 6.0),), ()))
    assert there == pytest.approx(found, rel=0.05, abs=0.01)
    assert gap_mm(placed(one, everywhere), placed(other, everywhere), 50.0) == pytest.approx(
        gap_mm(one, other, 50.0), abs=1e-6
    )


@many_cases(suite=40, bench=2000)
def test_what_is_deep_stays_in_and_a_rigid_motion_of_everything_changes_nothing(seeds):
    hold(depths_hold, seeds)


@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("angle", [30.0, 90.0, 120.0])
def test_an_angle_has_the_volume_of_its_flanges_and_its_sector(angle, up):
    t, r, wide = 6.0, 8.0, 50.0
    allowance = math.radians(angle) * (r + 0.44 * t)
    sheet = shapely.box(0, 0, 200, wide)
    bend = Bend((100, 0), (100, wide), angle, r, allowance, t, up)
    made = folded(sheet, (bend,))
    solid = joined(solids_of(made, sheet, t, 0.0))
    swept = math.radians(angle) / 2 * ((r + t) ** 2 - r * r) * wide
    assert solid.volume() == pytest.approx((200 - allowance) * wide * t + swept, rel=2e-4)
    pieces = solids_of(made, sheet, t, 0.0)
    assert all(gap_mm(p, pieces[-1], 5.0) < 1e-6 for p in pieces[:-1])  # both flanges meet the bend


def test_a_square_bend_has_its_legs_outside_where_they_are_reckoned():
    t, r, wide = 6.0, 6.0, 50.0
    allowance = math.pi / 2 * (r + 0.44 * t)
    sheet = shapely.box(0, 0, 200, wide)
    made = folded(sheet, (Bend((100, 0), (100, wide), 90.0, r, allowance, t, True),))
    low_x, _, low_z, high_x, _, high_z = box_of(joined(solids_of(made, sheet, t, 0.0)))
    leg = 100 - allowance / 2 + r + t
    root = made.pieces[0].flat.bounds[0]  # the larger flange is as drawn, whichever side it is on
    assert {round(high_x - low_x, 6), round(high_z - low_z, 6)} == {round(leg, 6)}
    assert root in (0.0, 100 + allowance / 2)


def test_a_sheet_that_its_bend_lines_do_not_part_is_not_folded():
    sheet = shapely.box(0, 0, 200, 50)
    assert folded(sheet, (Bend((100, 10), (100, 30), 90.0, 6.0, 10.0, 6.0, True),)) is None


def test_a_tab_that_is_cut_free_on_three_sides_is_folded_from_the_plate_around_it():
    cut = shapely.box(20, 20, 80, 60) - shapely.box(22, 20, 78, 58)
    sheet = shapely.box(0, 0, 100, 100) - cut
    made = folded(sheet, (Bend((22, 22), (78, 22), 90.0, 3.0, 6.0, 3.0, True),))
    assert made is not None
    assert len(made.pieces) == 2
    tab = made.piece_at([(50, 40)])
    assert tab.frame.place(np.array([50.0, 40.0, 0.0]))[2] > 10
    assert made.piece_at([(50, 40), (10, 50)]) is None
