"""Unit factors against their exact definitions and against pint, and why pint does not read for us."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from ledger.domain.number_text import MM_PER
from ledger.domain.quantity import read_length

# NIST SP 811 (2008) appendix B.8: exact definitions.
EXACT = {"1 in": "25.4", "1 ft": "304.8"}
# From memory: a thou (mil) is a thousandth of an inch; SI prefixes.
MEANT = {"1 thou": "0.0254", "1 mil": "0.0254", "1 um": "0.001", "1 cm": "10", "1 m": "1000", "1 mm": "1"}


@pytest.mark.parametrize(("text", "mm"), [*EXACT.items(), *MEANT.items()])
def test_a_unit_is_its_definition(text, mm):
    assert read_length(text).mm == Decimal(mm)


@pytest.mark.parametrize("unit", MM_PER)
def test_pint_has_the_same_factor(unit):
    registry = pint.UnitRegistry(non_int_type=Decimal)
    assert Fraction(registry.Quantity(Decimal(1), unit).to("mm").magnitude) == MM_PER[unit]


@pytest.mark.parametrize("text", ["1/64 in", "3/16 in", "1-1/2 in", "27/64 in", "1-5/32 in"])
def test_pint_agrees_on_a_length_once_the_number_is_plain(text):
    number = text.removesuffix(" in").replace("-", " + ")
    inches = sum(Fraction(part) for part in number.split(" + "))
    assert float(read_length(text).mm) == pytest.approx(
        pint.UnitRegistry().Quantity(float(inches), "inch").m_as("mm")
    )


def test_pint_reads_a_mixed_number_as_a_product():
    """The reason for a grammar of our own, as measured: half an inch for one and a half."""
    assert pint.UnitRegistry()("1 1/2 in").m_as("in") == pytest.approx(0.5)
    assert read_length("1 1/2 in").mm == Decimal("38.1")
