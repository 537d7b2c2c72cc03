"""ISO 13920 linear tolerances and EN 10051 sheets, both from memory."""

from __future__ import annotations

import pytest

from ledger.domain.errors import BadInput, UnknownName
from ledger.standards.sheets import thicker_mm
from ledger.standards.weldments import weldment_deviation_mm

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
        assert [weldment_deviation_mm(k, size) for k in "ABCD"] == deviations


def test_a_class_or_size_that_is_none_is_refused():
    with pytest.raises(UnknownName, match="E"):
        weldment_deviation_mm("E", 100)
    for size in (0.0, -1.0, float("nan")):
        with pytest.raises(BadInput):
            weldment_deviation_mm("B", size)


# EN 10051, width up to 1200 mm, from memory
@pytest.mark.parametrize(
    ("thickness", "plus"), [(2, 0.17), (3, 0.20), (5, 0.24), (6, 0.26), (10, 0.32), (12, 0.35)]
)
def test_sheets_come_thicker(thickness, plus):
    assert thicker_mm(thickness) == plus
