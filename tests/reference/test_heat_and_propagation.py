"""Expansion with heat against a textbook's coefficients, and propagation of uncertainty against a library."""

from __future__ import annotations

from fractions import Fraction

import pytest
from uncertainties import ufloat

from ledger.domain.formula import evaluate, of_unit, read_formula
from ledger.domain.uncertainty import growth
from ledger.standards.expansion import REFERENCE_C, heat_of
from ledger.standards.instruments import instrument, measured
from ledger.standards.materials import material


def test_the_reference_temperature_is_that_of_iso_1():
    assert REFERENCE_C == 20.0  # ISO 1: reference temperature for dimensions (from memory)


@pytest.mark.parametrize(
    ("name", "e_6_per_k"), [("A36", 11.7), ("304", 17.2), ("316", 15.9), ("6061", 23.6)]
)  # Callister & Rethwisch, Fundamentals of Materials Science and Engineering, 3rd ed., table B.6
def test_coefficients_are_those_of_the_textbook(name, e_6_per_k):
    assert material(name).expansion_per_k == pytest.approx(e_6_per_k * 1e-6, rel=1e-12)


def test_a_metre_of_aluminium_grows_a_quarter_of_a_millimetre_in_ten_kelvin():
    assert growth(1000, 23.6e-6, 10) == pytest.approx(0.236)  # arithmetic on table B.6


def test_a_length_of_aluminium_read_warm_with_a_steel_tape_is_longer_than_at_20_by_the_difference():
    # 23.6 - 11.5 = 12.1e-6/K (11.5: JCGM 100:2008 H.1); over 5 m and 15 K 0.9075 mm, of the second order 0.0003
    found = measured("5000 ±0.01 mm tape", heat=heat_of("35C", "6061"))
    assert float(found.value.mm) == pytest.approx(5000 - 0.9072, abs=2e-3)
    assert "from 35 to 20 °C (ISO 1)" in found.how


def test_steel_read_with_steel_hardly_changes_and_light_has_no_scale():
    warm = heat_of("86F", "A36")
    assert warm.celsius == pytest.approx(30)
    assert float(measured("5000 ±1 mm tape", heat=warm).value.mm) == pytest.approx(5000, abs=0.02)
    assert instrument("laser meter").scale_per_k == 0.0
    assert float(measured("5000 ±0.01 mm laser meter", heat=warm).value.mm) == pytest.approx(
        5000 / (1 + 11.7e-5), abs=1e-3
    )


def test_the_doubt_of_the_correction_is_counted():
    # u: half of 0.01 stated; rectangular 5000 * (23.6 - 11.5)e-6 * 2 K and 5000 * 15 K * 1e-6, by root sum of squares
    found = measured("5000 ±0.01 mm tape", heat=heat_of("35C", "6061"))
    u = (0.005**2 + (0.121**2 + 0.075**2) / 3) ** 0.5
    assert float(found.standard.mm) == pytest.approx(u, rel=0.05)


def test_slopes_give_what_the_uncertainties_library_gives():
    known = {"a": (120.0, 0.05), "b": (45.5, 0.12), "c": (8.0, 0.02)}
    text = "(a*b - c*c)/(a + 2*b) + b/3 - c"

    def look(ref):
        return of_unit(Fraction(str(known[ref.name][0])), "mm", ref)

    found = evaluate(read_formula(text), look)
    ours = sum((float(s) * known[r.name][1]) ** 2 for r, s in found.slopes.items()) ** 0.5
    a, b, c = (ufloat(*known[n]) for n in "abc")
    theirs = (a * b - c * c) / (a + 2 * b) + b / 3 - c
    assert float(found.number) == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours == pytest.approx(theirs.std_dev, rel=1e-9)
