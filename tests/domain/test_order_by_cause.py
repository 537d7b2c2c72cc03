"""A cause comes before what follows from it, in a verdict and in what to do first; every code has its place."""

from __future__ import annotations

import random

import pytest

from ledger.checks import all_checks, known_codes
from ledger.domain.cause import _ORDER, RANKS, by_cause, is_cause, may_follow
from ledger.domain.finding import READER_CODES, Finding
from ledger.domain.gate import judge
from ledger.domain.next_steps import first_steps
from ledger.domain.verdict import Outcome, Policy

GATE_CODES = ("role_missing", "unacknowledged", "not_run", "check_failed", "no_checks", "lock_unsigned")
EFFECTS = ("unmatched", "left_over", "off_drawing", "not_run", "hole_lost")
CAUSES = ("not_mirrored", "unit_missing", "open_contour", "duplicate", "profile_missing", "several_outlines")


def verdict(part, *stops):
    return judge(
        part=part, revision="A", subject="0" * 64, outcomes=(Outcome("rule", part, "ran", stops),), signatures=(),
        permits=(), policy=Policy(),
    )  # fmt: skip


def test_every_code_that_a_check_or_the_gate_gives_has_a_place_and_no_other_has_one():
    codes = {*known_codes(), *READER_CODES, *GATE_CODES}
    assert codes <= RANKS.keys()
    assert set(RANKS) - codes == set()


@pytest.mark.parametrize("cause", CAUSES)
@pytest.mark.parametrize("effect", EFFECTS)
def test_a_cause_comes_before_its_effects_in_a_verdict_and_in_what_to_do_first(cause, effect):
    """Of the same part, and of a connection of it whose other part is stopped by the effect alone."""
    at = Finding(cause, cause, where="profile")
    of_connection = Finding(effect, effect, where="ARM-BASE/BASE/H1")
    assert [s.code for s in verdict("ARM", of_connection, at).stops][:2] == [cause, effect]
    steps = first_steps(
        [verdict("ARM", of_connection, at), verdict("BASE", of_connection), verdict("COVER", of_connection)]
    )
    assert [s.finding.code for s in steps] == [cause, effect]


def test_an_effect_of_another_part_keeps_its_place():
    alone, at = (
        Finding("unmatched", "unmatched", where="A-B/A/H1"),
        Finding("open_contour", "open", where="profile"),
    )
    steps = first_steps([verdict("A", alone), verdict("B", alone), verdict("C", at)])
    assert [s.finding.code for s in steps] == ["unmatched", "open_contour"]


def test_the_order_is_that_of_the_ranks_whatever_the_order_found():
    codes = sorted(RANKS)
    random.Random(1).shuffle(codes)
    ordered = [f.code for f in by_cause(Finding(c, c) for c in codes)]
    assert [RANKS[c] for c in ordered] == sorted(RANKS[c] for c in ordered)
    assert ordered[-1] in {"partner_open", "unacknowledged", "role_missing"}


def test_no_code_has_two_places():
    assert len(RANKS) == sum(map(len, _ORDER))


def test_no_code_is_cause_and_effect():
    assert [c for c in RANKS if is_cause(c) and may_follow(c)] == []


def test_no_code_belongs_to_two_checks():
    codes = [code for known in all_checks() for code in known.codes]
    assert sorted({code for code in codes if codes.count(code) > 1}) == []
