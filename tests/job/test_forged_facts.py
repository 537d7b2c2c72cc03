"""
Whoever can write to the job's file gains nothing by it: what was signed is read from the signed entries again.

Facts are written over behind the program's back, as someone at the file would, or the journal is chained anew with
right hashes and no key; then the job is judged, guarded and locked as on any day.
"""

from __future__ import annotations

import sqlite3

import pytest
from bench_job import PASSPHRASE, plate_dxf
from small_job import chained_again, edit

from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NewRevision
from ledger.acts.questions import AskQuestion
from ledger.domain.errors import BadInput, Tampered
from ledger.release.custody import examine
from ledger.store.sealed import make_key

pytestmark = pytest.mark.file_only


def forge(bench, script):
    bench.job.close()
    edit(bench.place, script)
    bench.reopen()


def asked(bench, query):
    raw = sqlite3.connect(bench.place)
    rows = raw.execute(query).fetchall()
    raw.close()
    return rows


def stops(bench, *numbers):
    return {(v.part, s.code) for v in bench.job.verdicts(numbers) for s in v.stops}


def listed(bench, *numbers):
    """The stops of the list, which reads the fact tables; what lets something out reads the journal instead."""
    return {(d.verdict.part, s.code) for d in bench.job.each_verdict(numbers) for s in d.verdict.stops}


def signs_nothing(bench, number="BASE", told=""):
    with pytest.raises(Tampered, match=f"{told}.*nothing was signed; fitup verify"):
        bench.job.sign([number], "drawn", "Mira", {})


def subject(bench, number):
    (verdict,) = bench.job.verdicts([number])
    return verdict.subject


@pytest.mark.both
def test_a_sign_off_of_one_part_written_over_for_another_counts_for_nothing(bench):
    bench.plate("LID", unconnected=True)
    bench.job.sign(["LID"], "drawn", "Mira", {})
    bench.job.sign(["LID"], "checked", "Jonas", {})
    ((seq,),) = asked(bench, "SELECT seq FROM fact_signature WHERE role = 'checked'")
    row = f"({seq}, 'BASE', 'A', '{subject(bench, 'BASE')}', 'checked', 'Jonas', 0, '[]')"
    forge(bench, f"INSERT INTO fact_signature VALUES {row}")
    assert ("BASE", "role_missing") in stops(bench, "BASE", "TURN")
    assert ("LID", "role_missing") not in stops(bench, "LID")


@pytest.mark.parametrize(
    "change",
    ["role = 'checked'", "self_check = 1", "acknowledged = '[\"x\"]'", "revision = 'B'", "person = 'Jonas'"],
)
def test_a_sign_off_that_says_anything_else_than_was_signed_counts_for_nothing(bench, change):
    bench.job.sign(["BASE", "TURN"], "drawn", "Mira", {})
    assert [s.role for v in bench.job.verdicts(["BASE", "TURN"]) for s in v.signed] == ["drawn", "drawn"]
    forge(bench, f"UPDATE fact_signature SET {change} WHERE number = 'BASE'")
    assert [s.role for d in bench.job.each_verdict(["BASE", "TURN"]) for s in d.verdict.signed] == ["drawn"]
    assert [s.role for v in bench.job.verdicts(["BASE", "TURN"]) for s in v.signed] == ["drawn", "drawn"]
    signs_nothing(bench, told="fact_signature")


@pytest.mark.both
def test_a_permit_written_over_covers_nothing(bench):
    bench.plate("LID")
    bench.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    (found,) = [s for v in bench.job.verdicts(["LID"]) for s in v.stops if s.code == "question_open"]
    bench.job.permit("LID", "Mira", code=found.code, place=found.where, reason="it stays bare", until="")
    assert ("LID", found.code) not in stops(bench, "LID")
    forge(bench, "UPDATE fact_permit SET reason = 'because'")
    assert ("LID", found.code) in listed(bench, "LID")
    assert ("LID", found.code) not in stops(bench, "LID")
    signs_nothing(bench, "LID", "fact_permit")


@pytest.mark.both
def test_a_partner_written_over_as_locked_lets_nothing_go(bench):
    bench.sign_all("TURN")
    assert stops(bench, "TURN") == {("TURN", "partner_open")}
    forge(bench, "UPDATE fact_part SET locked = 1 WHERE number = 'BASE'")
    assert stops(bench, "TURN") == {("TURN", "partner_open")}
    (told,) = [s for d in bench.job.each_verdict(["TURN"]) for s in d.verdict.stops]
    assert "BASE revision A was locked by an entry whose signature does not count" in told.message
    assert ("BASE", "lock_unsigned") in listed(bench, "BASE")
    assert ("BASE", "lock_unsigned") not in stops(bench, "BASE")


FORGED_LOCK = """
UPDATE fact_part SET locked = 1 WHERE number = 'BASE';
INSERT INTO fact_lock SELECT 'BASE', 'A', {seq}, '{subject}', verdict, '{dxf}', 'BASE.dxf', '', 'Jonas'
FROM fact_lock WHERE number = 'TURN';
"""


@pytest.mark.both
def test_a_lock_written_into_the_facts_is_none(bench, tmp_path):
    """Even where it names a true lock of the same person: that one speaks of other parts."""
    bench.plate("LID", unconnected=True)
    bench.lock("LID")
    mine = subject(bench, "BASE")
    ((seq,),) = asked(bench, "SELECT seq FROM fact_lock")
    ((dxf,),) = asked(bench, "SELECT dxf FROM fact_profile WHERE number = 'BASE'")
    forge(bench, FORGED_LOCK.replace("TURN", "LID").format(seq=seq, subject=mine, dxf=dxf))
    assert ("BASE", "lock_unsigned") in listed(bench, "BASE")
    assert ("TURN", "partner_open") in listed(bench, "TURN")
    assert ("TURN", "partner_open") in stops(bench, "TURN")
    out = tmp_path / "going"
    out.mkdir()
    other = plate_dxf(diameter=13.6)
    (out / "BASE.dxf").write_bytes(other)
    (out / "LID.dxf").write_bytes(plate_dxf())
    forge(bench, f"UPDATE fact_lock SET dxf = '{bench.job.stands(other).sha256}' WHERE number = 'BASE'")
    told = {f.file: (f.state, f.says) for f in bench.job.guard(out).files}
    assert told["BASE.dxf"][0] == "differs"
    assert told["LID.dxf"][0] == "current"
    assert not bench.job.stands(other).number


def test_a_drawing_whose_lock_was_written_over_stands_as_it_was_locked(bench, tmp_path):
    bench.lock("BASE", "TURN")
    forge(bench, "UPDATE fact_lock SET dxf = 'ff'")
    (tmp_path / "going").mkdir()
    (tmp_path / "going" / "BASE.dxf").write_bytes(plate_dxf())
    (told,) = bench.job.guard(tmp_path / "going").files
    assert told.state == "current"


def test_an_older_revision_is_not_made_the_current_one_again(bench):
    bench.lock("BASE", "TURN")
    old = plate_dxf()
    bench.do(NewRevision, number="BASE", reason="a wider hole")
    bench.job.take_profile("BASE", "BASE.dxf", plate_dxf(diameter=14.0), by="Mira")
    bench.lock("BASE")
    assert not bench.job.stands(old).current or bench.job.stands(old).number == "TURN"
    ((seq,),) = asked(bench, "SELECT seq FROM fact_lock WHERE number = 'BASE' AND revision = 'A'")
    forge(bench, f"UPDATE fact_lock SET seq = {seq + 1000} WHERE number = 'BASE' AND revision = 'A'")
    assert bench.job.stands(plate_dxf(diameter=14.0)).current


@pytest.mark.both
@pytest.mark.parametrize(
    "script",
    [
        "UPDATE fact_packet SET sha256 = (SELECT sha256 FROM fact_packet WHERE lock_seq != {seq})",
        "UPDATE fact_packet SET sha256 = (SELECT dxf FROM fact_profile LIMIT 1)",
        "UPDATE fact_lock SET dxf = 'ff' WHERE number = 'LID'",
    ],
)
def test_no_other_packet_is_handed_out_than_the_one_that_was_locked(bench, script):
    bench.lock("BASE", "TURN")
    bench.plate("LID", unconnected=True)
    released = bench.lock("LID")
    assert bench.job.packet("LID")[1] == released.packet.read_bytes()
    forge(bench, script.format(seq=released.seq))
    for paper in (bench.job.packet, bench.job.sheet):
        with pytest.raises(Tampered, match="handed out"):
            paper("LID")
    with pytest.raises(Tampered, match="nothing is handed out"):
        bench.job.record("LID")


def test_the_kept_verdict_of_a_lock_is_the_one_that_was_signed(bench):
    bench.lock("BASE", "TURN")
    assert stops(bench, "BASE") == set()
    forge(bench, "UPDATE fact_lock SET verdict = (SELECT verdict FROM fact_lock WHERE number = 'TURN')")
    assert listed(bench, "BASE") == {("BASE", "lock_unsigned")}
    assert listed(bench, "TURN") == stops(bench, "BASE") == stops(bench, "TURN") == set()


@pytest.mark.both
@pytest.mark.parametrize(
    "script",
    [
        "UPDATE fact_dimension SET nominal = '199 mm', limits = '±2' WHERE number = 'BASE' AND name = 'width'",
        "DELETE FROM fact_question",
        "UPDATE fact_job SET roles = '[\"drawn\"]'",
        "INSERT INTO fact_key VALUES ('ff', 'Jonas', 2, 0, 0, '', '')",
        "DELETE FROM fact_nonce",
    ],
)
def test_nothing_is_locked_in_a_job_whose_facts_are_not_what_its_entries_say(bench, script):
    bench.plate("LID", unconnected=True)
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    bench.sign_all("LID")
    forge(bench, script)
    with pytest.raises(Tampered, match="nothing was locked; fitup verify"):
        bench.job.lock(["LID"], "Jonas", bench.folder / "out")
    assert not list((bench.folder / "out").iterdir())
    assert bench.job.verify()


def test_signatures_do_not_hold_over_a_journal_that_was_written_anew(bench):
    """A dimension of the other part, which no signature names, is altered and every hash made to fit."""
    bench.plate("LID", unconnected=True)
    bench.do(
        RecordDimension, number="LID", name="width", nominal="200 mm", limits="±0.2", measured_on="width"
    )
    bench.sign_all("BASE", "TURN")
    assert stops(bench, "BASE", "TURN") == set()
    last = bench.job.seal()[0]

    def wider(_seq, body):
        act = body["act"]
        mine = act["kind"] == "record_dimension" and act["number"] == "LID"
        limits = {"written": "±5 mm", "lower_mm": "-5", "upper_mm": "5"}
        return {**body, "act": {**act, "limits": limits}} if mine else body

    bench.job.close()
    chained_again(bench.place, wider)
    bench.reopen()
    with pytest.raises(Tampered, match="signed over another journal"):
        bench.job.verdicts(["BASE", "TURN"])
    with pytest.raises(Tampered, match="signed over another journal"):
        bench.job.lock(["BASE", "TURN"], "Jonas", bench.folder / "out")
    (found,) = [f for f in bench.job.verify() if f.severity == "stop"]
    assert (found.code, found.where) == (
        "history_changed",
        f"entries 3 to {last - 2}",
    )


@pytest.mark.both
def test_between_two_signatures_the_altered_entry_is_narrowed_down(bench):
    bench.plate("LID", unconnected=True)
    signed = []
    for k in range(3):
        bench.do(AskQuestion, number="LID", ident=f"Q{k}", text="which finish?")
        bench.do(RecordDimension, number="LID", name=f"side {k}", nominal="40 mm")
        bench.job.permit("LID", "Mira", code="question_open", place=f"Q{k}", reason="none", until="")
        signed.append(bench.job.seal()[0])

    def found(altered):
        def other(seq, body):
            other = {"nominal": {"written": "41 mm", "mm": "41"}}
            return {**body, "act": {**body["act"], **other}} if seq == altered else body

        bench.job.close()
        chained_again(bench.place, other)
        bench.reopen()
        (told,) = [f for f in bench.job.verify() if f.severity == "stop"]
        return told.where, told.message

    where, message = found(signed[2] - 1)
    assert where == f"entries {signed[1]} to {signed[2] - 1}"
    assert f"not what entry {signed[2]} was signed over; the journal" in message
    where, message = found(signed[1] - 1)
    assert where == f"entries {signed[0]} to {signed[1] - 1}"
    assert f"not what entry {signed[1]} was signed over, and so are 1 signed later; the journal" in message


def test_a_signed_entry_under_another_name_is_told(bench):
    bench.plate("LID", unconnected=True)
    bench.sign_all("LID")
    last = bench.job.seal()[0]
    bench.job.close()
    chained_again(bench.place, lambda seq, body: {**body, "by": "Mira"} if seq == last else body)
    (told,) = [f for f in bench.reopen().verify() if f.severity == "stop"]
    assert (told.code, told.where) == ("entry_strange", f"entry {last}")
    assert "written as by Mira, who has not signed it" in told.message


@pytest.mark.both
@pytest.mark.parametrize("data", ["'text'", "CAST(x'ff00' AS TEXT)", "7", "x''"])
def test_kept_bytes_written_over_with_anything_are_told_with_what_they_were(bench, data):
    ((dxf,),) = asked(bench, "SELECT dxf FROM fact_profile WHERE number = 'BASE'")
    bench.job.close()
    edit(bench.place, f"UPDATE kept_file SET data = {data} WHERE sha256 = '{dxf}'")
    found = {f.code: f for f in examine(bench.place).problems}
    assert set(found) == {"kept_file_changed"}
    assert "the drawing BASE.dxf of BASE" in found["kept_file_changed"].message
    assert "were changed; they were kept by entry" in found["kept_file_changed"].message


def test_a_signed_entry_that_was_given_another_time_is_told_by_the_next_signature(bench):
    bench.plate("LID", unconnected=True)
    bench.sign_all("LID")
    last = bench.job.seal()[0]
    bench.job.close()
    at = "2026-03-01T09:00:00Z"
    chained_again(bench.place, lambda seq, body: {**body, "at": at} if seq == last - 1 else body)
    told = {(f.code, f.where) for f in bench.reopen().verify()}
    assert told == {("history_changed", f"entry {last - 1}")}


def test_a_forged_signature_vouches_for_nothing_that_stands_before_it(bench):
    """The seal that it names is right, but nobody signed it: the true ones around it narrow down what was altered."""
    bench.plate("LID", unconnected=True)
    signed = []
    for k in range(3):
        bench.do(AskQuestion, number="LID", ident=f"Q{k}", text="which finish?")
        bench.job.permit("LID", "Mira", code="question_open", place=f"Q{k}", reason="none", until="")
        signed.append(bench.job.seal()[0])
    bench.job.close()

    def other(seq, body):
        return {**body, "act": {**body["act"], "text": "which oil?"}} if seq == signed[1] - 1 else body

    chained_again(bench.place, other)
    ((mark,),) = asked(bench, f"SELECT hash FROM journal WHERE seq = {signed[1] - 1}")
    seen = {"seal": f"{signed[1] - 1}:{mark}"}
    chained_again(
        bench.place, lambda seq, body: {**body, "act": {**body["act"], **seen}} if seq == signed[1] else body
    )
    found = {(f.code, f.where) for f in examine(bench.place).problems if f.severity == "stop"}
    assert found == {
        ("signature_bad", f"entry {signed[1]}"),
        ("history_changed", f"entries {signed[0]} to {signed[2] - 1}"),
        ("bad_stamp", "fact_stamp"),
    }


def test_a_retired_key_is_not_in_force_again_because_the_facts_say_so(bench):
    """Whoever found the laptop has the key, the passphrase and the job's file."""
    key = bench.job.keys("Jonas")[0].key
    bench.job.change_key("Jonas", retires=key, by="Mira", reason="the laptop was lost")
    bench.do(RecordDimension, number="BASE", name="web", nominal="8 mm")
    forge(
        bench,
        f"UPDATE fact_key SET until = 0, retired = 0, reason = ''; UPDATE fact_person SET key = '{key}'"
        " WHERE name = 'Jonas'",
    )
    with pytest.raises(BadInput, match="Jonas has no key in force"):
        bench.job.sign(["BASE"], "checked", "Jonas", {})
    assert bench.job.verify()


@pytest.mark.both
def test_a_key_that_only_the_facts_know_is_nobodys(bench):
    mine = make_key(PASSPHRASE)
    forge(
        bench,
        "DELETE FROM fact_key WHERE person = 'Jonas';"
        f"INSERT INTO fact_key VALUES ('{mine}', 'Jonas', 1, 0, 0, '', '');"
        f"UPDATE fact_person SET key = '{mine}' WHERE name = 'Jonas'",
    )
    with pytest.raises(Tampered, match="nothing was signed; fitup verify"):
        bench.job.sign(["BASE"], "checked", "Jonas", {})
    assert bench.job.verify()
