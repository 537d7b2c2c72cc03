"""ISO 13920 linear tolerances and EN 10051 sheets, both from memory."""

from __future__ import annotations

import pytest

from ledger.domain.errors import BadInput, UnknownName
from ledger.standards.sheets import thicker_mm
from ledger.standards.weld_classes import weld_class_deviation_mm

# ISO 13920 table 1, from memory: nominal size over, up to; A, B, C, D, mm either way
TABLE = [
    (2, 30, 1, 1, 1, 1),
    (30, 120, 1, 2, 3, 4),
    (120, 400, 1, 2, 4, 7),
    (400, 1000, 2, 3, 6, 9),
    (1000, 2000, 3, 4, 8, 12),
    (2000, 4000, 4, 6, 11, 16),
    (4000, 8000, 5, 8, 14, 21),
    (8000, 12000, 6, 10, 18, 27),
    (12000, 16000, 7, 12, 21, 32),
    (16000, 20000, 8, 14, 24, 36),
]


@pytest.mark.parametrize("row", TABLE)
def test_linear_tolerances_by_class(row):
    over, up_to, *deviations = row
    for size in (over + 0.001, up_to):
        assert [weld_class_deviation_mm(k, size) for k in "ABCD"] == deviations


def test_a_class_or_size_that_is_none_is_refused():
    with pytest.raises(UnknownName, match="E"):
        weld_class_deviation_mm("E", 100)
    for size in (0.0, -1.0, float("nan")):
        with pytest.raises(BadInput):
            weld_class_deviation_mm("B", size)


# EN 10051 category A, sheet over 1200 up to 1500 mm wide, as tubingchina.com prints the table.
SHEET = [
    (2, 0.19),
    (2.5, 0.21),
    (3, 0.22),
    (4, 0.24),
    (5, 0.26),
    (6, 0.28),
    (8, 0.30),
    (10, 0.33),
    (12.5, 0.36),
]


@pytest.mark.parametrize(("thickness", "plus"), SHEET)
def test_sheets_of_mild_steel_come_thicker_by_en_10051(thickness, plus):
    assert thicker_mm(thickness, "mild steel") == thicker_mm(thickness, "S235") == plus
    assert thicker_mm(thickness - 0.01) == plus


# The same source: category B 15 %, C 30 %, D 40 % more; austenitic C, with molybdenum D. S355 is B, S420 C, S460 D.
@pytest.mark.parametrize(
    ("grade", "more"),
    [("S275JR", 1.0), ("S355J2", 1.15), ("S420M", 1.3), ("S460", 1.4), ("S690QL", 1.4), ("304", 1.3),
     ("1.4307", 1.3), ("316L", 1.4), ("1.4571", 1.4), ("6082-T6", 1.0), ("birch plywood", 1.0), ("", 1.0)],
)  # fmt: skip
def test_grades_that_are_harder_to_roll_come_thicker(grade, more):
    for thickness, plus in SHEET:
        assert 0 <= thicker_mm(thickness, grade) - more * plus < 0.01


# EN 10029:2010 class A, from memory; a bound belongs to the range above. EN 10029:1991 class A (read) allows more.
PLATE = [(15, 1.0, 1.3), (25, 1.3, 1.4), (40, 1.7, 1.8), (80, 2.1, 2.2), (150, 2.4, 2.4)]


@pytest.mark.parametrize(("thickness", "plus", "once"), PLATE)
def test_plates_come_thicker_by_en_10029(thickness, plus, once):
    assert thicker_mm(thickness, "S355") == plus <= once
    assert thicker_mm(14.9) == 0.9 > thicker_mm(12.5)
    assert thicker_mm(250) == thicker_mm(500) == 3.5
