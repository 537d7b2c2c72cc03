"""Labels follow holes from drawing to drawing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from profile_drawings import box, circle, closed, polygon, raw, read

from ledger.domain.shape import Hole, Profile
from ledger.profile.labels import carry_labels


def profile(*holes):
    """Holes as (label, x, y, diameter)."""
    return Profile(None, holes=tuple(Hole(label, ((x, y),), d) for label, x, y, d in holes))


OLD = profile(("H1", 10, 50, 8), ("H2", 90, 50, 8), ("H4", 50, 20, 20))


def labels(carried):
    return {h.centre: h.label for h in carried.holes}


def test_the_same_drawing_keeps_every_label_without_a_word():
    renamed = replace(OLD, holes=tuple(replace(h, label=f"H{9 - k}") for k, h in enumerate(OLD.holes)))
    carried, told = carry_labels(renamed, OLD)
    assert [h.label for h in carried.holes] == ["H1", "H2", "H4"]
    assert told == ()


def test_a_hole_that_moved_a_little_keeps_its_label_and_is_told():
    carried, told = carry_labels(profile(("H1", 10.5, 50, 8), ("H2", 90, 50, 8), ("H3", 50, 20, 20)), OLD)
    assert labels(carried)[10.5, 50] == "H1"
    assert [(f.code, f.severity, f.where, f.measured) for f in told] == [
        ("hole_moved", "note", "H1", "0.500 mm")
    ]


@pytest.mark.parametrize(("x", "kept"), [(13.9, True), (14.1, False)])
def test_half_a_diameter_is_as_far_as_a_label_follows(x, kept):
    carried, _ = carry_labels(profile(("H1", x, 50, 8)), OLD)
    assert (carried.holes[0].label == "H1") is kept


def test_a_small_hole_is_followed_for_a_millimetre():
    old = profile(("H1", 0, 0, 1))
    assert carry_labels(profile(("H7", 0.9, 0, 1)), old)[0].holes[0].label == "H1"
    assert carry_labels(profile(("H1", 1.1, 0, 1)), old)[0].holes[0].label == "H2"


def test_a_new_hole_gets_a_number_never_used_before():
    """H3 was free in the old drawing and stays so: it may be named in an older record."""
    carried, told = carry_labels(
        profile(("H1", 10, 50, 8), ("H2", 30, 30, 8), ("H3", 90, 50, 8), ("H4", 50, 20, 20)), OLD
    )
    assert labels(carried)[30, 30] == "H5"
    assert told == ()


def test_a_hole_that_vanished_is_told():
    carried, told = carry_labels(profile(("H1", 90, 50, 8)), OLD)
    assert [h.label for h in carried.holes] == ["H2"]
    assert [(f.code, f.where) for f in told] == [("hole_gone", "H1"), ("hole_gone", "H4")]


def test_of_two_holes_near_an_old_one_the_nearer_keeps_the_label():
    carried, _ = carry_labels(profile(("H1", 11.5, 50, 4), ("H2", 9.5, 50, 4)), OLD)
    assert labels(carried) == {(11.5, 50): "H5", (9.5, 50): "H1"}


def test_swapping_the_numbers_of_a_drawing_changes_no_label():
    carried, told = carry_labels(profile(("H1", 90, 50, 8), ("H2", 50, 20, 20), ("H3", 10, 50, 8)), OLD)
    assert labels(carried) == {(90, 50): "H2", (50, 20): "H4", (10, 50): "H1"}
    assert told == ()


def test_to_and_from_a_drawing_without_holes():
    assert [h.label for h in carry_labels(OLD, profile())[0].holes] == ["H1", "H2", "H3"]
    assert [f.code for f in carry_labels(profile(), OLD)[1]] == ["hole_gone"] * 3


def test_findings_name_the_hole_by_its_carried_label():
    old = read(raw(box(0, 0, 100, 60), circle(20, 20, 5)))
    new = read(raw(box(0, 0, 100, 60), circle(60, 50, 5), closed(polygon(20, 20, 5, 24))))
    assert new.findings[0].where == "H2"
    carried, _ = carry_labels(new, old)
    assert carried.findings[0].where == "H1"
    assert carried.findings[0].message.startswith("H1 is drawn")
