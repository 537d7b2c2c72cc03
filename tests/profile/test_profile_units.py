"""What a unit is called, and which one a drawing is read in."""

from __future__ import annotations

import pytest

from ledger.domain.errors import BadInput
from ledger.profile.units import BY_CODE, CODE_OF, read_unit, reckon


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("mm", "mm"),
        (" MM ", "mm"),
        ("in", "in"),
        ("inch", "in"),
        ("Inches", "in"),
        ('"', "in"),
        ("cm", "cm"),
        ("m", "m"),
        ("ft", "ft"),
        ("feet", "ft"),
        ("'", "ft"),
        ("mil", "mil"),
        ("thou", "mil"),
        ("survey foot", "survey ft"),
    ],
)
def test_a_unit_is_known_by_its_usual_names(written, name):
    assert read_unit(written).name == name


@pytest.mark.parametrize("written", ["", "mmm", "2 mm", "parsec", "light year", "\x1b[31m", "m m"])
def test_anything_else_is_refused_and_the_known_ones_named(written):
    with pytest.raises(BadInput, match="mm, cm, dm, m"):
        read_unit(written)


def test_a_refusal_shows_no_control_characters():
    with pytest.raises(BadInput) as refusal:
        read_unit("\x1b[31m")
    assert "\x1b" not in str(refusal.value)


def test_every_code_has_a_name_of_its_own():
    assert len(CODE_OF) == len(BY_CODE) == 24


def test_an_agreeing_header_is_sure():
    assert reckon(4, 1, None).sure
    assert reckon(1, 0, None).sure
    assert reckon(4, None, None).sure
    assert reckon(4, 7, None).sure


def test_a_stated_unit_equal_to_the_headers_has_nothing_to_say():
    assert reckon(1, 0, "inch").findings == ()
    assert reckon(0, 0, "mm").findings == ()
