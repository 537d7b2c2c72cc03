"""What a reading does not prove stops, wherever a value with an uncertainty meets a limit."""

from __future__ import annotations

import pytest
from case_builders import case_of

from ledger.checks import all_checks
from ledger.domain.gate import judge
from ledger.domain.uncertainty import decide
from ledger.domain.verdict import PermitMade, Policy

CHECKS = {c.name: c for c in all_checks()}
VALUES = [round(1.81 + 0.02 * k, 2) for k in range(35)]


def clearance(value, *, critical=False):
    required = {
        "name": "gap",
        "required": "2..2.3 mm",
        "critical": critical,
        "reading": f"{value} ±0.1 mm feeler",
    }
    plate = {"plate": "100 50"}
    return case_of({"a": plate, "b": plate, "connection": {"kind": "beside", "clearances": [required]}})


def dimension(value, *, critical=False):
    upper, lower = round(2.3 - value, 2), round(2 - value, 2)
    one = {"name": "d", "nominal": f"{value} mm", "limits": f"{upper:+}/{lower:+}", "uncertainty": "0.1 mm"}
    return case_of(
        {"part": {"plate": "100 50", "dimensions": [{**one, "source": "measured", "critical": critical}]}}
    )


def points(value, *, critical=False):
    one = {
        "name": "d",
        "nominal": "2 mm",
        "limits": "+0.3/0",
        "measured_on": "distance P1 P2",
        "critical": critical,
    }
    at = [f"P{k} at {x} mm, 0 mm, 0 mm ±{sure} mm" for k, x, sure in ((1, 0, 0.06), (2, value, 0.08))]
    return case_of({"part": {"form": "site", "dimensions": [one], "points": at}})


@pytest.mark.parametrize("critical", [False, True])
@pytest.mark.parametrize(
    ("check", "build"),
    [("measured_clearance", clearance), ("point_distance", points)],
)
def test_a_value_passes_only_where_it_is_proven(check, build, critical):
    seen = set()
    for value in VALUES:
        outcome = CHECKS[check].run(build(value, critical=critical), "part")
        assert outcome.state == "ran", outcome.reason
        decided = decide(value, 2.0, 2.3, 0.1 - 1e-9).outcome
        assert all(f.severity == "stop" for f in outcome.findings)
        assert bool(outcome.findings) == (decided != "inside"), value
        seen.add(decided)
    assert len(seen) == 3


@pytest.mark.parametrize("critical", [False, True])
def test_a_measured_dimension_passes_only_where_its_limits_are_proven(critical):
    for value in (v for v in VALUES if 2 <= v <= 2.3):
        outcome = CHECKS["measured_dimension"].run(dimension(value, critical=critical), "part")
        assert outcome.state == "ran", outcome.reason
        assert all(f.severity == "stop" for f in outcome.findings)
        assert bool(outcome.findings) == (decide(value, 2.0, 2.3, 0.1 - 1e-9).outcome != "inside"), value


@pytest.mark.parametrize(("read", "holds"), [(2.05, True), (2.06, True), (2.04, False)])
def test_a_permit_of_what_is_not_proven_holds_up_to_the_worst_it_allowed(read, holds):
    outcome = CHECKS["measured_clearance"].run(clearance(read), "CONNECTION")
    permit = PermitMade(
        "not_proven", "CONNECTION/gap", "good enough", "mira", sound=True, in_force=True, up_to="1.95"
    )
    verdict = judge(
        part="P",
        revision="A",
        subject="s",
        outcomes=[outcome],
        signatures=[],
        permits=[permit],
        policy=Policy(roles=()),
    )
    assert verdict.go == holds
