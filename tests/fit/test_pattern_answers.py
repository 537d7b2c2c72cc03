"""What a comparison answers: verdict, margins, moves, what is left over, and what it refuses."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plates_of_holes import MOUNT_BASE, SQUARE, compare, holes, laid, ply, slot

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.layout import offset_mm
from ledger.fit.pattern import PatternCase, Ply, fit


def test_equal_patterns_lie_exactly_on_each_other():
    found = compare(MOUNT_BASE, MOUNT_BASE)
    assert found.pose == Pose(0.0, 0.0, 0.0)
    assert (found.verdict, found.margin_mm, found.worst_case_margin_mm, found.ways) == ("GO", 1.5, 1.5, 2)
    assert [p.offset_mm for p in found.pairs] == [0.0] * 4


@pytest.mark.parametrize(
    ("angle", "x", "y"), [(37.0, 250.0, -80.0), (-120.0, 0.5, 1000.0), (180.0, 0.0, 0.0)]
)
def test_a_laid_pattern_gives_the_pose_it_was_laid_in(angle, x, y):
    crooked = [(0.0, 0.0), (100.0, 0.0), (120.0, 70.0), (15.0, 60.0)]
    found = compare(crooked, laid(crooked, angle, x, y))
    assert found.pose == Pose(angle, x, y)
    assert found.margin_mm == 1.5


def test_a_square_goes_together_in_four_ways_and_turned_over_in_eight():
    assert compare(SQUARE, SQUARE).ways == 4
    assert compare(SQUARE, SQUARE, turned_over="either").ways == 8
    assert compare(SQUARE, SQUARE, turned_over="either").pose == Pose(0.0, 0.0, 0.0)


def test_among_equal_ways_the_smallest_turn_is_shown():
    found = compare(SQUARE, laid(SQUARE, 80.0, 5.0, 5.0))
    assert found.pose.angle_deg == pytest.approx(-10.0)


def test_holes_that_touch_the_limit_go_and_those_a_hair_over_do_not():
    assert compare([(0, 0), (100, 0)], [(0, 0), (103, 0)]).verdict == "GO"
    assert compare([(0, 0), (100, 0)], [(0, 0), (103.0001, 0)]).verdict == "NO-GO"


def test_a_missing_hole_stops_declared_groups_and_is_only_told_otherwise():
    declared = compare(ply(MOUNT_BASE, declared=True), ply(MOUNT_BASE[:3], declared=True))
    assert (declared.verdict, declared.unmatched_a, declared.margin_mm) == ("NO-GO", ("H4",), 1.5)
    assert declared.ways == 0
    bare = compare(MOUNT_BASE, MOUNT_BASE[:3])
    assert (bare.verdict, bare.unmatched_a) == ("GO", ("H4",))


def test_no_ply_passes_a_fastener_on_the_strength_of_the_other():
    found = compare(ply(MOUNT_BASE, 8.0, declared=True), ply(MOUNT_BASE, 18.0, declared=True))
    assert found.verdict == "NO-GO"
    assert {w.kind for w in found.wrong} == {"too small"}
    assert found.wrong[0].allowed_mm == pytest.approx(-2.0)
    assert found.margin_mm == pytest.approx(-2.0)
    assert not found.pairs


def test_one_small_hole_in_a_group_is_wrong_and_no_pair():
    mixed = Ply((*holes(MOUNT_BASE[:3]), Hole("H4", ((0.0, 60.0),), 8.0)), declared=True)
    found = compare(mixed, ply(MOUNT_BASE))
    assert [(w.a, w.b, w.kind) for w in found.wrong] == [("H4", "H4", "too small")]
    assert {p.a for p in found.pairs} == {"H1", "H2", "H3"}


def test_an_undeclared_small_hole_that_faces_a_candidate_is_wrong():
    mixed = Ply((*holes(MOUNT_BASE[:3]), Hole("pilot", ((0.5, 60.0),), 8.0)))
    found = compare(mixed, ply(MOUNT_BASE))
    assert [(w.a, w.b, w.kind) for w in found.wrong] == [("pilot", "H4", "too small")]
    assert found.verdict == "NO-GO"
    assert found.margin_mm < 0
    assert found.unmatched_b == ()


@pytest.mark.parametrize("declared", [False, True])
def test_a_displaced_hole_is_not_hidden_by_turning_a_square_plate(declared):
    """Turned a quarter the four corners agree as well and the fifth hole faces nothing: that is no better way."""
    a, b = [*SQUARE, (20.0, 27.0)], [*SQUARE, (25.0, 27.0)]
    found = compare(ply(a, declared=declared), ply(b, declared=declared))
    assert found.verdict == "NO-GO"
    assert [(w.a, w.b, w.kind) for w in found.wrong] == [("H5", "H5", "offset")]
    assert found.wrong[0].move_a_mm == pytest.approx((5.0, 0.0), abs=1e-9)
    assert found.pose == Pose(0.0, 0.0, 0.0)


def test_a_large_opening_is_no_bolt_hole_unless_declared():
    wide = (*holes(MOUNT_BASE), Hole("cable", ((50.0, 30.0),), 40.0))
    found = compare(Ply(wide), ply(MOUNT_BASE))
    assert found.verdict == "GO"
    assert found.unmatched_a == ()
    assert compare(Ply(wide, declared=True), ply(MOUNT_BASE)).unmatched_a == ("cable",)


def test_a_tapped_plate_pairs_tap_drills_with_clearance_holes():
    found = compare(ply(MOUNT_BASE), ply(MOUNT_BASE, 10.2), joint="tapped")
    assert (found.verdict, found.margin_mm) == ("GO", 0.75)


def test_captive_nuts_are_compared_only_as_a_declared_group():
    bare = compare(ply(MOUNT_BASE), ply(MOUNT_BASE, 17.0), joint="captive nut")
    assert bare.code == "no_common_pattern"
    assert any("named as a group" in note for note in bare.notes)
    assert (
        compare(ply(MOUNT_BASE), ply(MOUNT_BASE, 17.0, declared=True), joint="captive nut").margin_mm == 0.75
    )


def test_one_hole_claims_nothing_of_direction_and_says_so():
    found = compare(ply([(3, 4)], position_mm=0.2), ply([(30, 4)], position_mm=0.2))
    assert (found.verdict, found.margin_mm) == ("GO", 1.5)
    assert found.worst_case_margin_mm == pytest.approx(1.3)
    assert any(note.startswith("one hole") for note in found.notes)


def test_no_pattern_claims_nothing_at_all():
    found = compare(MOUNT_BASE, [(0, 0), (300, 0), (10, 200), (77, 77)])
    assert found.code == "no_common_pattern"
    assert found.margin_mm is found.worst_case_margin_mm is found.pose is found.tightest is None
    assert (found.pairs, found.wrong, found.unmatched_a, found.unmatched_b) == ((), (), (), ())
    assert (found.ways, found.proven) == (0, False)


def test_plies_without_holes_have_no_pattern():
    assert compare(Ply(()), ply(MOUNT_BASE)).code == "no_common_pattern"
    assert compare(Ply((), declared=True), Ply((), declared=True)).code == "no_common_pattern"


def test_a_stated_pose_is_judged_where_it_lies():
    here = compare(MOUNT_BASE, MOUNT_BASE, position=Pose(0.0, 0.4, 0.0))
    assert (here.verdict, here.margin_mm, here.pose) == ("GO", 1.1, Pose(0.0, 0.4, 0.0))
    there = compare(MOUNT_BASE, MOUNT_BASE, position=Pose(0.0, 2.0, 0.0))
    assert (there.verdict, there.margin_mm) == ("NO-GO", -0.5)
    assert len(there.wrong) == 4
    assert compare(MOUNT_BASE, MOUNT_BASE, position=Pose(0.0, 500.0, 0.0)).code == "no_common_pattern"


def test_the_worst_case_takes_shrinkage_tolerance_and_the_largest_fastener():
    a, b = ply(MOUNT_BASE, position_mm=0.3, shrink_mm=0.2), ply(MOUNT_BASE, position_mm=0.1)
    found = compare(a, b, largest_fastener_mm=12.2)
    assert found.margin_mm == 1.5
    assert found.worst_case_margin_mm == pytest.approx(1.5 - 0.1 - 0.2 - 0.2)


def test_the_worst_case_is_negative_where_one_ply_may_not_pass_the_fastener():
    a, b = ply(MOUNT_BASE, 12.1, shrink_mm=0.3), ply(MOUNT_BASE, 18.0)
    found = compare(a, b)
    assert (found.verdict, found.margin_mm) == ("GO", 3.05)
    assert found.worst_case_margin_mm == pytest.approx(-0.1)


def test_slotted_feet_go_on_a_base_whose_holes_lie_further_apart():
    feet = tuple(slot(f"S{k}", x, y, (5.0, 0.0)) for k, (x, y) in enumerate(MOUNT_BASE, 1))
    base = holes([(2, 0), (104, 0), (104, 60), (2, 60.5)])
    found = compare(Ply(feet), Ply(base))
    assert found.verdict == "GO"
    assert found.proven
    assert any("slots" in note for note in found.notes)
    offsets = [offset_mm(found.pose, s.core, h.core)[0] for s, h in zip(feet, base, strict=True)]
    assert found.margin_mm == pytest.approx(1.5 - max(offsets), abs=1e-8)
    assert compare(MOUNT_BASE, Ply(base)).margin_mm < found.margin_mm


@pytest.mark.parametrize(
    ("change"),
    [
        {"fastener_mm": math.nan},
        {"fastener_mm": 0.0},
        {"largest_fastener_mm": math.inf},
        {"a": Ply((Hole("H1", ((math.nan, 0.0),), 13.5),))},
        {"a": Ply((Hole("H1", ((0.0, 0.0),), math.nan),))},
        {"a": Ply((Hole("H1", ((0.0, 0.0),), -1.0),))},
        {"b": Ply(holes(MOUNT_BASE), position_mm=-0.1)},
        {"b": Ply(holes(MOUNT_BASE), shrink_mm=math.nan)},
        {"position": Pose(math.nan, 0.0, 0.0)},
    ],
)
def test_a_number_that_is_none_is_refused(change):
    case = {"a": ply(MOUNT_BASE), "b": ply(MOUNT_BASE), "fastener_mm": 12.0, "largest_fastener_mm": 12.0}
    with pytest.raises(BadInput):
        fit(PatternCase(**(case | change)))


POINTS = st.lists(st.tuples(st.integers(-60, 60), st.integers(-60, 60)), min_size=1, max_size=7, unique=True)
WANDER = st.lists(st.tuples(st.floats(-3, 3), st.floats(-3, 3)), min_size=7, max_size=7)


@settings(max_examples=60)
@given(POINTS, WANDER, st.sampled_from(["no", "yes", "either"]), st.booleans())
def test_every_answer_holds_together(points, wander, turned_over, declared):
    a = [(3.0 * x, 3.0 * y) for x, y in points]
    b = [(x + dx, y + dy) for (x, y), (dx, dy) in zip(a, wander, strict=False)]
    sides = (
        ply(a, declared=declared),
        ply(laid(b, 25, 7, -9, turned_over=turned_over == "yes"), declared=declared),
    )
    found = compare(*sides, turned_over=turned_over)
    assert found == compare(*sides, turned_over=turned_over)
    if found.code == "no_common_pattern":
        assert found.pose is None
        return
    used_a = [*(p.a for p in found.pairs), *(w.a for w in found.wrong), *found.unmatched_a]
    used_b = [*(p.b for p in found.pairs), *(w.b for w in found.wrong), *found.unmatched_b]
    assert sorted(used_a) == sorted(h.label for h in sides[0].holes)
    assert sorted(used_b) == sorted(h.label for h in sides[1].holes)
    by_label = [{h.label: h for h in side.holes} for side in sides]
    for p in (*found.pairs, *found.wrong):
        offset, _ = offset_mm(found.pose, by_label[0][p.a].core, by_label[1][p.b].core)
        assert offset == pytest.approx(p.offset_mm, abs=1e-8)
    assert all(p.margin_mm >= -1e-8 for p in found.pairs)
    assert found.worst_case_margin_mm <= found.margin_mm
    assert (found.margin_mm < 0) == bool(found.wrong)
    stopped = bool(found.wrong) or (declared and bool(found.unmatched_a or found.unmatched_b))
    assert (found.verdict == "NO-GO") == stopped
    assert (found.ways >= 1) == (found.verdict == "GO")
    assert found.pose.turned_over <= (turned_over != "no")
    if not found.wrong:
        assert found.margin_mm == pytest.approx(min(p.margin_mm for p in found.pairs), abs=1e-8)


@settings(max_examples=25)
@given(POINTS.filter(lambda p: len(p) >= 3), WANDER)
def test_swapping_the_plies_keeps_verdict_margin_and_ways_of_a_through_joint(points, wander):
    a = [(3.0 * x, 3.0 * y) for x, y in points]
    b = laid([(x + dx, y + dy) for (x, y), (dx, dy) in zip(a, wander, strict=False)], 40, 3, 3)
    there, back = compare(a, b, turned_over="either"), compare(b, a, turned_over="either")
    assert (there.verdict, len(there.pairs), there.ways) == (back.verdict, len(back.pairs), back.ways)
    if there.verdict == "GO":
        assert there.margin_mm == pytest.approx(back.margin_mm, abs=2e-6)
