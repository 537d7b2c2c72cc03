"""
Entries that nobody could have written with the program, appended with a chain that holds: one test an attack.

Whoever can write to the job's file, or has one person's key, puts a row behind the last one. An entry that was not
allowed where it stands is named and nothing from there on counts; a row that is no entry is set aside by name.
"""

from __future__ import annotations

import json

import pytest
from bench_job import PASSPHRASE, plate_dxf
from fact_rows import dump_facts
from forgers import Forger
from small_job import chained_again
from sqlalchemy import insert, text

from ledger.acts.questions import AskQuestion
from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, Tampered
from ledger.domain.program import PROGRAM
from ledger.release.custody import examine
from ledger.store.sealed import make_key
from ledger.store.tables import JournalRow

BOTH = ("BASE", "TURN")


@pytest.fixture
def forger(bench):
    return Forger(bench)


def facts_of(bench):
    with bench.job.store.reading() as facts:
        return dump_facts(facts)


def not_allowed(bench, entry, words=""):
    """The entry is named, nothing of it counts, and the job can be read and exported and nothing else."""
    found = {f.where: f.message for f in examine(bench.place).problems if f.severity == "stop"}
    assert words in found[f"entry {entry}"]
    job = bench.reopen()
    assert [f.where for f in job.verify() if f.severity == "stop"] == [f"entry {entry}"]
    with pytest.raises(Tampered, match=f"entry {entry} "):
        job.write_part("PIER", {"form": "site"}, by="Mira")
    with pytest.raises(Tampered):
        job.lock(BOTH, "Mira", bench.folder / "never")
    with pytest.raises(Tampered):
        job.guard(bench.folder)
    with pytest.raises(Tampered):
        job.packet("BASE")
    assert job.part("BASE").number == "BASE"
    assert len(list(job.journal())) == entry
    job.export(bench.folder / "taken-out")


def test_a_signature_in_a_role_that_the_person_does_not_have(bench, forger):
    bench.job.change_roles("Jonas", ("drawn",), "draws only")
    bench.job.sign(BOTH, "drawn", "Mira", {})
    forged = forger.signed({**forger.act("sign_revision"), "role": "checked"}, "Jonas")
    not_allowed(bench, forged, "may sign as drawn, not as checked")


def test_an_undo_that_sets_the_roles_of_the_policy_to_none(bench, forger):
    seq = bench.policy(odds="95")
    with bench.job.store.reading() as facts:
        row = json.loads(dump_facts(facts)["fact_job"][0])
    named = {"undoes": seq, "about": "job", "name": forger.ident, "gone": []}
    back = [{"table": "fact_job", "row": {**row, "roles": "[]"}}]
    not_allowed(bench, forger.entry({"kind": "undo", "version": 1, **named, "back": back}))


def test_an_undo_of_more_than_its_entry_changed(bench, forger):
    before = bench.job.part("BASE").title
    bench.job.write_part("BASE", {"title": "other"}, by="Mira")
    seq = bench.job.seal()[0]
    bench.job.undo(seq, by="Mira")
    assert bench.job.part("BASE").title == before
    undo = forger.act("undo")
    bench.job.write_part("BASE", {"title": "other"}, by="Mira")
    back = [{"table": b["table"], "row": {**b["row"], "material": "S355"}} for b in undo["back"]]
    not_allowed(bench, forger.entry({**undo, "undoes": seq + 2, "back": back}), "not what entry")


def test_a_locked_part_recorded_again_and_locked_with_other_bytes(bench, forger):
    recorded = forger.act("record_part")
    bench.lock(*BOTH)
    not_allowed(bench, forger.entry({**recorded, "number": "BASE"}), "already")


def test_a_locked_revision_locked_a_second_time(bench, forger):
    bench.lock(*BOTH)
    not_allowed(bench, forger.signed(forger.act("lock"), "Jonas"), "is locked and never changes")


def test_a_lock_over_another_drawing_than_the_one_that_was_taken(bench, forger):
    bench.plate("LID", unconnected=True)
    bench.plate("CAP", unconnected=True)
    bench.lock("LID")
    lock, other = forger.act("lock"), forger.keep(plate_dxf(diameter=20.0))
    part = {**lock["parts"][0], "number": "CAP", "dxf": other}
    contents = {**lock["contents"], part["dxf_name"]: other}
    not_allowed(bench, forger.signed({**lock, "parts": [part], "contents": contents}, "Jonas"), "not the one")


def test_a_second_packet_for_a_lock(bench, forger):
    bench.lock(*BOTH)
    swapped = {**forger.act("keep_packet"), "sha256": forger.keep(b"PK another packet")}
    not_allowed(bench, forger.entry(swapped, "Jonas"), "is kept already")


def test_a_packet_whose_name_is_a_path(bench, forger):
    bench.lock(*BOTH)
    keep = {**forger.act("keep_packet"), "file_name": "../../out-of-the-folder.zip", "lock_seq": 1}
    not_allowed(bench, forger.entry(keep, "Jonas"), "not a plain file name")


def test_a_drawing_whose_name_is_a_path(bench, forger):
    taken = {**forger.act("take_profile"), "file_name": "/etc/drawing.dxf"}
    not_allowed(bench, forger.entry(taken), "not a plain file name")


def test_an_enrolment_that_nobody_signed(bench, forger):
    """The first step of a lock forged without any key of the job."""
    made = make_key(PASSPHRASE)
    act = {**forger.act("enroll_person"), "name": "Eve", "adds": made, "person": "Eve", "key": made}
    forged = forger.entry({**act, "nonce": "1" * 32}, "Eve", "00" * 64)
    not_allowed(bench, forged)


def test_an_enrolment_signed_with_the_enrolled_persons_own_key(bench, forger):
    made = make_key(PASSPHRASE)
    act = {**forger.act("enroll_person"), "name": "Eve", "adds": made}
    not_allowed(bench, forger.signed(act, "Eve", made), "Eve")


@pytest.mark.parametrize("kind", ["enroll_person", "set_policy", "change_roles", "change_key"])
def test_what_a_keeper_signs_signed_by_somebody_else(bench, forger, kind):
    bench.policy(odds="95")
    bench.job.change_roles("Jonas", ("drawn", "checked"), "agreed")
    bench.job.change_key("Mira", new=PASSPHRASE, reason="a second workstation", by="Mira")
    changed = {"enroll_person": {"name": "Eve"}, "change_roles": {"roles": ["keeper"]}}.get(kind, {})
    key = {"adds": make_key(PASSPHRASE)} if kind in ("enroll_person", "change_key") else {}
    not_allowed(bench, forger.signed({**forger.act(kind), **changed, **key}, "Jonas"), "is no keeper")


def test_a_policy_without_roles(bench, forger):
    bench.policy(odds="95")
    not_allowed(bench, forger.signed({**forger.act("set_policy"), "roles": []}, "Mira"), "at least one role")


def test_a_permit_in_a_role_that_the_policy_does_not_name(bench, forger):
    bench.job.change_roles("Jonas", ("drawn",), "draws only")
    parts = [{"number": "BASE", "revision": "A"}]
    found = {"code": "fits", "place": "", "reason": "agreed", "connection": "", "until": "", "up_to": None}
    act = {"kind": "permit", "version": 2, "parts": parts, "above": False, **found}
    not_allowed(bench, forger.signed(act, "Jonas"), "may not permit")


def test_a_signature_of_somebody_who_is_retired(bench, forger):
    bench.job.sign(BOTH, "drawn", "Mira", {})
    key = next(k for name, _roles, k in bench.job.people() if name == "Jonas")
    bench.job.change_roles("Jonas", (), "left the firm")
    not_allowed(bench, forger.signed({**forger.act("sign_revision")}, "Jonas", key))


def set_aside(bench, entry, words):
    """The row is named, changes no fact, and the job works on behind it."""
    before = facts_of(bench)
    job = bench.reopen()
    assert facts_of(bench) == before
    seen = examine(bench.place)
    assert seen.whole
    ((where, message),) = [(f.where, f.message) for f in seen.problems if f.code == "entry_set_aside"]
    assert where == f"entry {entry}"
    assert words in message
    assert bench.lock(*BOTH).packet.exists()
    assert examine(bench.place).whole
    assert job.packet("BASE")[1]


def test_a_second_opening_of_the_job(bench, forger):
    entry = forger.entry({**forger.act("open_job"), "firm": "Another firm"})
    set_aside(bench, entry, "open already")


@pytest.mark.parametrize(
    "body", [b"no JSON", b"[]", b'{"act": {}}', b"\xff\xfe\x00", b"9" * 5000, b"[" * 100_000], ids=range(6)
)
def test_a_row_that_is_no_entry(bench, forger, body):
    set_aside(bench, forger.row(body), "does not read as an entry")


def test_an_act_that_this_program_does_not_have(bench, forger):
    set_aside(bench, forger.entry({"kind": "approve_everything", "version": 1}), "no act of this program")


def test_an_entry_of_another_job(bench, forger):
    forger.ident = "another job"
    set_aside(bench, forger.entry(forger.act("record_part")), "another job")


def spoilt(body):
    """Ways to make an entry one that is set aside."""
    act = body["act"]
    yield {**body, "act": {k: v for k, v in act.items() if k != "seal"}}
    yield {**body, "act": {**act, "more": "words"}}
    yield {**body, "act": {**act, "kind": "locked"}}
    yield {**body, "act": {**act, "version": 77}}
    yield {**body, "at": "some day"}
    yield {**body, "seq": 999}
    yield {**body, "job": "another job"}
    yield b"[]"


@pytest.mark.file_only
@pytest.mark.parametrize("how", range(8))
def test_a_lock_that_was_spoilt_so_as_to_be_set_aside(bench, how):
    """Nothing behind it was signed, so only a signature at no entry tells, and a packet without a lock."""
    lock = bench.lock(*BOTH).seq
    bench.plate("LID", unconnected=True)
    bench.job.close()
    chained_again(bench.place, lambda seq, body: list(spoilt(body))[how] if seq == lock else body)
    stops = [f for f in examine(bench.place).problems if f.severity == "stop"]
    assert f"entry {lock}" in {f.where for f in stops if f.code in ("signature_bad", "entry_strange")}
    assert (f"entry {lock + 1}", "entry_not_allowed") in {(f.where, f.code) for f in stops}
    with pytest.raises(Tampered):
        bench.reopen().guard(bench.folder)


@pytest.mark.file_only
@pytest.mark.parametrize("how", range(8))
def test_a_signature_that_was_spoilt_so_as_to_be_set_aside(bench, how):
    bench.job.sign(BOTH, "drawn", "Mira", {})
    signed = list(bench.job.journal())[-1].seq
    bench.job.close()
    chained_again(bench.place, lambda seq, body: list(spoilt(body))[how] if seq == signed else body)
    assert not examine(bench.place).whole
    with pytest.raises(Tampered, match=f"{signed}"):
        bench.lock(*BOTH)


def test_a_row_that_came_while_the_job_was_open(bench, forger):
    """Whoever has the job open works on behind it: a row of somebody else's moves no stamp of the facts."""
    forger.row(b"no JSON")
    bench.lock(*BOTH)
    forger.entry({**forger.act("record_part"), "number": "PIER", "form": "site"})
    bench.do(AskQuestion, number="PIER", ident="Q1", text="how high?")
    assert examine(bench.place).whole


@pytest.mark.file_only
@pytest.mark.parametrize("seq", [-(2**63), -1, 0])
def test_a_row_at_the_least_number_there_is(bench, forger, seq):
    with forger.engine.begin() as connection:
        for (name,) in connection.execute(
            text("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        ).all():
            if name.startswith("journal"):
                made = connection.execute(text("SELECT sql FROM sqlite_master WHERE name = :n"), {"n": name})
                forger.__dict__.setdefault("triggers", []).append(made.scalar_one())
                connection.execute(text(f"DROP TRIGGER {name}"))
        act = {**forger.act("enroll_person"), "name": "Eve", "adds": "a" * 64}
        whole = {"job": forger.ident, "seq": seq, "at": "2026-03-03T09:00:00Z", "by": "Eve"}
        body = canonical({**whole, "program": PROGRAM, "act": act}) if abs(seq) < 2**53 else b"{}"
        row = {"seq": seq, "previous": "f" * 64, "body": body, "hash": "e" * 64, "signature": ""}
        connection.execute(insert(JournalRow), [row])
        for sql in forger.triggers:
            connection.execute(text(sql))
    set_aside(bench, seq, "numbered from 1")


def test_no_act_can_name_a_file_by_a_path(bench):
    bench.job.take_profile("BASE", "..\\up\\BASE.dxf", plate_dxf(), by="Mira")
    assert bench.job.part("BASE").taken.file_name == "BASE.dxf"
    with pytest.raises(BadInput, match="not a plain file name"):
        from ledger.packet.build import stage_packet

        stage_packet(bench.folder, "../out.zip", b"", {})
