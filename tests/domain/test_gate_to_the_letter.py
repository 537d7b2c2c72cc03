"""What the gate says, to the letter: which codes it excuses, which nobody can permit, and what is kept of a verdict."""

from __future__ import annotations

import pytest

from ledger.domain.finding import Finding
from ledger.domain.gate import NEVER_CHECKED, judge, key_of, roles_held
from ledger.domain.verdict import Outcome, PermitMade, Policy, SignatureMade, Verdict

SUBJECT = "s" * 64
RAN = Outcome("a_check", "BASE", "ran")
ALONE = SignatureMade("Mira", "checked", SUBJECT, sound=True, self_check=True)


def verdict(*outcomes, signatures=(ALONE,), permits=(), policy=None):
    return judge(
        part="BASE",
        revision="A",
        subject=SUBJECT,
        outcomes=outcomes or (RAN,),
        signatures=signatures,
        permits=permits,
        policy=policy or Policy(),
    )


def found(*findings):
    return Outcome("a_check", "BASE", "ran", findings)


def permit(code, where, **fields):
    return PermitMade(code, where, "r", "Jonas", sound=True, in_force=True, **fields)


@pytest.mark.parametrize("code", ["role_missing", "partner_open", "unacknowledged"])
def test_what_people_bring_about_together_keeps_nobody_from_signing(code):
    judged = verdict(found(Finding(code, "not yet")))
    assert not judged.go
    assert judged.stops_against_signing() == ()


def test_every_other_stop_keeps_people_from_signing():
    offset = Finding("offset", "out")
    assert verdict(found(offset, Finding("partner_open", "open"))).stops_against_signing() == (offset,)


@pytest.mark.parametrize(
    "code", ["role_missing", "unacknowledged", "not_run", "check_failed", "no_checks", "not_calculated"]
)
def test_a_permit_for_what_was_not_judged_changes_nothing(code):
    judged = verdict(found(Finding(code, "m", where="H1")), permits=(permit(code, "H1"),))
    assert [s.code for s in judged.stops] == [code]
    assert judged.permitted == ()


def test_what_did_not_run_is_named_with_its_place_and_fix():
    (stop,) = verdict(RAN, Outcome("holes", "T-B", "not run", (), "no drawing")).stops
    assert stop == Finding(
        "not_run",
        "holes did not run: no drawing",
        where="T-B",
        fix="supply what is missing",
    )
    (stop,) = verdict(RAN, Outcome("holes", "T-B", "error", (), "KeyError")).stops
    assert stop == Finding(
        "check_failed",
        "holes failed: KeyError",
        where="T-B",
        fix="internal error, please report it",
    )


def test_where_nothing_ran_the_part_is_named():
    (stop,) = verdict(Outcome("holes", "T-B", "does not apply")).stops
    assert (stop.code, stop.where) == ("no_checks", "BASE")


def test_a_warning_is_named_by_its_figures_so_new_figures_are_seen_anew():
    warning = Finding("tight_edge", "close", "warning", where="H1", measured="4 mm", limit="5 mm")
    assert key_of(warning) == "tight_edge|H1|4 mm|5 mm"
    seen = SignatureMade("Mira", "checked", SUBJECT, True, self_check=True, acknowledged=(key_of(warning),))
    assert verdict(found(warning), signatures=(seen,)).go
    worse = Finding("tight_edge", "close", "warning", where="H1", measured="3 mm", limit="5 mm")
    (stop,) = verdict(found(worse), signatures=(seen,)).stops
    assert (stop.code, stop.where, stop.fix) == ("unacknowledged", "H1", "look at it and sign again")


def test_a_warning_that_another_part_brings_about_needs_no_new_signature():
    other = Finding("not_told_apart", "looks like SEAM", "warning", where="etched")
    judged = verdict(found(other))
    assert judged.go
    assert judged.warnings == (other,)


def test_before_anyone_has_signed_a_warning_is_no_stop_of_its_own():
    judged = verdict(found(Finding("tight_edge", "close", "warning")), signatures=())
    assert [(s.code, s.where) for s in judged.stops] == [
        ("role_missing", "drawn"),
        ("role_missing", "checked"),
    ]


def test_a_missing_role_says_who_may_sign():
    def fixes(people):
        return [s.fix for s in verdict(signatures=(), policy=Policy(people=people)).stops]

    assert fixes(1) == ["sign as drawn", "sign as checked"]
    assert fixes(2) == ["sign as drawn", "sign as checked, by someone who did not draw it"]
    (lost,) = verdict(signatures=(), policy=Policy(roles=("approved",), people=3)).stops
    assert (lost.fix, lost.message) == (
        "sign as approved",
        'no "approved" signature for this revision as it stands',
    )


def test_a_self_check_in_company_makes_its_maker_the_drawer():
    company = Policy(people=2)
    twice = (ALONE, SignatureMade("Mira", "checked", SUBJECT, sound=True))
    assert roles_held(twice, company) == {"drawn": "Mira"}
    other = (ALONE, SignatureMade("Jonas", "checked", SUBJECT, sound=True))
    assert roles_held(other, company) == {"drawn": "Mira", "checked": "Jonas"}
    assert roles_held((ALONE,), Policy(people=0)) == {"drawn": "Mira", "checked": "Mira"}


def test_who_drew_it_may_approve_it_and_the_first_to_sign_holds_the_role():
    signs = [
        SignatureMade(person, role, SUBJECT, sound=True)
        for person, role in (
            ("Mira", "drawn"),
            ("Mira", "approved"),
            ("Jonas", "checked"),
            ("Ola", "checked"),
        )
    ]
    held = roles_held(signs, Policy(people=3))
    assert held == {"drawn": "Mira", "approved": "Mira", "checked": "Jonas"}


@pytest.mark.parametrize(
    ("value", "bound", "up_to", "above", "goes"),
    [
        ("1.2", "1", "1.2", True, True),
        ("1.21", "1", "1.2", True, False),
        ("0.8", "1", "0.8", False, True),
        ("0.79", "1", "0.8", False, False),
        ("1.2", "1", "1.2", False, False),
        ("0.8", "1", "1.2", True, False),
        ("", "", "1.2", True, False),
        ("1", "1", "1", False, True),
    ],
    ids=[
        "just",
        "past",
        "just below",
        "past below",
        "wrong side",
        "other side",
        "no figures",
        "at the bound",
    ],
)
def test_a_permit_up_to_a_value_holds_no_farther_and_on_its_side_only(value, bound, up_to, above, goes):
    judged = verdict(
        found(Finding("offset", "out", where="H1", value=value, bound=bound)),
        permits=(permit("offset", "H1", up_to=up_to, above=above),),
    )
    assert judged.go is goes


def test_a_permit_speaks_of_what_lies_below_unless_it_says_above():
    out = Finding("offset", "out", where="H1", value="0.8", bound="1")
    assert verdict(found(out), permits=(permit("offset", "H1", up_to="0.8"),)).go


def test_only_what_was_left_alone_on_purpose_is_among_what_was_not_checked():
    judged = verdict(
        RAN,
        Outcome("b", "BASE", "ran", (), "lean of bolts"),
        Outcome("c", "BASE", "does not apply", (), "no bends"),
        Outcome("d", "BASE", "not run", (), "no drawing"),
        Outcome("e", "BASE", "error", (), "KeyError"),
    )
    assert judged.not_checked == ("BASE: lean of bolts", "BASE: no bends", *NEVER_CHECKED)


def test_a_policy_asks_for_two_roles_of_one_person_and_its_subject_names_no_people():
    policy = Policy()
    assert (policy.roles, policy.raised, policy.people) == (("drawn", "checked"), (), 1)
    assert Policy(raised=("b", "a"), people=7).to_json() == {
        "roles": ["drawn", "checked"],
        "raised": ["a", "b"],
    }


def test_a_verdict_is_kept_with_everything_it_said():
    stop, note = Finding("offset", "out", where="H1"), Finding("fits", "well", "note")
    warning, allowed = Finding("tight_edge", "close", "warning"), Finding("overlap", "a bit", where="X")
    judged = verdict(found(stop, note, warning, allowed), permits=(permit("overlap", "X"),))
    unseen = Finding(
        "unacknowledged",
        "a warning that is not acknowledged: close",
        where="",
        fix="look at it and sign again",
    )
    assert judged.to_json() == {
        "part": "BASE",
        "revision": "A",
        "verdict": "NO-GO",
        "subject": SUBJECT,
        "stops": [stop.to_json(), unseen.to_json()],
        "warnings": [warning.to_json()],
        "notes": [note.to_json()],
        "permitted": [allowed.to_json()],
        "not_checked": list(NEVER_CHECKED),
        "signed": [{"person": "Mira", "role": "checked", "self_check": True}],
    }
    assert verdict().to_json()["verdict"] == "GO"
    assert Verdict.from_json(judged.to_json()) == judged


def test_signatures_that_do_not_count_are_not_among_those_of_the_verdict():
    others = (
        SignatureMade("Jonas", "drawn", "t" * 64, sound=True),
        SignatureMade("Ola", "drawn", SUBJECT, sound=False),
    )
    assert verdict(signatures=(ALONE, *others)).signed == (ALONE,)
