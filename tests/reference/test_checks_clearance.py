"""
The rule of proof of a measured value against published figures.

Source: ISO 14253-1 (decision rules for proving conformity or nonconformity with specifications). With limits
9.90 and 10.10 mm and U = 0.02 mm: conformity is proven from 9.92 to 10.08, nonconformity below 9.88 and above
10.12.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from ledger.cases.connections import ConnectionCase
from ledger.checks.measured_clearance import measured_clearance
from ledger.domain.connection import Clearance, Connection, Reading
from ledger.domain.quantity import Bounds, Length

LIMITS = Bounds("9.9..10.1 mm", Decimal("9.9"), Decimal("10.1"))


def codes_at(value: str) -> list[str]:
    reading = Reading(
        Length(f"{value} mm", Decimal(value)), Length("0.02 mm", Decimal("0.02")), "gauge", "ann", ""
    )
    connection = Connection(
        "CONNECTION", "beside", (), clearances=(Clearance("room", LIMITS, reading=reading),)
    )
    outcome = measured_clearance.run(ConnectionCase(connection, ()), "CONNECTION")
    assert outcome.state == "ran"
    return [f.code for f in outcome.findings]


@pytest.mark.parametrize("value", ["9.92", "10", "10.08"])
def test_conformity_is_proven_at_least_u_inside_the_limits(value):
    assert codes_at(value) == []


@pytest.mark.parametrize("value", ["9.879", "10.121"])
def test_nonconformity_is_proven_more_than_u_outside_the_limits(value):
    assert codes_at(value) == ["clearance_missed"]


@pytest.mark.parametrize("value", ["9.88", "9.9", "9.919", "10.081", "10.1", "10.12"])
def test_nothing_is_proven_in_between(value):
    assert codes_at(value) == ["not_proven"]
