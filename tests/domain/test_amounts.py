"""Angles and areas, kept exactly, with limits in their own unit."""

from __future__ import annotations

from decimal import Decimal

import pytest

from ledger.domain.amounts import read_amount, read_amount_limits, unit_of
from ledger.domain.errors import BadInput


@pytest.mark.parametrize(
    ("text", "unit", "value", "shown"),
    [
        ("37.5 deg", "deg", "37.5", "37.5 deg"),
        ("90°", "deg", "90", "90°"),
        ("1200 mm2", "mm2", "1200", "1200 mm2"),
        ("1200 mm²", "mm2", "1200", "1200 mm2"),
        ("1 in2", "mm2", "645.16", "1 in2 = 645.16 mm2"),  # 25.4 squared: NIST SP 811 appendix B, exact
        ("1-1/2 in2", "mm2", "967.74", "1-1/2 in2 = 967.74 mm2"),
        ("1 ft2", "mm2", "92903.04", "1 ft2 = 92903.04 mm2"),
        ("2 m2", "mm2", "2000000", "2 m2 = 2000000 mm2"),
        ("3/16 in", "mm", "4.7625", "3/16 in = 4.7625 mm"),
    ],
)
def test_an_amount_is_read_with_its_unit(text, unit, value, shown):
    found = read_amount(text)
    assert (unit_of(found), found.mm, str(found)) == (unit, Decimal(value), shown)


@pytest.mark.parametrize("text", ["", "5 kg", "400 deg", "1,5 mm2", "2000 m2", "½ in2", "3 mm3", "1/3 in2"])
def test_what_is_no_amount_is_refused(text):
    with pytest.raises(BadInput):
        read_amount(text)


@pytest.mark.parametrize(
    ("text", "nominal", "lower", "upper"),
    [
        ("±0.5", "90 deg", "-0.5", "0.5"),
        ("±0.5°", "90 deg", "-0.5", "0.5"),
        ("+1/-0.5 deg", "90 deg", "-0.5", "1"),
        ("89..91 deg", "90 deg", "-1", "1"),
        ("±0.1", "10 in2", "-64.516", "64.516"),
        ("±10 mm2", "10 in2", "-10", "10"),
        ("max", "10 in2", None, "0"),
    ],
)
def test_limits_are_in_the_nominals_unit(text, nominal, lower, upper):
    found = read_amount_limits(text, read_amount(nominal))
    expected = tuple(None if v is None else Decimal(v) for v in (lower, upper))
    assert (found.lower_mm, found.upper_mm) == expected


@pytest.mark.parametrize("text", ["±0.5 mm", "±0.1 in", "91..92 deg", "-1/+1", "H7", "±1 mm2 in2"])
def test_limits_of_another_kind_or_the_wrong_way_round_are_refused(text):
    nominal = "10 in2" if "mm2" in text else "90 deg"
    with pytest.raises(BadInput):
        read_amount_limits(text, read_amount(nominal))
