"""One judgement with two doors, and nothing that is added against a part ever lets it go."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.errors import NotReleasable
from ledger.domain.finding import SEVERITIES, Finding
from ledger.domain.gate import judge, key_of, require
from ledger.domain.verdict import Outcome, PermitMade, Policy, SignatureMade, Verdict

SUBJECT = "s" * 64
RAN = Outcome("a_check", "BASE", "ran")


def signed(role, person, **fields):
    return SignatureMade(person, role, fields.pop("subject", SUBJECT), fields.pop("sound", True), **fields)


BOTH = (signed("drawn", "Mira"), signed("checked", "Jonas"))


PAIR = Policy(people=2)


def verdict(*outcomes, signatures=BOTH, permits=(), policy=PAIR):
    return judge(
        part="BASE",
        revision="A",
        subject=SUBJECT,
        outcomes=outcomes or (RAN,),
        signatures=signatures,
        permits=permits,
        policy=policy,
    )


def found(*findings):
    return Outcome("a_check", "BASE", "ran", findings)


def codes(judged):
    return {s.code for s in judged.stops}


def test_nothing_against_it_and_both_roles_signed_is_go():
    assert verdict().go
    require([verdict()])


def test_a_go_always_says_what_was_not_checked():
    assert verdict().not_checked


def test_the_exception_carries_the_same_stops():
    judged = verdict(found(Finding("offset", "out")))
    with pytest.raises(NotReleasable) as refusal:
        require([judged])
    assert refusal.value.verdicts == (judged,)


def test_an_empty_set_is_not_released():
    with pytest.raises(NotReleasable):
        require([])


@pytest.mark.parametrize("state", ["not run", "error"])
def test_a_check_that_did_not_look_stops(state):
    assert not verdict(RAN, Outcome("b_check", "BASE", state, (), "no reason")).go


def test_where_no_check_ran_nothing_goes():
    assert codes(verdict(Outcome("a_check", "BASE", "does not apply"))) == {"no_checks"}


def test_a_note_does_not_stop():
    assert verdict(found(Finding("fits", "well", "note"))).go


def test_a_warning_stops_until_someone_who_signed_has_acknowledged_it():
    warning = Finding("tight_edge", "close", "warning", where="H1")
    assert codes(verdict(found(warning))) == {"unacknowledged"}
    seen = (signed("drawn", "Mira", acknowledged=(key_of(warning),)), BOTH[1])
    assert verdict(found(warning), signatures=seen).go


def test_policy_raises_a_warning_and_cannot_silence_a_stop():
    warning, stop = Finding("tight_edge", "close", "warning"), Finding("offset", "out")
    strict = Policy(raised=("tight_edge",), people=2)
    assert "tight_edge" in codes(verdict(found(warning), policy=strict))
    assert "offset" in codes(verdict(found(stop), policy=strict))
    assert stop.raised("note") == stop


@pytest.mark.parametrize(
    "signatures",
    [
        (),
        (BOTH[0],),
        (BOTH[0], signed("checked", "Mira")),
        (BOTH[0], signed("checked", "Jonas", subject="t" * 64)),
        (BOTH[0], signed("checked", "Jonas", sound=False)),
        (BOTH[0], signed("approved", "Jonas")),
        (signed("checked", "Mira", self_check=True),),
    ],
    ids=[
        "nobody",
        "drawn only",
        "checked by the drawer",
        "another subject",
        "a bad signature",
        "a wrong role",
        "a self-check in company",
    ],
)
def test_a_role_that_nobody_rightly_holds_is_missing(signatures):
    assert codes(verdict(signatures=signatures)) == {"role_missing"}


def test_one_person_alone_answers_for_both_by_a_self_check():
    alone = Policy(people=1)
    assert verdict(signatures=(signed("checked", "Mira", self_check=True),), policy=alone).go
    assert not verdict(signatures=(signed("drawn", "Mira"), signed("checked", "Mira")), policy=alone).go


@pytest.mark.parametrize(
    ("fields", "goes"),
    [
        ({}, True),
        ({"sound": False}, False),
        ({"in_force": False}, False),
        ({"where": "H2"}, False),
        ({"code": "overlap"}, False),
    ],
    ids=["right", "bad signature", "run out", "another place", "another code"],
)
def test_a_permit_covers_exactly_one_finding(fields, goes):
    permit = PermitMade(
        **{
            "code": "offset",
            "where": "H1",
            "reason": "r",
            "person": "Jonas",
            "sound": True,
            "in_force": True,
            **fields,
        }
    )
    judged = verdict(found(Finding("offset", "out", where="H1")), permits=(permit,))
    assert judged.go is goes
    assert bool(judged.permitted) is goes


@pytest.mark.parametrize("code", ["role_missing", "not_run", "check_failed", "no_checks"])
def test_some_things_nobody_can_permit(code):
    permit = PermitMade(code, "BASE", "r", "Jonas", sound=True, in_force=True)
    assert not verdict(RAN, Outcome("b", "BASE", "not run", (), "x"), permits=(permit,)).go


FINDINGS = st.builds(
    Finding,
    st.sampled_from(["offset", "overlap", "assumed"]),
    st.just("m"),
    st.sampled_from(SEVERITIES),
    st.sampled_from(["H1", "H2"]),
)
OUTCOMES = st.lists(
    st.builds(
        Outcome,
        st.just("c"),
        st.just("BASE"),
        st.sampled_from(["ran", "not run", "error", "does not apply"]),
        st.lists(FINDINGS, max_size=3).map(tuple),
    ),
    max_size=4,
)


@given(OUTCOMES, FINDINGS)
def test_adding_a_stop_never_turns_a_verdict_go(outcomes, finding):
    before = verdict(RAN, *outcomes)
    after = verdict(RAN, *outcomes, found(finding.raised("stop")))
    assert not after.go
    assert set(before.stops) <= set(after.stops)


@given(OUTCOMES)
def test_a_verdict_is_read_back_as_it_was_kept(outcomes):
    judged = verdict(RAN, *outcomes)
    again = Verdict.from_json(judged.to_json())
    assert again.to_json() == judged.to_json()


def test_a_matter_that_was_left_alone_of_several_is_told_once():
    outcomes = [Outcome("a_check", name, "ran", (), "the lean of bolts") for name in ("T-B", "G-T", "T-B")]
    said = verdict(*outcomes, Outcome("b_check", "T-B", "ran", (), "wrenches")).not_checked
    assert said[:2] == ("T-B, G-T: the lean of bolts", "T-B: wrenches")


def test_a_signature_of_an_earlier_state_is_named_where_its_role_is_missing():
    before = (signed("drawn", "Anna", subject="0" * 64), signed("drawn", "Mira", subject="1" * 64))
    unsound = signed("checked", "Jonas", subject="1" * 64, sound=False)
    said = {s.where: s.message for s in verdict(signatures=(*before, unsound)).stops}
    assert said == {
        "drawn": "changed since Mira signed it as drawn",
        "checked": 'no "checked" signature for this revision as it stands',
    }
