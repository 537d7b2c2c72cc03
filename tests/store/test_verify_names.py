"""Every raw edit of a job's file is found, and what is wrong is named: entry, row, kept file, table or guard."""

from __future__ import annotations

import json
import shutil
import sqlite3

import pytest
from small_job import answer, ask, chained_again, edit, small_job

from ledger.cli import main
from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, Tampered
from ledger.domain.seal import read_seal
from ledger.job import Job
from ledger.release.custody import examine


@pytest.fixture
def filed(tmp_path, clock):
    where = str(tmp_path / "fitup.db")
    job = small_job(where, clock)
    with job.store.writing() as facts:
        job.store.keep(facts, b"kept bytes")
    job.close()
    edit(where, "DELETE FROM kept_file")
    return where


def found(filed, **more):
    return {(f.code, f.where) for f in examine(filed, **more).problems}


def test_a_whole_job_has_no_problems(filed):
    seen = examine(filed)
    assert (seen.problems, seen.entries, seen.whole, seen.clock_set_back) == ((), 8, True, ())


BODY = "CAST(replace(CAST(body AS TEXT), '12 mm', '99 mm') AS BLOB)"


@pytest.mark.parametrize(
    ("script", "code", "where"),
    [
        (f"UPDATE journal SET body = {BODY} WHERE seq = 3", "entry_changed", "entry 3"),
        ("UPDATE journal SET signature = 'ab' WHERE seq = 4", "entry_changed", "entry 4"),
        ("UPDATE journal SET hash = 'nonsense' WHERE seq = 4", "entry_changed", "entry 4"),
        ("UPDATE journal SET body = 'text' WHERE seq = 4", "entry_changed", "entry 4"),
        ("UPDATE journal SET body = x'7b' WHERE seq = 4", "entry_changed", "entry 4"),
        ("DELETE FROM journal WHERE seq = 5", "entry_missing", "entry 5"),
        ("DELETE FROM journal WHERE seq IN (3, 4, 5)", "entry_missing", "entry 3"),
        ("DELETE FROM journal WHERE seq = 1", "entry_missing", "entry 1"),
        ("DELETE FROM journal WHERE seq = 8", "tail_cut", "entry 8"),
        ("UPDATE journal SET seq = 90 WHERE seq = 8", "entry_missing", "entry 8"),
        ("UPDATE journal SET seq = -1 WHERE seq = 1", "entry_missing", "entry 1"),
        (
            (
                "UPDATE journal SET seq = 50 WHERE seq = 4; UPDATE journal SET seq = 4 WHERE seq = 5;"
                "UPDATE journal SET seq = 5 WHERE seq = 50"
            ),
            "entry_changed",
            "entry 4",
        ),
        (
            "INSERT INTO journal SELECT 9, hash, body, substr(previous, 1, 63) || 'x', '' FROM journal WHERE seq = 8",
            "entry_changed",
            "entry 9",
        ),
        ("UPDATE fact_part SET thickness = '99 mm' WHERE number = 'P1'", "fact_changed", "fact_part P1, A"),
        ("DELETE FROM fact_question WHERE number = 'P1'", "fact_changed", "fact_question P1, Q1"),
        (
            "INSERT INTO fact_question VALUES ('P1', 'Q9', 'forged', 'yes', '[]', '[]', '')",
            "fact_changed",
            "fact_question P1, Q9",
        ),
        ("UPDATE fact_person SET key = 'ff'", "fact_changed", "fact_person Mira"),
        ("UPDATE fact_stamp SET seq = 3", "bad_stamp", "fact_stamp"),
        ("DELETE FROM fact_stamp", "bad_stamp", "fact_stamp"),
        ("INSERT INTO kept_file VALUES ('00ff', x'00')", "kept_file_changed", "00ff"),
        ("ALTER TABLE fact_part ADD COLUMN forged TEXT", "table_changed", "fact_part"),
        ("ALTER TABLE fact_part DROP COLUMN note", "fact_changed", "fact_part"),
        ("DROP TABLE fact_connection", "table_changed", "fact_connection"),
        ("ALTER TABLE journal ADD COLUMN forged TEXT", "table_changed", "journal"),
        ("DROP TABLE kept_file", "table_changed", "kept_file"),
    ],
)
def test_a_raw_edit_is_found_and_named(filed, script, code, where):
    edit(filed, script)
    assert (code, where) in found(filed)
    assert main(["--job", filed, "--json", "verify"]) == 4


@pytest.mark.parametrize(
    "name", ["journal_grows_by_one", "journal_keeps", "kept_file_once", "kept_file_stays"]
)
def test_a_guard_that_was_dropped_or_made_toothless_is_named_and_nothing_is_written(filed, name):
    raw = sqlite3.connect(filed)
    raw.execute(f"DROP TRIGGER {name}")
    raw.commit()
    assert ("trigger_gone", name) in found(filed)
    with Job(filed, ask) as job, pytest.raises(Tampered, match=f"guard {name}"):
        answer(job)
    raw.execute(f"CREATE TRIGGER {name} BEFORE UPDATE ON journal BEGIN SELECT 1; END")
    raw.commit()
    raw.close()
    assert ("trigger_gone", name) in found(filed)


def test_a_trigger_of_somebody_elses_is_named_and_nothing_is_written(filed):
    edit(filed, "CREATE TRIGGER spy AFTER INSERT ON fact_part BEGIN SELECT 1; END")
    assert ("trigger_strange", "spy") in found(filed)
    with Job(filed, ask) as job, pytest.raises(Tampered, match="spy"):
        answer(job)


def test_a_fact_says_what_it_reads_what_it_should_and_since_which_entry(filed):
    with Job(filed, ask) as job:
        entry = answer(job)
    edit(filed, "UPDATE fact_question SET answer = 'paint' WHERE number = 'P0'")
    (odd,) = examine(filed).problems
    assert odd.message == (
        "fact_question: the row P0, Q1 answer reads 'paint', the entries say 'zinc' "
        f"(changed after entry {entry})"
    )


def test_kept_bytes_that_no_entry_names_are_noted_and_no_wrong(filed):
    with Job(filed, ask) as job, job.store.writing() as facts:
        digest = job.store.keep(facts, b"left over")
    seen = examine(filed)
    (odd,) = seen.problems
    assert (odd.code, odd.where, odd.severity) == ("kept_file_strange", digest, "note")
    assert odd.message == "the job keeps bytes that no entry names"
    assert seen.whole
    edit(filed, "UPDATE kept_file SET data = x'00'")
    (odd,) = examine(filed).problems
    assert odd.message == f"bytes that no entry names ({digest[:12]}) were changed"


def test_a_fact_that_no_entry_made_has_no_entry_behind_it(filed):
    edit(filed, "INSERT INTO fact_question VALUES ('P1', 'Q9', 'forged', 'yes', '[]', '[]', '')")
    (odd,) = examine(filed).problems
    assert odd.message == "fact_question: the row P1, Q9 was put in; no entry says so"


def test_a_job_whose_facts_were_edited_is_mended_by_following_its_journal(filed):
    edit(filed, "UPDATE fact_part SET thickness = '99 mm'; UPDATE fact_stamp SET seq = 3")
    Job(filed, ask).close()
    assert examine(filed).whole


def test_a_journal_rewritten_with_a_right_chain_does_not_extend_the_head_on_a_packet(filed):
    seal = examine(filed).seal

    def richer(_seq, body):
        act = body["act"]
        return {
            **body,
            "act": {**act, **({"thickness": {"written": "99 mm", "mm": "99"}} if "thickness" in act else {})},
        }

    chained_again(filed, richer)
    Job(filed, ask).close()
    assert examine(filed).whole
    seen = found(filed, since=seal)
    assert seen == {("seal_not_here", "entry 8")}


def test_an_older_copy_put_back_is_told_by_a_head_that_was_seen_since(filed, tmp_path):
    shutil.copy(filed, tmp_path / "older.db")
    with Job(filed, ask) as job:
        answer(job)
    old, new = examine(str(tmp_path / "older.db")).seal, examine(filed).seal
    assert found(filed, since=old) == set()
    assert found(filed, since=new) == set()
    shutil.copy(tmp_path / "older.db", filed)
    assert found(filed) == set()
    assert found(filed, since=new) == {("seal_not_here", "entry 9")}


def test_since_on_the_command_line(filed, capsys):
    seal = examine(filed).seal
    assert main(["--job", filed, "verify", "--since", seal[:14]]) == 0
    assert f"and it extends {seal[:14]}" in capsys.readouterr().out
    assert main(["--job", filed, "--json", "verify", "--since", f"3:{'0' * 64}"]) == 4
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert (problem["code"], problem["where"]) == ("seal_not_here", "entry 3")
    assert main(["--job", filed, "verify", "out.zip", "--since", seal]) == 2


@pytest.mark.parametrize("text", ["", "7", "7:", "7:abc", "x:" + "0" * 64, "7:" + "g" * 64, "-1:" + "0" * 64])
def test_what_is_no_head_is_refused(text):
    with pytest.raises(BadInput, match="expected SEQ:HASH"):
        read_seal(text)


@pytest.mark.parametrize("at", [30, 1030, 5000, 9000, 20_000])
def test_a_damaged_file_is_said_to_be_one_or_hides_nothing(filed, at):
    """One byte of the file turned over: either verify says so, or nothing that is read was touched."""
    before = examine(filed)
    with open(filed, "r+b") as file:  # noqa: PTH123 - in filed
        file.seek(at)
        byte = file.read(1)
        file.seek(at)
        file.write(bytes([byte[0] ^ 0x41]))
    try:
        after = examine(filed)
    except Tampered:
        return
    assert not after.whole or after.seal == before.seal


def test_a_stamp_of_another_shape_is_told_with_its_table(filed):
    edit(filed, "DROP TABLE fact_stamp; CREATE TABLE fact_stamp (ident INTEGER)")
    said = {f.code for f in examine(filed).problems}
    assert said
    assert "tail_cut" not in said


def test_an_entry_that_cannot_be_followed_is_named(filed):
    def elsewhere(seq, body):
        act = body["act"]
        return {**body, "act": {**act, "number": "NOWHERE"}} if seq == 8 else body

    chained_again(filed, elsewhere)
    assert ("entry_not_allowed", "entry 8") in found(filed)


@pytest.mark.parametrize("altered", [{"job": "another"}, {"seq": 9}, {"at": "today"}, {"more": 1}])
def test_an_entry_of_another_job_or_place_does_not_read_as_one(filed, altered):
    chained_again(filed, lambda seq, body: {**body, **altered} if seq == 8 else body)
    assert ("entry_set_aside", "entry 8") in found(filed)


@pytest.mark.parametrize(
    "spelled",
    [
        lambda body: json.dumps(body).encode(),
        lambda body: b'{"at":"2026-01-01T00:00:00Z",' + canonical(body)[1:],
        lambda _body: b"\xff",
        lambda _body: b"[" * 100_000,
    ],
)
def test_an_entry_spelled_otherwise_does_not_read_as_one(filed, spelled):
    chained_again(filed, lambda seq, body: spelled(body) if seq == 8 else body)
    assert ("entry_set_aside", "entry 8") in found(filed)


@pytest.mark.parametrize("script", ["UPDATE fact_question SET depends_on = 'x'", "DELETE FROM fact_job"])
def test_facts_that_nobody_can_read_are_laid_to_the_job_and_not_to_the_program(filed, capsys, script):
    edit(filed, script)
    assert main(["--job", filed, "next", "--json"]) == 4
    (told,) = json.loads(capsys.readouterr().out).values()
    assert "fitup verify says all that is wrong" in told["message"]


def test_a_fault_of_the_program_is_not_laid_to_a_sound_job(filed):
    with Job(filed, ask) as job, pytest.raises(RuntimeError, match="a fault"), job.store.reading():
        raise RuntimeError("a fault")


@pytest.mark.parametrize(
    ("script", "told"),
    [
        ("DELETE FROM fact_stamp", "the entry that the facts are at is missing"),
        ("UPDATE fact_stamp SET seq = 3", "the facts are not at the last entry of the journal, 8, but at 3"),
        (
            "UPDATE fact_stamp SET seal = 'ff'",
            "the facts are not at the last entry of the journal, 8, but at 8",
        ),
        (
            "DELETE FROM journal WHERE seq = 8; DELETE FROM fact_dimension; DELETE FROM fact_question",
            "the journal ends at entry 7, but entry 8 was here once: its tail was cut",
        ),
    ],
)
def test_where_the_facts_stand_is_told(filed, script, told):
    edit(filed, script)
    assert told in {f.message for f in examine(filed).problems}


def test_facts_are_not_followed_anew_where_a_guard_is_gone(filed):
    edit(filed, "UPDATE fact_stamp SET seq = 3", guards=False)
    with pytest.raises(Tampered, match="nothing is written to such a job"):
        Job(filed, ask)


@pytest.mark.parametrize(
    ("column", "value"), [("seq", "x'00ff'"), ("seq", "'x'"), ("writer", "'forged'"), ("writer", "x'00ff'")]
)
def test_a_stamp_that_no_program_wrote_is_named_and_written_anew(filed, column, value):
    edit(filed, f"UPDATE fact_stamp SET {column} = {value}")
    (odd,) = examine(filed).problems
    assert odd.where == "fact_stamp"
    assert odd.message == "the entry that the facts are at is nothing that a program wrote"
    with Job(filed, ask) as job:
        assert answer(job) > 8
    assert found(filed) == set()


@pytest.mark.parametrize(
    "script",
    [
        "DELETE FROM journal",
        "UPDATE journal SET hash = x'00' WHERE seq = 8",
        "DROP TABLE journal; CREATE TABLE journal (seq INTEGER)",
    ],
)
def test_a_journal_without_a_last_row_that_reads_has_no_head_and_is_not_whole(filed, script):
    edit(filed, script)
    seen = examine(filed, since=f"3:{'0' * 64}")
    assert (seen.entries, seen.seal, seen.whole) == (0, "0:", False)
    assert "seal_not_here" not in {f.code for f in seen.problems}


def test_why_a_head_is_not_here_is_told(filed):
    def told(seal):
        return [f.message for f in examine(filed, since=seal).problems if f.code == "seal_not_here"]

    (beyond,), (other,) = told(f"9:{'0' * 64}"), told(f"3:{'0' * 64}")
    assert "the journal ends at entry 8: its tail was cut" in beyond
    assert "entry 3 is another one than the seal names" in other
    edit(filed, "DELETE FROM journal WHERE seq = 3")
    assert told(f"3:{'0' * 64}") == ["entry 3 is missing"]


def test_a_head_wants_twelve_figures_of_the_hash(filed):
    seal = examine(filed).seal
    assert read_seal(seal[: len("8:") + 12]) == (8, seal[2:14])
    with pytest.raises(BadInput, match="at least 12 figures"):
        read_seal(seal[: len("8:") + 11])


@pytest.mark.parametrize(
    ("kind", "field", "change", "reads"),
    [
        ("record_part", "thickness", {"mm": "120"}, "12 mm"),
        ("record_part", "thickness", {"written": "1/2 in"}, "1/2 in"),
        ("record_dimension", "nominal", {"mm": "40.1"}, "40 mm"),
        ("record_dimension", "limits", {"upper_mm": "2"}, "±0.2 mm"),
    ],
)
@pytest.mark.file_only
def test_a_text_that_stands_for_another_value_is_told(filed, kind, field, change, reads):
    """Nobody sees the exact value that counts, so a forger could have people sign another one than they read."""
    changed = []

    def other(seq, body):
        if body["act"]["kind"] == kind and not changed:
            body["act"][field] |= change
            changed.append(seq)
        return body

    chained_again(filed, other)
    found = [f for f in examine(filed).problems if f.code == "value_changed"]
    assert [f.where for f in found] == [f"entry {changed[0]}"]
    assert reads in found[0].message
