"""Every check on its written cases: the exact codes come out, each finding can be named and says its fix."""

from __future__ import annotations

from itertools import pairwise

import pytest
from case_builders import Written, told_by, written_cases

from ledger.cases.surroundings import OF_CONNECTIONS
from ledger.checks import all_checks
from ledger.domain.finding import READER_CODES, SEVERITIES
from ledger.domain.headlines import LONGEST

CHECKS = {c.name: c for c in all_checks()}
CASES = written_cases()


def outcome_of(written: Written):
    return told_by(CHECKS[written.check], written.data)


@pytest.mark.parametrize("written", CASES, ids=lambda w: w.ident)
def test_the_case_gives_exactly_the_codes_it_expects(written):
    outcome = outcome_of(written)
    assert outcome.state == written.data.get("state", "ran"), outcome.reason
    assert [f.code for f in outcome.findings] == written.data["expect"]
    for key, said in (
        ("where", "where"),
        ("severity", "severity"),
        ("measured", "measured"),
        ("limit", "limit"),
        ("fix", "fix"),
    ):
        if key in written.data:
            assert [getattr(f, said) for f in outcome.findings] == written.data[key]
    assert written.data.get("says", "") in outcome.reason


@pytest.mark.parametrize("written", CASES, ids=lambda w: w.ident)
def test_every_finding_has_a_place_of_its_own_a_severity_and_a_fix(written):
    outcome = outcome_of(written)
    named = [(f.code, f.where) for f in outcome.findings]
    assert len(set(named)) == len(named)
    for finding in outcome.findings:
        assert finding.where
        assert finding.severity in SEVERITIES
        assert finding.fix or finding.severity == "note" or finding.code in READER_CODES
        assert 0 < len(finding.headline) <= LONGEST
        assert "…" not in finding.headline
        assert "\n" not in finding.first_fix
        clauses = finding.message.split(": ")
        assert not [two for two in pairwise(clauses) if two[0].endswith(two[1])]  # nothing is said twice
        if CHECKS[written.check].on in OF_CONNECTIONS:
            assert finding.where.startswith(("CONNECTION/", "SEAM/"))


@pytest.mark.parametrize("check", CHECKS.values(), ids=lambda c: c.name)
def test_every_check_has_a_case_that_finds_something_and_one_that_does_not(check):
    expected = [
        c.data["expect"] for c in CASES if c.check == check.name and c.data.get("state", "ran") == "ran"
    ]
    stops = [codes for codes in expected if set(codes) - {"fits", "ring_closes"}]
    assert stops
    assert len(stops) < len(expected)


def test_every_folder_of_cases_belongs_to_a_check():
    assert {c.check for c in CASES} == set(CHECKS)


@pytest.mark.parametrize("check", CHECKS.values(), ids=lambda c: c.name)
def test_every_code_of_a_check_comes_out_in_some_case(check):
    told = {code for c in CASES if c.check == check.name for code in c.data["expect"]}
    assert set(check.codes) - set(READER_CODES) - told == set()


def test_no_two_cases_of_a_check_have_the_same_name():
    names = [c.ident for c in CASES]
    assert len(set(names)) == len(names)
