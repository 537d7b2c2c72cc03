"""ISO 14253-1 and JCGM 106: what a measured value proves to a customer."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import pytest
from scipy import stats

from ledger.domain.errors import BadInput
from ledger.standards.acceptance import GUARD_FACTOR, accepted, conforming, guard_band

ROWS = Path(__file__).parent / "published_rows.csv"


def expected(name):
    with ROWS.open(encoding="utf-8", newline="") as lines:
        return json.loads(next(row["expected"] for row in csv.DictReader(lines) if row["id"] == name))


def test_a_customer_rejects_only_what_is_proven_not_to_conform():
    row = expected("SA-14253")
    found = [accepted(y, 9.9, 10.1, 0.02, guard=0.02) for y in (10.05, 10.085, 10.11, 10.125, 9.89, 9.87)]
    proof = {"conforms": "conforms", "not proven": "undecided", "does not conform": "does not conform"}
    assert [proof[f.outcome] for f in found] == row["proof"]
    assert [f.rejectable for f in found] == row["customer_may_reject"]


def test_the_guard_band_is_one_sided_ninety_five_percent():
    row = expected("MU-14253-G")
    assert stats.norm.ppf(0.95) == pytest.approx(row["z"], abs=1e-12)
    assert round(row["z"] + 0.0049, 2) == GUARD_FACTOR
    assert guard_band(0.01) == pytest.approx(row["g"], abs=1e-12)
    assert accepted(10.11, 9.9, 10.1, 0.02).guard_mm == pytest.approx(guard_band(0.01))


def test_odds_of_conformity_at_a_distance_from_one_limit():
    for z, share in zip(expected("SA-106-Z"), (0.8, 0.9, 0.95, 0.99, 0.999), strict=True):
        assert stats.norm.ppf(conforming(z, 1.0, 0.0, None)) == pytest.approx(
            stats.norm.ppf(share), abs=0.006
        )


def test_odds_of_conformity_of_the_burst_container():
    assert conforming(509.7, 8.6, 490, None) == pytest.approx(expected("SA-106-BURST"), abs=5e-4)


def test_odds_between_two_limits_are_those_of_the_normal_distribution():
    for y in (9.85, 9.9, 10.0, 10.1, 10.2):
        exact = stats.norm.cdf(10.1, y, 0.03) - stats.norm.cdf(9.9, y, 0.03)
        assert conforming(y, 0.03, 9.9, 10.1) == pytest.approx(exact, abs=1e-12)


@pytest.mark.parametrize(
    ("value", "lower", "upper", "expanded"),
    [(math.nan, 0, 1, 0.1), (1, None, None, 0.1), (1, 0, 2, 0), (1, 0, 2, -0.1), (1, 0, math.inf, 0.1)],
)
def test_a_decision_without_value_limit_or_uncertainty_is_refused(value, lower, upper, expanded):
    with pytest.raises(BadInput):
        accepted(value, lower, upper, expanded)
