"""What checks of bends say does not depend on how the drawing lies, nor on which end a bend line was drawn from."""

from __future__ import annotations

import pytest
from case_builders import case_of, written_cases

from ledger.checks import all_checks

CHECKS = {c.name: c for c in all_checks()}
ABOUT_BENDS = ("bend_relief", "hole_near_bend", "smallest_flange")
CASES = [c for c in written_cases() if c.check in ABOUT_BENDS and "bends" in c.data["part"]]
WAYS = [
    "turned 37 deg, shifted 500 -300",
    "turned over, turned 201.3 deg",
    "turned 90 deg, shifted 12345.678 -9876.543",
]


def said(check, part):
    outcome = CHECKS[check].run(case_of({"part": part}), "PLATE")
    assert outcome.state == "ran", outcome.reason
    return sorted((f.code, f.measured, f.limit) for f in outcome.findings)


def backwards(line):
    return ", ".join(reversed([p.strip() for p in line.split(",")]))


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("written", CASES, ids=lambda w: w.ident)
def test_a_turned_drawing_is_judged_alike(written, way):
    part = written.data["part"]
    assert said(written.check, {**part, "at": way}) == said(written.check, part)


@pytest.mark.parametrize("written", CASES, ids=lambda w: w.ident)
def test_a_bend_line_drawn_from_its_other_end_is_judged_alike(written):
    part = written.data["part"]
    turned = {**part, "bends": [backwards(b) for b in part["bends"]]}
    assert said(written.check, turned) == said(written.check, part)
