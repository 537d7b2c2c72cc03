"""
A lock that was written past the rules, by somebody with the file and a key of the job, lets nothing out at any door.

One name an attack, one test an attack.
"""

from __future__ import annotations

import pytest
from bench_job import PASSPHRASE, plate_dxf
from forged_locks import EVERY_DOOR, forged_lock, keep_packet, kept_verdict, let_out, past_the_rules
from forgers import Forger
from sqlmodel import select

from ledger.acts.parts import NewRevision
from ledger.acts.questions import AskQuestion
from ledger.domain.errors import Tampered
from ledger.release.packets import by_itself
from ledger.store.tables import LockFact

pytestmark = pytest.mark.file_only
OWN, OTHER = plate_dxf(), plate_dxf(diameter=14.0)


@pytest.fixture
def lid(bench):
    """LID, signed by both and GO."""
    bench.plate("LID", OWN, unconnected=True)
    bench.sign_all("LID")
    return bench


def told(bench):
    return " | ".join(f.message for f in bench.job.verify() if f.severity == "stop")


def test_a_true_lock_proves_itself_at_every_door(lid):
    lid.job.lock(["LID"], "Jonas", lid.folder / "out")
    assert let_out(lid, "LID", OWN) == EVERY_DOOR


def test_what_is_forged_with_nothing_changed_proves_itself(lid):
    """So each attack below fails for its own reason alone."""
    forged_lock(lid, "LID")
    assert let_out(lid, "LID", OWN) == EVERY_DOOR


def test_swapped_verdict(lid):
    """LID is NO-GO; the lock is kept with the verdict of another part, which is GO."""
    good = kept_verdict(lid, "LID")
    lid.plate("CAP", OTHER, unconnected=True)
    forged_lock(lid, "CAP", verdict=good)
    assert let_out(lid, "CAP", OTHER) == set()
    assert "CAP A was locked with the verdict of LID A" in told(lid)


def test_verdict_no_go(lid):
    lid.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    forged_lock(lid, "LID")
    assert let_out(lid, "LID", OWN) == set()
    assert "LID A was locked although its verdict was NO-GO" in told(lid)


def test_verdict_of_another_fingerprint(lid):
    """The verdict of before a question was asked, kept with a lock of after."""
    good = kept_verdict(lid, "LID")
    lid.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    forged_lock(lid, "LID", verdict=good)
    assert let_out(lid, "LID", OWN) == set()
    assert "LID A was locked with a verdict of another fingerprint" in told(lid)


def test_roles_missing(lid):
    """Verdict and lock agree that all is well, but nobody has checked what they name."""
    good = kept_verdict(lid, "LID")
    lid.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    (now,) = lid.job.verdicts(["LID"])
    forged_lock(lid, "LID", verdict={**good, "subject": now.subject})
    assert let_out(lid, "LID", OWN) == set()
    assert "LID A was locked without a signature as checked and drawn" in told(lid)


def test_roles_as_the_policy_then_was(lid):
    """The policy asked for an approval when it was locked; that it no longer does changes nothing."""
    good = kept_verdict(lid, "LID")
    lid.policy(roles=("drawn", "checked", "approved"))
    lid.sign_all("LID")
    (now,) = lid.job.verdicts(["LID"])
    forged_lock(lid, "LID", verdict={**good, "subject": now.subject})
    lid.policy(roles=("drawn", "checked"))
    assert let_out(lid, "LID", OWN) == set()
    assert "LID A was locked without a signature as approved" in told(lid)


def one_key(bench):
    """What Jonas can do alone once one signature is enough: CAP signed as drawn by him, and locked as GO."""
    bench.plate("CAP", OTHER, unconnected=True)
    bench.job.sign(("CAP",), "drawn", "Jonas", {})
    (now,) = bench.job.verdicts(["CAP"])
    forged_lock(bench, "CAP", verdict={**now.to_json(), "verdict": "GO", "findings": [], "stops": []})


def test_policy_of_a_second_opening(lid):
    """A row that is set aside asks for one role in place of two."""
    forger = Forger(lid)
    forger.entry({**forger.act("open_job"), "roles": ["drawn"]})
    one_key(lid)
    assert let_out(lid, "CAP", OTHER) == set()
    assert "CAP A was locked without a signature as checked" in told(lid)


@pytest.mark.parametrize("ident", ["another job", ""])
def test_policy_undone_by_a_row_that_is_set_aside(lid, ident):
    seq = lid.policy(roles=("drawn", "checked", "approved"))
    forger = Forger(lid)
    forger.ident = ident or forger.ident
    forger.entry({"kind": "undo", "version": 1, "undoes": seq})
    lid.plate("CAP", OTHER, unconnected=True)
    lid.sign_all("CAP")
    good = {**kept_verdict(lid, "CAP"), "verdict": "GO", "findings": [], "stops": []}
    forged_lock(lid, "CAP", verdict=good)
    assert let_out(lid, "CAP", OTHER) == set()
    assert "CAP A was locked without a signature as approved" in told(lid)


def test_nothing_that_is_set_aside_stands_against_a_lock(lid):
    """One row of every kind, of another job and in another shape, before a lock and behind it; nothing comes of it."""
    forger, acts = Forger(lid), {e.kind: e.act for e in lid.job.journal()}
    lid.job.lock(["LID"], "Jonas", lid.folder / "out")
    acts |= {e.kind: e.act for e in lid.job.journal()}
    missing = {"sha256": "0" * 64, "dxf": "0" * 64}
    acts["withdraw_permit"] = {
        **acts["sign_revision"],
        "kind": "withdraw_permit",
        "permit": 3,
        "reason": "no",
    }

    def garbage():
        for act in acts.values():
            named = {**act, **{name: value for name, value in missing.items() if name in act}}
            forger.entry({**named, "something": "more"})
            forger.ident, ours = "another job", forger.ident
            forger.entry(named)
            forger.entry({**named, "version": 99}, program="99.0", at="2999-01-01T00:00:00Z")
            forger.entry(named, at="9999-99-99T99:99:99Z")
            forger.ident = ours

    garbage()
    assert let_out(lid, "LID", OWN) == EVERY_DOOR
    lid.plate("CAP", OTHER, unconnected=True)
    lid.sign_all("CAP")
    packet = lid.job.lock(["CAP"], "Jonas", lid.folder / "out").packet
    garbage()
    assert let_out(lid, "CAP", OTHER) == EVERY_DOOR
    assert lid.job.look_into(packet.read_bytes()).state == "current"
    assert lid.job.look_into(packet.read_bytes()).state == "current"
    assert by_itself(packet.read_bytes()).state == "by itself"
    with lid.job.store.replaying() as facts:
        assert lid.job.store.today(facts) < "2999"
    assert {f.severity for f in lid.job.verify()} == {"warning"}


def test_a_signature_at_no_entry_is_told_and_stands_against_no_lock_that_was_made(lid):
    """What was signed may be gone by it: nothing more is locked. What was locked before proves itself as it did."""
    forger, acts = Forger(lid), {e.kind: e.act for e in lid.job.journal()}
    lid.job.lock(["LID"], "Jonas", lid.folder / "out")
    seq = forger.entry({**acts["sign_revision"], "something": "more"}, signature="ab" * 64)
    assert let_out(lid, "LID", OWN) == EVERY_DOOR - {"verify"}
    assert [(f.code, f.where) for f in lid.job.verify() if f.severity == "stop"] == [
        ("signature_bad", f"entry {seq}")
    ]
    lid.plate("CAP", OTHER, unconnected=True)
    with pytest.raises(Tampered, match="carries a signature and is no entry"):
        lid.lock("CAP")


def test_drawing_not_the_parts_own(lid):
    forged_lock(lid, "LID", drawing=OTHER)
    assert let_out(lid, "LID", OTHER) == set()
    assert "the drawing of LID is not the one that was taken" in told(lid)


def test_drawing_in_the_packet_not_the_one_locked(lid):
    """The lock names the part's own drawing, and a packet with another one under its name."""
    (taken,) = [p.taken for p in lid.job.parts() if p.number == "LID"]
    forged_lock(lid, "LID", drawing=OTHER, part={"dxf": taken.dxf_sha256})
    assert let_out(lid, "LID", OWN) == set()
    assert "the packet does not hold the drawing of LID as it was taken" in told(lid)


def test_second_packet(lid):
    """A true lock, and a packet of one's own kept for it afterwards."""
    lid.job.lock(["LID"], "Jonas", lid.folder / "out")
    with lid.job.store.writing() as facts:
        seq = facts.exec(select(LockFact.seq)).one()
        keep_packet(lid, facts, seq, b"PK another", {"LID.dxf": "0" * 64})
    assert let_out(lid, "LID", OWN) == set()
    assert "is kept already" in told(lid)


def test_packet_not_directly_behind(lid):
    forged_lock(lid, "LID", keep=False)
    lid.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    with lid.job.store.writing() as facts:
        seq = facts.exec(select(LockFact.seq)).one()
        keep_packet(lid, facts, seq, b"PK another", {})
    assert let_out(lid, "LID", OWN) == set()
    assert "a packet is kept directly behind the lock that made it" in told(lid)


def test_no_packet(lid):
    forged_lock(lid, "LID", keep=False)
    assert let_out(lid, "LID", OWN) == set()
    assert "LID A has 0 kept packets" in told(lid)


def test_packet_with_a_path_for_a_name(lid):
    lid.job.lock(["LID"], "Jonas", lid.folder / "out")
    lid.do(NewRevision, number="LID", reason="a wider hole")
    lid.sign_all("LID")
    data = forged_lock(lid, "LID", keep=False)
    with lid.job.store.writing() as facts:
        lock = max(facts.exec(select(LockFact)), key=lambda k: k.seq)
        act = next(w.act for w in lid.job.journal() if w.seq == lock.seq)
        keep_packet(lid, facts, lock.seq, data, act["contents"], name="../../elsewhere.zip")
    assert "packet" not in let_out(lid, "LID", OWN)
    assert "is not a plain file name" in told(lid)


def test_locked_a_second_time(lid):
    lid.job.lock(["LID"], "Jonas", lid.folder / "out")
    forged_lock(lid, "LID", verdict=kept_verdict(lid, "LID"))
    assert let_out(lid, "LID", OWN) == set()
    assert "LID revision A is locked and never changes" in told(lid)


def test_signed_for_another_place(lid):
    seal = lid.job.seal()
    lid.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    forged_lock(lid, "LID", seal=f"{seal[0]}:{seal[1]}")
    assert let_out(lid, "LID", OWN) == set()
    assert "signed for another place in the journal" in told(lid)


def test_enrolled_by_oneself(lid):
    """No key of the job at all: somebody enrolls a key of their own and locks what nobody has signed."""
    lid.plate("CAP", OTHER, unconnected=True)
    good = kept_verdict(lid, "LID")
    lid.job.enroll("Nobody", ("drawn", "checked", "approved"), PASSPHRASE)
    (now,) = lid.job.verdicts(["CAP"])
    forged_lock(lid, "CAP", by="Nobody", verdict={**good, "part": "CAP", "subject": now.subject})
    assert let_out(lid, "CAP", OTHER) == set()
    assert "CAP A was locked without a signature as checked and drawn" in told(lid)


@pytest.fixture
def newer(lid):
    """LID A is locked with its own drawing, and then B with another."""
    lid.job.lock(["LID"], "Jonas", lid.folder / "out")
    lid.do(NewRevision, number="LID", reason="a wider hole")
    lid.job.take_profile("LID", "LID.dxf", OTHER, by="Mira")
    lid.lock("LID")
    assert let_out(lid, "LID", OTHER) == EVERY_DOOR
    return lid


def locked_act(bench, revision):
    return next(
        w.act for w in bench.job.journal() if w.kind == "lock" and w.act["parts"][0]["revision"] == revision
    )


@pytest.mark.parametrize("revision", ["A", "B"])
def test_unsigned_lock_over_a_true_one(newer, revision):
    """Appended without any key: neither is the older revision current again, nor is another packet handed out."""
    act = {**locked_act(newer, revision), "nonce": "cd" * 16}
    with past_the_rules(newer), newer.job.store.writing() as facts:
        newer.job.store.append(facts, job=newer.job.ident, by="Jonas", act=act)
    assert let_out(newer, "LID", OWN) == set()
    with pytest.raises(Tampered, match="was not allowed"):
        newer.job.packet("LID")


def test_second_packet_brings_no_older_revision_back(newer):
    """The newer lock is doubtful then, and what it superseded stays superseded."""
    with newer.job.store.writing() as facts:
        seq = max(facts.exec(select(LockFact.seq)))
        keep_packet(newer, facts, seq, b"PK another", {})
    assert let_out(newer, "LID", OTHER) == set()
    assert not let_out(newer, "LID", OWN)


def test_doubtful_partner_is_not_replaced_by_its_older_revision(bench):
    """A plate is judged with the newest revision that somebody locked, or not at all."""
    bench.lock("BASE", "TURN")
    for number in ("BASE", "TURN"):
        bench.do(NewRevision, number=number, reason="again")
    bench.sign_all("BASE", "TURN")
    bench.lock("BASE", "TURN")
    bench.do(NewRevision, number="TURN", reason="and again")
    bench.sign_all("TURN")
    (before,) = bench.job.verdicts(["TURN"])
    with bench.job.store.writing() as facts:
        seq = max(facts.exec(select(LockFact.seq)))
        keep_packet(bench, facts, seq, b"PK another", {})
    assert before.go
    with pytest.raises(Tampered, match="is kept already"):
        bench.job.verdicts(["TURN"])
