"""What a signed act refuses by itself, whoever hands it in: checks behind signing, permitting, locking."""

from __future__ import annotations

import pytest

from ledger.acts.base import make
from ledger.acts.keys import ChangeKey
from ledger.acts.people import ChangeRoles, EnrollPerson
from ledger.acts.permits import Permit, WithdrawPermit
from ledger.acts.release import Lock, LockedPart, OpenJob, SetPolicy, SignRevision, SubjectField
from ledger.acts.undo import Undo
from ledger.domain.errors import BadInput, UnknownName
from ledger.store.replay import seal_of
from ledger.store.signers import keys_of
from ledger.store.tables import NonceFact

NONCE = "0" * 31 + "1"
DIGEST = "a" * 64


@pytest.fixture
def refused(bench):
    """Check an act against the job as it stands; what it says."""

    def told(kind, **fields):
        with bench.job.store.reading() as facts:
            with pytest.raises(BadInput) as fault:
                make(kind, **fields).check(facts)
            return str(fault.value)

    return told


@pytest.fixture
def seal(bench):
    """Who signs, with which key, at which seal."""
    with bench.job.store.reading() as facts:
        seq, mark = seal_of(facts)
        return {
            "person": "Mira",
            "key": keys_of(facts, "Mira")[-1].key,
            "nonce": NONCE,
            "seal": f"{seq}:{mark}",
        }


def permitted(number, revision="A"):
    return {"number": number, "revision": revision}


def locked_part(revision="A"):
    return LockedPart(number="BASE", revision=revision, subject=DIGEST, verdict=DIGEST, record="")


def test_a_job_is_opened_once(refused):
    assert "open already" in refused(OpenJob, firm="Another", ident="x1")


def test_nobody_is_enrolled_with_another_persons_key(refused, seal):
    assert "already enrolled for someone else" in refused(
        EnrollPerson, name="Ada", adds=seal["key"], roles=("drawn",), **seal
    )
    assert "enrolled already" in refused(EnrollPerson, name="Mira", adds=DIGEST, roles=("drawn",), **seal)


SIGNED = {
    "permit": (Permit, {"parts": (permitted("BASE"),), "code": "fits", "place": "", "reason": "agreed"}),
    "withdrawal": (WithdrawPermit, {"permit": 7, "reason": "cut again"}),
    "lock": (Lock, {"parts": (locked_part(),), "contents": {"BASE.dxf": DIGEST}}),
    "sign off": (
        SignRevision,
        {
            "role": "checked",
            "meaning": "I compared this",
            "subjects": (SubjectField(number="BASE", revision="A", subject=DIGEST),),
        },
    ),
    "enrolment": (EnrollPerson, {"name": "Ada", "adds": DIGEST, "roles": ("drawn",)}),
    "change of roles": (ChangeRoles, {"name": "Jonas", "roles": ("drawn",), "reason": "agreed"}),
    "policy": (SetPolicy, {"roles": ("drawn",)}),
    "change of keys": (ChangeKey, {"name": "Jonas", "adds": DIGEST, "reason": "a second workstation"}),
}


@pytest.mark.both
@pytest.mark.parametrize("what", SIGNED)
def test_a_key_that_is_not_theirs_and_a_used_nonce_are_refused(bench, refused, seal, what):
    kind, fields = SIGNED[what]
    with bench.job.store.reading() as facts:
        jonas = keys_of(facts, "Jonas")[-1].key
    assert "no key Mira signs with" in refused(kind, **fields, **{**seal, "key": jonas})
    with pytest.raises(UnknownName), bench.job.store.reading() as facts:
        make(kind, **fields, **{**seal, "person": "Nobody"}).check(facts)
    with bench.job.store.writing() as facts:
        facts.add(NonceFact(nonce=NONCE, seq=1))
    assert "recorded already" in refused(kind, **fields, **seal)


def test_a_permit_or_a_lock_for_another_revision_is_refused(refused, seal):
    kind, fields = SIGNED["permit"]
    assert "at another revision now" in refused(
        kind, **{**fields, "parts": (permitted("BASE", "B"),)}, **seal
    )
    assert "needs a reason" in refused(kind, **{**fields, "reason": ""}, **seal)
    kind, fields = SIGNED["lock"]
    assert "at another revision now" in refused(kind, **{**fields, "parts": (locked_part("B"),)}, **seal)


def test_a_change_of_keys_says_what_and_why(bench, refused, seal):
    with bench.job.store.reading() as facts:
        jonas = keys_of(facts, "Jonas")[-1].key
    assert "needs a reason" in refused(ChangeKey, name="Mira", reason="", adds=DIGEST, **seal)
    with pytest.raises(UnknownName), bench.job.store.reading() as facts:
        make(ChangeKey, name="Nobody", reason="lost", adds=DIGEST, **seal).check(facts)
    assert "neither a key to retire" in refused(ChangeKey, name="Mira", reason="new workstation", **seal)
    assert "somebody's already" in refused(
        ChangeKey, name="Mira", reason="new workstation", adds=jonas, **seal
    )
    assert "no key that Mira signs with" in refused(
        ChangeKey, name="Mira", reason="lost", retires=jonas, **seal
    )


def test_a_counter_act_names_an_entry_that_can_be_taken_back(bench):
    with bench.job.store.reading() as facts:
        with pytest.raises(BadInput, match="no entry 9999"):
            Undo.of(facts, 9999)
        with pytest.raises(BadInput, match="cannot be undone"):
            Undo.of(facts, 1)
