"""What each joint takes up, what the worst case takes, and which holes are taken for its own."""

from __future__ import annotations

import math

import pytest

from ledger.fit.joint import (
    bolt_hole_range_mm,
    charge_mm,
    clears,
    passage_mm,
    take_up_mm,
    unprojected_mm,
)

FIXED = ("tapped", "stud", "captive nut", "dowel")


def test_a_through_joint_takes_up_the_play_of_both_holes():
    assert take_up_mm("through", 6.75, 7.25, 12.0) == pytest.approx(2.0)


@pytest.mark.parametrize("joint", FIXED)
def test_a_fixed_joint_takes_up_the_play_of_the_clearance_hole_alone(joint):
    assert take_up_mm(joint, 6.75, 5.1, 12.0) == pytest.approx(0.75)
    assert not clears(joint, "b")


def test_a_countersunk_head_leaves_only_the_other_plys_play():
    assert take_up_mm("countersunk", 6.0, 6.75, 12.0) == pytest.approx(0.75)
    assert clears("countersunk", "b")


@pytest.mark.parametrize(
    ("joint", "charge"),
    [("through", 0.1 + 0.3 + 0.5 + 0.35), ("tapped", 0.1 + 0.25 + 0.35), ("countersunk", 0.3 + 0.25 + 0.35)],
)
def test_the_worst_case_charges_shrinkage_fastener_and_half_of_both_tolerances(joint, charge):
    taken = charge_mm(joint, shrink_mm=(0.2, 0.6), position_mm=(0.4, 0.3), thicker_mm=0.5)
    assert taken == pytest.approx(charge)


def test_a_clearance_hole_is_at_least_the_fastener_and_below_three_times_it():
    low, high = bolt_hole_range_mm("through", "a", 12.0)
    assert low <= 12.0 <= high
    assert low > 11.99
    assert high < 36.0


def test_a_tapped_hole_may_be_drawn_as_tap_drill_or_as_thread():
    low, high = bolt_hole_range_mm("tapped", "b", 12.0)
    assert low <= 9.0
    assert high >= 12.6
    assert low < 10.2 < high


@pytest.mark.parametrize("joint", ["captive nut", "dowel"])
def test_holding_holes_of_nuts_and_dowels_are_only_known_when_declared(joint):
    assert bolt_hole_range_mm(joint, "b", 12.0) is None
    assert bolt_hole_range_mm(joint, "a", 12.0) is not None


def test_a_hole_of_the_fasteners_size_passes_it_with_no_room():
    assert passage_mm(6.0, 12.0) == 0.0
    assert passage_mm(6.0, 12.0, 0.1) == pytest.approx(-0.05)


def test_without_a_projected_zone_the_holding_plys_tolerance_grows_with_the_lean():
    assert unprojected_mm(0.2, clearance_ply_mm=10.0, engagement_mm=20.0) == pytest.approx(0.4)
    assert math.isclose(unprojected_mm(0.2, clearance_ply_mm=0.0, engagement_mm=20.0), 0.2)
