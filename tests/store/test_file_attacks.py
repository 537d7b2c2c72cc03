"""
Attacks on a job's file by whoever can write to it and holds no key, one name an attack: what its schema and its pages
can hide. Each is found and named, and none is called intact.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import suppress
from pathlib import Path

import pytest
from bench_job import plate_dxf
from forged_locks import forged_lock
from small_job import answer, ask, edit, small_job

from ledger.acts.vouching import Vouching
from ledger.domain.canonical import canonical
from ledger.domain.errors import FitupError, Tampered
from ledger.domain.sealed import row_hash
from ledger.job import Job
from ledger.judge.lock_proof import LockProofs
from ledger.release.custody import examine
from ledger.store.place import connect

pytestmark = pytest.mark.file_only


@pytest.fixture
def filed(tmp_path, clock):
    where = str(tmp_path / "fitup.db")
    small_job(where, clock).close()
    return where


def hacked(place, *script):
    """Change a file with its schema open to be written over; no guard is asked."""
    raw = sqlite3.connect(place, isolation_level=None)
    raw.execute("PRAGMA writable_schema = ON")
    for statement in script:
        raw.execute(statement)
    raw.execute("PRAGMA schema_version = 9999")
    raw.close()


def found(place):
    return {(f.code, f.where) for f in examine(place).problems}


@pytest.mark.parametrize("encoding", ["UTF-16le", "UTF-16be"])
def test_a_file_in_another_encoding_is_told_and_its_locks_are_looked_into(bench, tmp_path, encoding):
    """What is looked for in the bytes of entries would not be found in such a file: no lock, no key, no policy."""
    bench.plate("LID", plate_dxf(), unconnected=True)
    forged_lock(bench, "LID")
    bench.job.close()
    copy = tmp_path / "copy.db"
    raw, new = sqlite3.connect(bench.place), sqlite3.connect(copy, isolation_level=None)
    new.execute(f"PRAGMA encoding = '{encoding}'")
    new.executescript("\n".join(raw.iterdump()))
    raw.close()
    new.close()
    told = [f.message for f in examine(str(copy)).problems]
    assert any("the file holds its text as UTF-16" in words for words in told)
    with Job(str(copy), ask) as job:
        with job.store.reading() as facts:
            assert [lock.number for lock in LockProofs(facts, Vouching(facts)).locks] == ["LID"]
        with pytest.raises(Tampered, match="UTF-16"):
            answer(job)


@pytest.mark.parametrize(
    "spelled", ["upper(signature)", "substr(signature, 1, 2) || ' ' || substr(signature, 3)"]
)
def test_a_signature_in_another_spelling(bench, spelled):
    """Its bytes are the same and the row is not: one hash would stand for two rows."""
    (entry,) = [e.seq for e in bench.job.journal() if e.kind == "enroll_person" and e.act["name"] == "Jonas"]
    bench.job.close()
    edit(bench.place, f"UPDATE journal SET signature = {spelled} WHERE seq = {entry}")
    assert ("entry_changed", f"entry {entry}") in found(bench.place)
    with pytest.raises(Tampered, match=f"entry {entry} "):
        bench.open().job.guard(bench.folder)


@pytest.mark.parametrize(
    ("opening", "told"),
    [
        ({"act": [1]}, "no entry opens this job"),
        ({"job": "another job"}, "no entry opens this job"),
        (
            {"job": "another job", "ident": "another job"},
            "was signed for another job than this journal opens",
        ),
    ],
)
def test_an_opening_that_was_replaced_sets_no_job_aside(bench, opening, told):
    """With every hash made to fit; then no entry is one of this job, and nothing that was signed would count."""
    bench.lock("BASE", "TURN")
    bench.job.close()
    raw = sqlite3.connect(bench.place)
    rows = raw.execute("SELECT seq, body, signature FROM journal ORDER BY seq").fetchall()
    raw.close()
    first = json.loads(rows[0][1])
    act = {**first["act"], "ident": opening.get("ident", first["act"]["ident"])}
    rows[0] = (1, canonical({**first, "act": act, **{k: v for k, v in opening.items() if k != "ident"}}), "")
    previous, values = "0" * 64, []
    for seq, body, signature in rows:
        mark = row_hash(previous, body, signature)
        values.append(f"({seq}, '{previous}', x'{body.hex()}', '{mark}', '{signature}')")
        previous = mark
    edit(bench.place, "DELETE FROM journal; INSERT INTO journal VALUES " + ", ".join(values))
    with suppress(FitupError):
        bench.open().job.close()
    seen = examine(bench.place)
    assert not seen.whole
    assert any(told in f.message for f in seen.problems if f.severity == "stop")


def page_of(place, name):
    raw = sqlite3.connect(place)
    ((page,),) = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (name,)).fetchall()
    raw.close()
    return page


def test_rows_hidden_through_an_index_are_found_and_named(filed):
    """The index of an empty table in the place of the one that questions are looked up by."""
    empty = page_of(filed, "sqlite_autoindex_fact_frozen_interface_1")
    hacked(
        filed,
        f"UPDATE sqlite_master SET rootpage = {empty} WHERE name = 'sqlite_autoindex_fact_question_1'",
    )
    seen = found(filed)
    assert ("row_hidden", "fact_question P0, Q1") in seen
    assert ("row_hidden", "fact_question P1, Q1") in seen
    assert ("file_damaged", "the file") in seen


def test_a_row_made_up_by_an_index_is_found_and_named(filed):
    raw = sqlite3.connect(filed, isolation_level=None)
    raw.execute("PRAGMA writable_schema = ON")
    page = page_of(filed, "sqlite_autoindex_fact_question_1")
    raw.execute(
        "INSERT INTO sqlite_master VALUES ('table', 'sly', 'sly', "
        f"{page}, 'CREATE TABLE sly (number, ident, n, PRIMARY KEY (number, ident, n)) WITHOUT ROWID')"
    )
    raw.execute("PRAGMA schema_version = 9998")
    raw.close()
    raw = sqlite3.connect(filed, isolation_level=None)
    raw.execute("INSERT INTO sly VALUES ('P7', 'Q7', 99)")
    raw.execute("PRAGMA writable_schema = ON")
    raw.execute("DELETE FROM sqlite_master WHERE name = 'sly'")
    raw.execute("PRAGMA schema_version = 9999")
    raw.close()
    assert ("row_hidden", "fact_question P7, Q7") in found(filed)


def test_an_index_whose_condition_was_taken_away_is_named(filed):
    edit(filed, "CREATE INDEX sly ON fact_question (number, ident, answer) WHERE number = ''")
    hacked(
        filed,
        "UPDATE sqlite_master SET sql = 'CREATE INDEX sly ON fact_question (number, ident, answer)' WHERE name = 'sly'",
    )
    assert {("schema_strange", "sly"), ("file_damaged", "the file")} <= found(filed)


STRANGE = {
    "index": "CREATE INDEX sly ON fact_part (title)",
    "partial index": "CREATE INDEX sly ON fact_part (title) WHERE locked",
    "expression index": "CREATE INDEX sly ON fact_part (lower(title))",
    "unique index": "CREATE UNIQUE INDEX sly ON fact_part (number)",
    "view": "CREATE VIEW sly AS SELECT * FROM fact_part",
    "trigger": "CREATE TRIGGER sly AFTER INSERT ON fact_part BEGIN SELECT 1; END",
    "trigger on a view": (
        "CREATE VIEW v AS SELECT 1 AS a; CREATE TRIGGER sly INSTEAD OF INSERT ON v BEGIN SELECT 1; END"
    ),
    "table": "CREATE TABLE sly (a)",
    "virtual table": "CREATE VIRTUAL TABLE sly USING fts5(a)",
    "statistics": "ANALYZE",
}


@pytest.mark.parametrize("kind", STRANGE)
def test_whatever_the_program_did_not_make_is_named_and_nothing_is_written(filed, kind):
    edit(filed, STRANGE[kind])
    name = "sqlite_stat1" if kind == "statistics" else "sly"
    seen = examine(filed)
    assert not seen.whole
    assert name in {f.where for f in seen.problems}
    with Job(filed, ask) as job, pytest.raises(FitupError, match=name):
        answer(job)


_SLY = "CREATE TRIGGER sly AFTER INSERT ON fact_part BEGIN DELETE FROM fact_question; END"


def _put_in(kind):
    return f"INSERT INTO sqlite_master VALUES ('{kind}', 'sly', 'fact_part', 0, '{_SLY}')"


def _written_over(name, old, new):
    return f"UPDATE sqlite_master SET sql = replace(sql, '{old}', {new}) WHERE name = '{name}'"


ALTERED = {
    "trigger in capitals": (
        "UPDATE sqlite_master SET type = 'TRIGGER' WHERE name = 'journal_keeps'",
        "journal_keeps",
    ),
    "hidden trigger": (_put_in("TrigGer"), "sly"),
    "trigger called an index": (_put_in("index"), "sly"),
    "trigger named as a guard": (
        _written_over("journal_keeps", "BEFORE UPDATE", "'BEFORE UPDATE OF seq'"),
        "journal_keeps",
    ),
    "guard of another table": (
        _written_over("journal_keeps", "ON journal", "'ON fact_part'"),
        "journal_keeps",
    ),
    "column in other letters": (
        _written_over("fact_question", "answer VARCHAR", "'answer varchar'"),
        "fact_question",
    ),
    "column with another collation": (
        _written_over("fact_question", "answer VARCHAR", "'answer VARCHAR COLLATE NOCASE'"),
        "fact_question",
    ),
    "column of a type with a hard space": (
        _written_over("journal", "signature VARCHAR", "'signature VARCHAR' || char(160)"),
        "journal",
    ),
    "column with a default": (
        _written_over("fact_question", "answer VARCHAR", "'answer VARCHAR DEFAULT 7'"),
        "fact_question",
    ),
    "key no longer unique": (_written_over("journal", "UNIQUE (hash)", "'CHECK (1)'"), "journal"),
}


@pytest.mark.parametrize("kind", ALTERED)
def test_a_schema_written_over_is_told_to_the_letter(filed, kind):
    script, name = ALTERED[kind]
    hacked(filed, script)
    told = ""
    try:
        seen = examine(filed)
    except Tampered as fault:  # the database itself takes nothing of such a schema
        told = str(fault)
    else:
        assert not seen.whole
        told = " ".join(f.where for f in seen.problems)
    assert name in told


def test_a_generated_column_is_told(filed):
    edit(filed, "ALTER TABLE fact_part ADD COLUMN sly TEXT AS ('x')")
    assert ("table_changed", "fact_part") in found(filed)


@pytest.mark.parametrize("value", ["''", "'yes'", "2", "-1", "0.5", "x'00'"])
def test_a_yes_or_no_is_compared_as_it_is_stored(filed, value):
    """Read by the library, all of these are yes or no."""
    edit(filed, f"UPDATE fact_part SET locked = {value} WHERE number = 'P0'")
    assert ("fact_changed", "fact_part P0, A") in found(filed)


@pytest.mark.parametrize("value", ["1.0", "'1'"])
def test_a_number_is_compared_as_it_is_stored(filed, value):
    """In a column made for numbers SQLite itself turns these into 1, so nothing is altered."""
    edit(filed, f"UPDATE fact_part SET place = {value} WHERE number = 'P0'")
    raw = sqlite3.connect(filed)
    assert raw.execute("SELECT DISTINCT typeof(place) FROM fact_part").fetchall() == [("integer",)]
    raw.close()


def test_what_a_schema_can_make_run_is_not_trusted(filed):
    engine = connect(filed)
    with engine.connect() as connection:
        said = {
            n: connection.exec_driver_sql(f"PRAGMA {n}").scalar()
            for n in ("trusted_schema", "cell_size_check")
        }
    engine.dispose()
    assert said == {"trusted_schema": 0, "cell_size_check": 1}


def test_a_page_that_was_turned_over_is_told(filed):
    """One byte within the rows of an index, which no scan of its table reads."""
    raw = sqlite3.connect(filed)
    size = raw.execute("PRAGMA page_size").fetchone()[0]
    raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    raw.close()
    at = page_of(filed, "sqlite_autoindex_fact_question_1") * size - 3
    data = bytearray(Path(filed).read_bytes())
    data[at] ^= 1
    Path(filed).write_bytes(data)
    assert not examine(filed).whole
