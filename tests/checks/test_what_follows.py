"""
What only follows from a stop is told behind it in one line; no finding is lost, and nothing else is put there.

The outcomes are those of the written cases whose findings are causes or effects, put together at random.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest
from case_builders import told_by, written_cases

from ledger.checks import all_checks
from ledger.domain import gate
from ledger.domain.cause import Following, explains, grouped, is_cause, may_follow
from ledger.domain.finding import Finding
from ledger.domain.gate import judge
from ledger.domain.verdict import Outcome, PermitMade, Policy

PLIES = {"T-B": (("B", "A"), ("T", "A")), "S-T": (("S", "A"), ("T", "A"))}
ROUNDS = 300


@pytest.fixture(scope="module")
def outcomes():
    """Outcomes of parts and of connections, each with a cause or an effect in it, or not run."""
    checks = {c.name: c for c in all_checks()}
    found = {True: [], False: []}
    for written in written_cases():
        codes = set(written.data["expect"])
        if written.data.get("state") == "not run" or any(
            is_cause(c) or may_follow(c) or c == "no_common_pattern" for c in codes
        ):
            found["part" in written.data].append(told_by(checks[written.check], written.data, "T"))
    assert min(len(found[True]), len(found[False])) > 10
    return found


def some(outcomes, rng):
    """A few outcomes of part T and of its two connections; a drawing that was missing is that of T or of another."""
    for _ in range(rng.randint(1, 4)):
        yield _undrawn(rng.choice(outcomes[True]), rng)
    for _ in range(rng.randint(1, 4)):
        name = rng.choice(sorted(PLIES))
        yield _undrawn(replace(rng.choice(outcomes[False]), subject=name, plies=PLIES[name]), rng)


def _undrawn(outcome, rng):
    return replace(outcome, undrawn=rng.choice(("T", "B"))) if outcome.undrawn else outcome


def judged(outcomes, **fields):
    whole = {"signatures": (), "permits": (), "policy": Policy(roles=()), **fields}
    return judge(part="T", revision="A", subject="0" * 64, outcomes=outcomes, **whole)


def parts_of(verdict):
    return verdict.stops, verdict.warnings, verdict.notes, verdict.permitted


def plain(findings):
    return [replace(f, follows="") for f in findings]


def test_no_finding_is_lost_and_the_verdict_is_the_same(outcomes, monkeypatch):
    rng, followed = random.Random(7), 0
    for _ in range(ROUNDS):
        told = tuple(some(outcomes, rng))
        verdict = judged(told)
        with monkeypatch.context() as patch:
            patch.setattr(gate, "explains", lambda *_: False)
            bare = judged(told)
        assert verdict.go is bare.go
        for now, before in zip(parts_of(verdict), parts_of(bare), strict=True):
            assert plain(now) == plain(before) == list(before)
        every = (*verdict.stops, *verdict.warnings, *verdict.notes)
        shown = list(grouped(every))
        behind = [f for s in shown if isinstance(s, Following) for f in s.findings]
        assert Counter([*behind, *(s for s in shown if isinstance(s, Finding))]) == Counter(every)
        assert {f for f in every if f.follows} == set(behind)
        assert all(f.to_json().get("follows", "") == f.follows for f in every)
        followed += len(behind)
    assert followed > 100


def test_nothing_but_an_effect_follows_and_only_from_a_stop_at_the_same_place(outcomes):
    rng = random.Random(11)
    for _ in range(ROUNDS):
        told = tuple(some(outcomes, rng))
        verdict = judged(told)
        stops = {replace(s, follows="") for s in verdict.stops}
        for finding in (*verdict.stops, *verdict.warnings, *verdict.notes):
            if not finding.follows:
                continue
            assert may_follow(finding.code)
            assert explains(finding.follows, finding.code)
            causes = [s for s in stops if s.code == finding.follows]
            places = {o.subject if o.plies else "" for o in told for f in o.findings if f in causes}
            for where in tellers(told, replace(finding, follows="")):
                assert "" in places or where in places


def tellers(told, finding):
    """Where a finding is told: its connection, or the part itself; of what did not run the same."""
    return [
        o.subject if o.plies else ""
        for o in told
        if finding in o.findings
        or (finding.code == "not_run" and o.state == "not run" and o.check in finding.message)
    ]


CASES = [  # cause, where it is told, effect, where that is told, and whether it follows
    ("open_contour", "", "unmatched", "T-B", True),
    ("open_contour", "", "off_drawing", "", True),
    ("open_contour", "T-B", "unmatched", "S-T", False),
    ("no_common_pattern", "T-B", "left_over", "T-B", True),
    ("no_common_pattern", "T-B", "left_over", "S-T", False),
    ("no_common_pattern", "T-B", "off_drawing", "", False),
    ("not_mirrored", "", "unmatched", "S-T", True),
    ("unit_missing", "", "hole_lost", "", False),
    ("words_differ", "", "unmatched", "T-B", False),
    ("dimension_differs", "", "off_drawing", "", False),
    ("offset", "T-B", "unmatched", "T-B", False),
    ("open_contour", "", "edge_near", "", False),
    ("open_contour", "", "question_open", "", False),
]


def outcome(code, at, severity="stop", **fields):
    found = Finding(code, f"{code} at {at}", severity, where=f"{at}/x", **fields)
    return Outcome(f"{code} check", at or "T", "ran", (found,), plies=PLIES.get(at, ()))


@pytest.mark.parametrize(("cause", "at", "effect", "where", "follows"), CASES)
def test_only_a_stop_that_explains_it_at_the_same_place(cause, at, effect, where, follows):
    verdict = judged([outcome(effect, where), outcome(cause, at)])
    (found,) = [f for f in verdict.stops if f.code == effect]
    assert found.follows == (cause if follows else "")
    assert [s.code for s in verdict.stops].index(cause) < len(verdict.stops)


def test_a_warning_is_no_cause_nor_is_what_was_permitted():
    effect = outcome("unmatched", "T-B")
    assert judged([effect, outcome("open_contour", "", "warning")]).stops[0].follows == ""
    permit = PermitMade("open_contour", "/x", "r", "Jonas", sound=True, in_force=True)
    (stop,) = judged([effect, outcome("open_contour", "")], permits=(permit,)).stops
    assert (stop.code, stop.follows) == ("unmatched", "")


@pytest.mark.parametrize(("undrawn", "follows"), [("T", "profile_missing"), ("B", ""), ("", "")])
def test_what_did_not_run_follows_only_where_it_lacked_that_drawing(undrawn, follows):
    idle = Outcome("interference", "T-B", "not run", (), "no outline", PLIES["T-B"], undrawn)
    found = judged([idle, outcome("profile_missing", "")])
    assert {f.code: f.follows for f in found.stops} == {"profile_missing": "", "not_run": follows}


def test_a_check_that_crashed_never_follows():
    crashed = Outcome("interference", "T-B", "error", (), "KeyError", PLIES["T-B"], "T")
    found = judged([crashed, outcome("profile_missing", "")])
    assert {f.follows for f in found.stops} == {""}


def test_they_are_one_line_behind_the_last_of_their_causes():
    told = [*(outcome("unmatched", at, "warning") for at in PLIES), outcome("off_drawing", "")]
    verdict = judged([outcome("open_contour", ""), *told, outcome("edge_near", "")])
    cause, line, other = grouped((*verdict.stops, *verdict.warnings))
    assert (cause.code, other.code) == ("open_contour", "edge_near")
    assert line.text == "follows from the above: 3 findings (off drawing 1, unmatched 2)"
    assert [f.code for f in grouped(verdict.warnings)] == ["unmatched", "unmatched"]  # without their cause
