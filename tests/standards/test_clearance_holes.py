"""Clearance holes are found by fastener and fit."""

import pytest

from ledger.domain.errors import UnknownName
from ledger.standards.clearance_holes import clearance_hole, clearance_holes, structural_holes
from ledger.standards.fasteners import fastener, fasteners


@pytest.mark.parametrize("hole", clearance_holes().values(), ids=lambda h: h.size)
def test_every_fit_passes_the_largest_fastener_and_each_is_wider_than_the_last(hole):
    largest = max(f.largest_mm for f in fasteners() if f.size == hole.size)
    assert largest < hole.fine_mm < hole.medium_mm < hole.coarse_mm < 1.5 * largest
    assert hole.source


def test_a_hole_is_found_by_any_pitch_of_its_size():
    assert clearance_hole("M8x1") == clearance_hole("m8") == clearance_holes()["M8"]
    assert clearance_hole("1/4 UNF").drills == ("17/64", "9/32", "19/64")


def test_both_standards_words_for_a_fit_are_read():
    hole = clearance_hole("M12")
    assert hole.diameter_mm() == hole.diameter_mm("normal") == hole.diameter_mm("Medium") == hole.medium_mm
    assert hole.diameter_mm("close") == hole.fine_mm
    assert hole.diameter_mm("loose") == hole.coarse_mm


def test_an_unknown_fit_is_refused():
    with pytest.raises(UnknownName, match="clearance fit"):
        clearance_hole("M12").diameter_mm("snug")


def test_a_size_that_the_standard_does_not_list_is_refused():
    assert fastener("1-3/4").size == "1-3/4"
    with pytest.raises(UnknownName, match="clearance hole"):
        clearance_hole("1-3/4")


def test_every_metric_size_has_clearance_holes():
    assert {f.size for f in fasteners() if f.system == "ISO metric"} <= set(clearance_holes())


# EN 1090-2 table 11, from memory: nominal clearance of normal and oversize round holes.
@pytest.mark.parametrize(
    ("bolt", "normal", "oversize"),
    [("M12", 13, 15), ("M14", 15, 17), ("M16", 18, 20), ("M20", 22, 24), ("M22", 24, 26), ("M24", 26, 30),
     ("M27", 30, 35), ("M30", 33, 38), ("M36", 39, 44)],
)  # fmt: skip
def test_holes_of_structural_bolts_are_those_of_en_1090_2(bolt, normal, oversize):
    found = structural_holes(f"{bolt} ISO 4016")
    assert found == {"EN 1090-2 normal": normal, "EN 1090-2 oversize": oversize}


# AISC 2005 as in Structural Steel Designer's Handbook 4th ed.: standard and oversized holes.
@pytest.mark.parametrize(
    ("bolt", "normal", "oversize"),
    [("M16", 18, 20), ("M20", 22, 24), ("M22", 24, 28), ("M24", 27, 30), ("M27", 30, 35), ("M30", 33, 38)],
)
def test_holes_of_structural_bolts_are_those_of_aisc(bolt, normal, oversize):
    found = structural_holes(f"{bolt} ASTM A325M")
    assert found == {"AISC 360 J3.3M normal": normal, "AISC 360 J3.3M oversize": oversize}


def test_a_fit_bolt_a_small_one_and_an_inch_one_have_no_structural_holes():
    assert structural_holes("M20 EN 14399-8") == structural_holes("M10") == structural_holes("1/2") == {}
