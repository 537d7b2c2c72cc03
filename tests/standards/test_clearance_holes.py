"""Clearance holes are found by fastener and fit."""

import pytest

from ledger.domain.errors import UnknownName
from ledger.standards.clearance_holes import clearance_hole, clearance_holes
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
    assert fastener("9/16").size == "9/16"
    with pytest.raises(UnknownName, match="clearance hole"):
        clearance_hole("9/16")


def test_every_metric_size_has_clearance_holes():
    assert {f.size for f in fasteners() if f.system == "ISO metric"} <= set(clearance_holes())
