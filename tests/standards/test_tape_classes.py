"""Error limits of tapes and rules by their class."""

from __future__ import annotations

import math

import pytest

from ledger.standards.instruments import class_limits, instrument

# EU measuring instruments directive, annex on material measures of length, from memory: a + b L with L rounded up to
# whole metres, and c more where the reading begins at the end.
CLASSES = {"I": (0.1, 0.1, 0.1), "II": (0.3, 0.2, 0.2), "III": (0.6, 0.4, 0.3)}


@pytest.mark.parametrize(("name", "limits"), CLASSES.items())
def test_a_class_has_the_limits_of_the_directive(name, limits):
    assert class_limits(name) == limits


@pytest.mark.parametrize(
    ("length", "metres"), [(1, 1), (1000, 1), (1000.1, 2), (1999, 2), (2000, 2), (4800, 5)]
)
def test_a_tape_counts_begun_metres_and_its_end(length, metres):
    """Class II as a tape is taken to be: 4.8 m may be off by 0.3 + 5 x 0.2 + 0.2 = 1.5 mm, not by 1.26."""
    assert instrument("tape").limit_at(length) == pytest.approx(0.3 + 0.2 * metres + 0.2)
    (found,) = (c for c in instrument("tape").contributions(length) if c.cause == "the instrument")
    assert found.u == pytest.approx((0.5 + 0.2 * metres) / math.sqrt(3))


def test_other_instruments_count_the_length_as_it_is():
    assert instrument("caliper").limit_at(500) == pytest.approx(0.03 + 0.1 * 0.5)
