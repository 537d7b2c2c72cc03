"""Lengths, limits, clearances and readings are kept exactly as written, or refused with what to write."""

import subprocess
import sys
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.errors import BadInput
from ledger.domain.quantity import (
    Bounds,
    Length,
    Limits,
    Measured,
    plain,
    read_angle,
    read_bounds,
    read_length,
    read_limits,
    read_measured,
    show_mm,
)

LENGTHS = {
    "12.7 mm": "12.7",
    "12.7mm": "12.7",
    ".250 in": "6.35",
    "3/16 in": "4.7625",
    '1-1/2"': "38.1",
    "1 1/2 in": "38.1",
    "1-1/2 in": "38.1",
    "1–1/2 in": "38.1",
    '0.25"': "6.35",
    "5 in.": "127",
    "6 ft": "1828.8",
    "6 ft 3-1/2 in": "1917.7",
    "6' 3 1/2\"": "1917.7",
    "3 cm": "30",
    "1.5 m": "1500",
    "5 um": "0.005",
    "5 µm": "0.005",
    "10 thou": "0.254",
    "3 mil": "0.0762",
    "5 MM": "5",
    "0 mm": "0",
    "3/8 mm": "0.375",
    "  12.7   mm  ": "12.7",
    "12.7\u00a0mm": "12.7",
}

REFUSED = {
    "empty": "",
    "blank": "   ",
    "no unit": "12.7",
    "decimal comma": "6,5 mm",
    "thousands comma": "1,000 mm",
    "thousands space": "1 000 mm",
    "no finite decimal": "1/3 in",
    "division by nothing": "1/0 in",
    "improper part of a mixed number": "1-5/4 in",
    "decimal beside a fraction": "1.5 1/2 in",
    "dot without a figure": "12. mm",
    "two dots": "1.2.3 mm",
    "exponent": "1e3 mm",
    "not a number": "nan mm",
    "infinity": "inf mm",
    "hexadecimal": "0x10 mm",
    "underscore": "1_000 mm",
    "sign": "-5 mm",
    "plus": "+5 mm",
    "two signs": "--5 mm",
    "vulgar fraction": "1½ in",
    "figures of another script": "٣ mm",
    "right-to-left override": "1\u202e2 mm",
    "NUL": "1\x002 mm",
    "newline": "12.7\nmm",
    "escape": "\x1b[1m5 mm",
    "line separator": "5\u2028mm",
    "too long": "0" * 58 + "1 mm",
    "over a kilometre": "1000.1 m",
    "more figures than a decimal holds": "3.14159265358979323846264338327 mm",
    "lone M": "5 M",
    "product": "2 x 3 mm",
    "two lengths": "2 mm 3 mm",
    "unknown unit": "5 blorp",
}


@pytest.mark.parametrize(("text", "mm"), LENGTHS.items())
def test_a_length_is_exact_in_mm(text, mm):
    assert read_length(text).mm == Decimal(mm)


@pytest.mark.parametrize("text", REFUSED.values(), ids=REFUSED)
def test_a_doubtful_length_is_refused(text):
    with pytest.raises(BadInput):
        read_length(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("6,5 mm", "6,5 mm: write 6.5 mm"),
        ("1,000 mm", "write 1.000 mm or 1000 mm"),
        ("1,234.5 mm", "write the figures without commas"),
        ("5 kg", "a mass, not a length"),
        ("5 N", "a force, not a length"),
        ("20 s", "a time, not a length"),
        ("3 l", "a volume, not a length"),
        ("90 deg", "an angle or a bare number, not a length"),
        ("5 yd", "in a unit not used here"),
        ("12.7", "has no unit"),
        ("1/3 in", "not a finite decimal in mm"),
    ],
)
def test_a_refusal_says_what_was_read_and_what_to_write(text, says):
    with pytest.raises(BadInput, match=says):
        read_length(text)


def test_a_control_character_is_shown_as_an_escape():
    with pytest.raises(BadInput) as refused:
        read_length("\x1b[31m5 mm")
    assert "\x1b" not in str(refused.value)


def test_the_default_unit_is_written_down():
    assert read_length("3/16", unit="in") == Length("3/16 in", Decimal("4.7625"))
    assert read_length("3/16", unit='"') == Length("3/16 in", Decimal("4.7625"))


def test_a_written_unit_comes_before_the_default():
    assert read_length("5 mm", unit="in").mm == 5


def test_an_unknown_default_unit_is_refused():
    with pytest.raises(BadInput, match="furlong"):
        read_length("5", unit="furlong")


@pytest.mark.parametrize(
    ("text", "mm"), [("-1-1/2 in", "-38.1"), ("−5 mm", "-5"), ("+5 mm", "5"), ("5 mm", "5")]
)
def test_a_sign_is_read_where_one_is_allowed(text, mm):
    assert read_length(text, signed=True).mm == Decimal(mm)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("3/16 in", "3/16 in = 4.7625 mm"),
        ("12.7 mm", "12.7 mm"),
        ("12.70mm", "12.70mm"),
        ("3/8 mm", "3/8 mm = 0.375 mm"),
        ("1 m", "1 m = 1000 mm"),
    ],
)
def test_a_length_shows_what_was_written_and_mm(text, shown):
    assert str(read_length(text)) == shown


@given(st.integers(0, 10**4), st.integers(0, 10))
def test_every_binary_fraction_of_an_inch_is_exact(numerator, power):
    length = read_length(f"{numerator}/{2**power} in")
    assert Fraction(length.mm) == Fraction(numerator, 2**power) * Fraction(254, 10)


@given(st.integers(0, 900), st.integers(1, 63), st.sampled_from([64, 128]))
def test_a_mixed_number_is_the_whole_and_the_fraction(whole, top, bottom):
    mixed, parts = read_length(f"{whole}-{top}/{bottom} in"), Fraction(whole) + Fraction(top, bottom)
    assert Fraction(mixed.mm) == parts * Fraction(254, 10)


@given(st.decimals(0, 10**6, allow_nan=False, allow_infinity=False, places=6))
def test_a_length_comes_back_from_json_as_it_went(value):
    length = read_length(f"{value:f} mm")
    assert Length.from_json(length.to_json()) == length
    assert "e" not in length.to_json()["mm"].lower()


@given(st.text(max_size=80))
def test_any_text_is_a_length_or_refused(text):
    try:
        length = read_length(text)
    except BadInput:
        return
    assert 0 <= length.mm <= 10**6


@pytest.mark.parametrize("mm", ["1e3", "nan", "Infinity", "+5", "1_0", "", None, 5, 1.5])
def test_a_record_holds_only_plain_decimals(mm):
    with pytest.raises(BadInput):
        Length.from_json({"written": "5 mm", "mm": mm})


@pytest.mark.parametrize(
    ("text", "lower", "upper"),
    [
        ("±0.1", "-0.1", "0.1"),
        ("+-0.1", "-0.1", "0.1"),
        ("+/-0.1 mm", "-0.1", "0.1"),
        ("± 1/64 in", "-0.396875", "0.396875"),
        ("+0.2/-0", "0", "0.2"),
        ("+0.2 -0.1 mm", "-0.1", "0.2"),
        ("+0/-0.05 in", "-1.27", "0"),
        ("0/-0.05", "-0.05", "0"),
        ("+0.2 mm/-0.1 mm", "-0.1", "0.2"),
        ("+0.2/−0.1", "-0.1", "0.2"),
        ("+0.3/+0.1", "0.1", "0.3"),
        ("-0.1/-0.3", "-0.3", "-0.1"),
        ("+1/32/-1/64 in", "-0.396875", "0.79375"),
        ("min", "0", None),
        ("MAX", None, "0"),
    ],
)
def test_limits_are_deviations_from_the_nominal(text, lower, upper):
    limits = read_limits(text, unit="mm")
    assert (limits.lower_mm, limits.upper_mm) == tuple(
        None if s is None else Decimal(s) for s in (lower, upper)
    )


@pytest.mark.parametrize(
    "text",
    [
        *("-0.1/+0.2", "+0.1/+0.3", "+0.2", "0.1", "0.2/-0.1", "+0.2/0.1"),
        *("+0.2-0.1", "±", "±-0.1", "±0,1", "±nan", "+1 1/2", ""),
    ],
)
def test_doubtful_limits_are_refused(text):
    with pytest.raises(BadInput):
        read_limits(text, unit="mm")


def test_limits_the_wrong_way_round_are_told_so():
    with pytest.raises(BadInput, match="wrong way round"):
        read_limits("-0.1/+0.2 mm")


def test_limits_without_a_unit_are_refused():
    with pytest.raises(BadInput, match="has no unit"):
        read_limits("±0.1")


def test_limits_take_in_their_own_ends_and_nothing_beyond():
    limits = read_limits("+0.2/-0.1 mm")
    assert all(limits.allows(Decimal(d)) for d in ("-0.1", "0", "0.2"))
    assert not any(limits.allows(Decimal(d)) for d in ("-0.1000001", "0.2000001"))


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("nan"), Decimal("-inf")])
def test_what_is_not_finite_is_never_within(value):
    assert not read_limits("±0.1 mm").allows(value)
    assert not read_limits("min").allows(value)
    assert not Limits("free", None, None).allows(value)
    assert not read_bounds(">= 2 mm").allows(value)


@pytest.mark.parametrize(
    ("text", "least", "most"),
    [
        (">= 2 mm", "2", None),
        ("≥2mm", "2", None),
        ("min 2 mm", "2", None),
        ("2 mm min", "2", None),
        ("at least 1/16 in", "1.5875", None),
        ("2..5 mm", "2", "5"),
        ("2 mm .. 5 mm", "2", "5"),
        ("2 to 5 mm", "2", "5"),
        ("2 mm..0.5 in", "2", "12.7"),
        ("2..2 mm", "2", "2"),
        ("<= 5 mm", None, "5"),
        ("max 5 mm", None, "5"),
    ],
)
def test_a_required_clearance_has_a_least_or_a_most(text, least, most):
    bounds = read_bounds(text)
    assert (bounds.least_mm, bounds.most_mm) == tuple(
        None if s is None else Decimal(s) for s in (least, most)
    )


@pytest.mark.parametrize(
    "text", ["2 mm", "> 2 mm", "5..2 mm", "2...5 mm", "2-5 mm", ">= -2 mm", "2..5", "min", ">= 2 kg"]
)
def test_a_doubtful_clearance_is_refused(text):
    with pytest.raises(BadInput):
        read_bounds(text)


def test_a_nominal_outside_its_bounds_is_refused():
    assert read_bounds("2..5 mm", nominal=read_length("5 mm")).most_mm == 5
    with pytest.raises(BadInput, match="is outside"):
        read_bounds("2..5 mm", nominal=read_length("6 mm"))


@pytest.mark.parametrize(
    ("text", "value", "uncertainty", "instrument"),
    [
        ("1.8 ±0.1 mm feeler", "1.8", "0.1", "feeler"),
        ("1.8 mm ±0.1, feeler gauge", "1.8", "0.1", "feeler gauge"),
        ("1-1/2 in ±0.5 mm tape", "38.1", "0.5", "tape"),
        ("1.8 +/-0.1 mm", "1.8", "0.1", ""),
        ('1.8±.1" rule', "45.72", "2.54", "rule"),
        ("0 ±0.05 mm feeler 0.05", "0", "0.05", "feeler 0.05"),
    ],
)
def test_a_reading_has_value_uncertainty_and_instrument(text, value, uncertainty, instrument):
    measured = read_measured(text)
    assert (measured.value.mm, measured.uncertainty.mm) == (Decimal(value), Decimal(uncertainty))
    assert measured.instrument == instrument


@pytest.mark.parametrize(
    "text",
    [
        "1.8 mm",
        "1.8 ±0 mm",
        "1.8 ±0.1",
        "1.8 ±0.1 tape",
        "±0.1 mm",
        "-1.8 ±0.1 mm",
        "1.8 ±-0.1 mm",
        "1,8 ±0.1 mm",
    ],
)
def test_a_doubtful_reading_is_refused(text):
    with pytest.raises(BadInput):
        read_measured(text)


@pytest.mark.parametrize("text", ["1.8 ±0.1 mm/feeler", "1.8 ±0.1 mm. feeler", "1.8 ±0.1 in-house gauge"])
def test_a_unit_run_into_the_instrument_is_not_taken_for_its_name(text):
    with pytest.raises(BadInput, match="space behind the unit"):
        read_measured(text, unit="in")


def test_limits_bounds_and_readings_come_back_from_json_as_they_went():
    limits, bounds = read_limits("+0.2/-0.1 mm"), read_bounds("min 1/16 in")
    measured = read_measured("1.8 ±0.1 mm feeler")
    assert Limits.from_json(limits.to_json()) == limits
    assert Bounds.from_json(bounds.to_json()) == bounds
    assert Measured.from_json(measured.to_json()) == measured
    assert str(measured) == "1.8 mm ±0.1 mm (feeler)"


@pytest.mark.parametrize(
    ("text", "degrees"), [("90 deg", "90"), ("37.5°", "37.5"), (".5 degrees", "0.5"), ("360°", "360")]
)
def test_an_angle_is_in_degrees(text, degrees):
    assert read_angle(text) == Decimal(degrees)


@pytest.mark.parametrize("text", ["90", "1 rad", "-45 deg", "361 deg", "nan deg", "90,5 deg", "90 mm", ""])
def test_a_doubtful_angle_is_refused(text):
    with pytest.raises(BadInput):
        read_angle(text)


def test_an_angle_has_a_sign_only_where_allowed():
    assert read_angle("-45 deg", signed=True) == -45


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("1E+3", "1000"),
        ("0.500", "0.5"),
        ("100", "100"),
        ("-0.0", "0"),
        ("1E-9", "0.000000001"),
        ("-2.50", "-2.5"),
    ],
)
def test_a_plain_decimal_has_no_exponent_and_no_idle_zeros(value, text):
    assert plain(Decimal(value)) == text


def test_a_plain_decimal_is_finite():
    with pytest.raises(ValueError, match="not a finite number"):
        plain(Decimal("NaN"))


def test_a_shown_value_has_its_unit_and_no_negative_zero():
    assert show_mm(1.2) == "1.200 mm"
    assert show_mm(Decimal("-0.0001")) == "0.000 mm"
    assert show_mm(-1.25, 1) in ("-1.2 mm", "-1.3 mm")
    assert show_mm(float("nan")) == "not a number"


def test_pint_is_loaded_only_to_explain_a_refusal():
    code = (
        "import sys; from ledger.domain.quantity import read_length; read_length('1-1/2 in');"
        "assert 'pint' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
