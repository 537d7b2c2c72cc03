"""Limits by class against published values: ISO 2768-1 table 1, and fits worked out in handbooks by ISO 286."""

from __future__ import annotations

from decimal import Decimal

import pytest

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.quantity import read_length
from ledger.standards.size_limits import limits_of


def both(text, size):
    found = limits_of(text, read_length(size))
    return (float(found.lower_mm), float(found.upper_mm))


@pytest.mark.parametrize(
    ("size", "text", "lower_um", "upper_um"),
    [
        ("12 mm", "H7", 0, 18),
        ("12 mm", "g6", -17, -6),
        ("25 mm", "f7", -41, -20),
        ("20 mm", "h6", -13, 0),
        ("12 mm", "k6", 1, 12),
        ("10 mm", "js6", -4.5, 4.5),
        ("50 mm", "H7", 0, 25),
    ],
)
def test_fits_of_iso_286(size, text, lower_um, upper_um):
    """Published fits 12 H7/g6, 25 H7/f7, 20 H7/h6, 12 H7/k6, 10 H7/js6, 50 H7/s6 (hole), by ISO 286-2."""
    assert both(text, size) == pytest.approx((lower_um / 1000, upper_um / 1000))


@pytest.mark.parametrize(
    ("text", "sizes"),
    [
        ("ISO 2768-f", (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5)),
        ("2768-m", (0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2.0)),
        ("ISO 2768-cL", (0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0, 4.0)),
    ],
)
def test_general_tolerances_of_iso_2768(text, sizes):
    """ISO 2768-1:1989, table 1: bands up to 3, 6, 30, 120, 400, 1000, 2000 and 4000 mm."""
    for bound, allowed in zip((3, 6, 30, 120, 400, 1000, 2000, 4000), sizes, strict=False):
        assert both(text, f"{bound} mm") == (-allowed, allowed)


def test_a_band_begins_above_its_lower_bound():
    assert both("2768-m", "6 mm") == (-0.1, 0.1)
    assert both("2768-m", "6.01 mm") == (-0.2, 0.2)


def test_holes_mirror_shafts():
    for letter in "defgh":
        hole, shaft = (limits_of(f"{name}8", read_length("40 mm")) for name in (letter.upper(), letter))
        assert (hole.lower_mm, hole.upper_mm) == (-shaft.upper_mm, -shaft.lower_mm)


def test_an_inch_size_takes_the_row_of_its_millimetres():
    assert limits_of("H7", read_length("1/2 in")).upper_mm == Decimal("0.018")


@pytest.mark.parametrize("text", ["H4", "H19", "K7", "zz6", "2768-x"])
def test_a_class_that_is_not_in_the_table_is_refused_with_those_that_are(text):
    with pytest.raises(UnknownName):
        limits_of(text, read_length("20 mm"))


@pytest.mark.parametrize(
    ("text", "size"), [("H7", "600 mm"), ("2768-m", "4001 mm"), ("2768-v", "2 mm"), ("2768-f", "3000 mm")]
)
def test_a_size_that_a_class_does_not_have_is_refused(text, size):
    with pytest.raises(BadInput):
        limits_of(text, read_length(size))
