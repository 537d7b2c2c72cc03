"""A job goes out whole and comes in the same, or not at all; a copy is taken while others work."""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
import threading
import zipfile

import pytest
from fact_rows import dump_facts
from small_job import answer, ask, edit, small_job

from ledger.cli import main
from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, NewerProgram, Tampered, Unreadable
from ledger.job import Job
from ledger.release.custody import examine, take_out
from ledger.store import transfer
from ledger.store.chain import raw_rows


@pytest.fixture
def filed(tmp_path, clock):
    where = str(tmp_path / "fitup.db")
    job = small_job(where, clock)
    job.close()
    return where


@pytest.fixture
def out(filed, tmp_path):
    with Job(filed, ask) as job:
        job.export(tmp_path / "out")
    return tmp_path / "out"


def facts_of(filed):
    with Job(filed, ask) as job, job.store.reading() as facts:
        return dump_facts(facts)


def test_a_locked_job_goes_out_and_comes_in_with_the_same_head_facts_and_bytes(bench, tmp_path):
    bench.lock("BASE", "TURN")
    before = bench.job.packet("BASE")
    for name in ("whole", "whole.zip"):
        seal = bench.job.export(tmp_path / name)
        there = str(tmp_path / f"{name}.db")
        with Job.bring_in(there, tmp_path / name, ask) as other:
            assert ":".join(map(str, other.seal())) == seal
            assert other.packet("BASE") == before
        assert facts_of(there) == facts_of(bench.place)
        assert examine(there, since=seal).whole
        shutil.rmtree(tmp_path / name, ignore_errors=True)


def test_an_exported_job_is_plain_lines_and_files(out, filed):
    lines = [json.loads(line) for line in (out / "journal.jsonl").read_bytes().splitlines()]
    assert [row["seq"] for row in lines] == list(range(1, 9))
    assert json.loads(lines[2]["body"])["act"]["kind"] == "record_part"
    about = json.loads((out / "job.json").read_bytes())
    assert about["seal"] == examine(filed).seal


def test_two_exports_of_one_job_are_the_same_bytes(filed, tmp_path):
    with Job(filed, ask) as job:
        job.export(tmp_path / "a.zip")
        job.export(tmp_path / "b.zip")
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_the_zip_of_a_job_is_read_by_another_tool(filed, tmp_path):
    with Job(filed, ask) as job:
        job.export(tmp_path / "a.zip")
    command = [sys.executable, "-m", "zipfile", "-t", str(tmp_path / "a.zip")]
    if shutil.which("unzip"):
        command = ["unzip", "-tqq", str(tmp_path / "a.zip")]
    assert subprocess.run(command, check=False, capture_output=True).returncode == 0


def changed(line, **fields):
    return canonical({**json.loads(line), **fields})


def retold(line):
    return changed(line, body=json.loads(line)["body"].replace("12 mm", "99 mm"))


@pytest.mark.parametrize(
    ("harm", "told"),
    [
        (lambda lines: [*lines[:2], retold(lines[2]), *lines[3:]], "line 3: it is not what was written"),
        (lambda lines: [*lines[:2], *lines[3:]], "line 3: it does not follow line 2"),
        (lambda lines: [*lines[:3], lines[2], *lines[3:]], "line 4: it does not follow"),
        (lambda lines: [lines[1], lines[0], *lines[2:]], "line 1: it does not follow"),
        (lambda lines: lines[:-1], "ends at line 7"),
        (lambda _lines: [], "ends at line 0"),
        (lambda lines: [*lines[:4], b"{}", *lines[5:]], "line 5: it does not read as a row"),
        (lambda lines: [*lines[:4], b" " + lines[4], *lines[5:]], "line 5: it does not read as a row"),
        (lambda lines: [*lines[:4], changed(lines[4], more=1), *lines[5:]], "line 5: it does not read"),
        (lambda lines: [*lines[:4], changed(lines[4], hash="x"), *lines[5:]], "line 5"),
        (lambda lines: [*lines[:4], b"\xff\xfe", *lines[5:]], "line 5: it does not read"),
    ],
)
def test_what_was_altered_is_refused_naming_the_line_and_nothing_is_left(out, tmp_path, harm, told):
    lines = (out / "journal.jsonl").read_bytes().splitlines()
    (out / "journal.jsonl").write_bytes(b"".join(line + b"\n" for line in harm(lines)))
    with pytest.raises(Tampered, match=told):
        Job.bring_in(str(tmp_path / "new.db"), out, ask)
    assert not list(tmp_path.glob("new.db*"))


def test_a_journal_cut_within_a_line_is_refused(out, tmp_path):
    data = (out / "journal.jsonl").read_bytes()
    (out / "journal.jsonl").write_bytes(data[:-1])
    with pytest.raises(Tampered, match="was cut"):
        Job.bring_in(str(tmp_path / "new.db"), out, ask)


@pytest.mark.parametrize(
    ("harm", "told"),
    [
        (lambda out: (out / "job.json").unlink(), Unreadable),
        (lambda out: (out / "job.json").write_text('{"format": 3}'), Unreadable),
        (lambda out: (out / "job.json").write_text("[]"), Unreadable),
        (lambda out: (out / "journal.jsonl").unlink(), Unreadable),
        (lambda out: (out / "kept" / ("0" * 64)).write_bytes(b"more"), Tampered),
        (lambda out: (out / "notes.txt").write_bytes(b"more"), Tampered),
        (shutil.rmtree, Unreadable),
    ],
)
def test_what_is_no_exported_job_is_refused(out, tmp_path, harm, told):
    harm(out)
    with pytest.raises(told):
        Job.bring_in(str(tmp_path / "new.db"), out, ask)
    assert not list(tmp_path.glob("new.db*"))


def test_a_kept_file_altered_or_left_out_is_refused_by_its_name(bench, tmp_path):
    bench.job.export(tmp_path / "out")
    kept_file = min((tmp_path / "out" / "kept").iterdir())
    data = kept_file.read_bytes()
    for harm in (lambda: kept_file.write_bytes(data + b" "), kept_file.unlink):
        harm()
        with pytest.raises(Tampered, match=kept_file.name):
            Job.bring_in(str(tmp_path / "new.db"), tmp_path / "out", ask)


def test_a_job_with_a_forged_signature_does_not_come_in(bench, tmp_path):
    bench.job.sign(("BASE", "TURN"), "drawn", "Mira", {})
    bench.job.export(tmp_path / "out.zip")
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        archive.extractall(tmp_path / "out")
    from ledger.domain.sealed import row_hash

    lines = (tmp_path / "out/journal.jsonl").read_bytes().splitlines()
    row = json.loads(lines[-1])
    row["signature"] = "ab" * 64
    row["hash"] = row_hash(row["previous"], row["body"].encode(), row["signature"])
    (tmp_path / "out/journal.jsonl").write_bytes(b"\n".join([*lines[:-1], canonical(row)]) + b"\n")
    about = json.loads((tmp_path / "out/job.json").read_bytes())
    (tmp_path / "out/job.json").write_bytes(canonical({**about, "seal": f"{row['seq']}:{row['hash']}"}))
    with pytest.raises(Tampered, match=f"line {row['seq']}: the signature"):
        Job.bring_in(str(tmp_path / "new.db"), tmp_path / "out", ask)


def test_nothing_is_written_over(out, filed, tmp_path):
    with Job(filed, ask) as job:
        for verb in (job.export, job.backup):
            with pytest.raises(BadInput, match="there already"):
                verb(out)
    with pytest.raises(BadInput, match="there already"):
        Job.bring_in(filed, out, ask)
    assert examine(filed).whole


def test_a_copy_taken_while_another_seat_writes_is_whole_and_is_extended(filed, tmp_path):
    stop = threading.Event()
    with Job(filed, ask) as reader, Job(filed, ask) as writer:

        def work():
            while not stop.is_set():
                answer(writer)

        thread = threading.Thread(target=work)
        thread.start()
        seals = [reader.backup(tmp_path / f"copy{k}.db") for k in range(4)]
        stop.set()
        thread.join()
    for k, seal in enumerate(seals):
        copy = str(tmp_path / f"copy{k}.db")
        assert (examine(copy).whole, examine(copy).seal) == (True, seal)
        assert examine(filed, since=seal).whole
    assert not list(tmp_path.glob("*.part"))


def test_a_job_of_an_older_program_opens_by_following_its_journal(filed):
    before = facts_of(filed)
    edit(filed, "DROP TABLE fact_key; UPDATE fact_stamp SET schema_digest = 'older', writer = '0.0.9'")
    assert facts_of(filed) == before
    assert examine(filed).whole


def newer(filed, kind=None):
    """Entry 9 by program 9.0.0, and fact tables as only that one knows them."""
    from ledger.acts.base import make
    from ledger.acts.questions import AskQuestion
    from ledger.release.custody import follow
    from ledger.store.journal import Store
    from ledger.store.place import connect

    with Job(filed, ask) as job:
        ident = job.ident
    store = Store(connect(filed), follow if kind is None else lambda _facts, _row: None, "9.0.0")
    act = make(AskQuestion, number="P0", ident="Q2", text="Which side?").model_dump(mode="json")
    with store.writing() as facts:
        store.append(facts, job=ident, by="Mira", act={**act, **({"kind": kind} if kind else {})})
    store.close()
    edit(filed, "DROP TABLE fact_part; UPDATE fact_stamp SET schema_digest = 'newer', writer = '9.0.0'")


def test_a_job_of_a_newer_program_is_read_and_not_written(filed, tmp_path):
    newer(filed)
    raw = sqlite3.connect(filed)
    before = list(raw.iterdump())
    with Job(filed, ask) as job:
        assert {q.ident for q in job.part("P0").questions} == {"Q1", "Q2"}
        assert len(list(job.journal())) == 9
        assert job.verdicts(["P0"])
        job.export(tmp_path / "out")
        with pytest.raises(BadInput, match="written by a newer fitup and is read-only here"):
            answer(job)
    assert list(raw.iterdump()) == before
    raw.close()


def test_an_entry_beyond_this_program_says_update(filed):
    newer(filed, kind="grind_edge")
    with pytest.raises(NewerProgram, match="grind_edge"):
        Job(filed, ask)
    seen = examine(filed)
    assert ("newer_program", "stop") in {(f.code, f.severity) for f in seen.problems}
    assert not seen.whole  # what cannot be followed is not verified


def test_out_in_and_copied_on_the_command_line(filed, tmp_path, capsys):
    def run(*words):
        code = main(["--json", *words])
        return code, json.loads(capsys.readouterr().out)

    seal = examine(filed).seal
    assert run("export", str(tmp_path / "a"), "--job", filed) == (
        0,
        {"done": f"exported to {tmp_path / 'a'}, seal {seal}", "out": str(tmp_path / "a"), "seal": seal},
    )
    code, said = run("import", str(tmp_path / "a"), "--job", str(tmp_path / "new.db"))
    assert (code, said["seal"]) == (0, seal)
    code, said = run("backup", str(tmp_path / "copy.db"), "--job", filed)
    assert (code, said["seal"]) == (0, seal)
    assert run("import", str(tmp_path / "none"), "--job", str(tmp_path / "x.db"))[0] == 3


def test_a_file_twice_in_the_zip_is_refused(filed, tmp_path):
    with Job(filed, ask) as job:
        with job.store.writing() as facts:
            job.store.keep(facts, b"kept bytes")
        job.export(tmp_path / "out.zip")
    with zipfile.ZipFile(tmp_path / "out.zip", "a") as archive:
        kept_file = next(n for n in archive.namelist() if n.startswith("kept/"))
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr(kept_file, b"kept bytes")
    with pytest.raises(Tampered, match="more than once"):
        Job.bring_in(str(tmp_path / "new.db"), tmp_path / "out.zip", ask)
    assert not list(tmp_path.glob("new.db*"))


def test_a_kept_file_larger_than_any_is_not_read(filed, tmp_path, monkeypatch):
    kept = b"kept bytes " * 100
    with Job(filed, ask) as job:
        with job.store.writing() as facts:
            job.store.keep(facts, kept)
        job.export(tmp_path / "out.zip")
    monkeypatch.setattr(transfer, "_MOST_ONE", len(kept))
    Job.bring_in(str(tmp_path / "whole.db"), tmp_path / "out.zip", ask).close()
    monkeypatch.setattr(transfer, "_MOST_ONE", len(kept) - 1)
    with pytest.raises(Unreadable, match="larger than anything a job keeps"):
        Job.bring_in(str(tmp_path / "new.db"), tmp_path / "out.zip", ask)
    assert not list(tmp_path.glob("new.db*"))


def test_kept_bytes_that_were_changed_are_left_out_and_told(filed, tmp_path):
    with Job(filed, ask) as job, job.store.writing() as facts:
        job.store.keep(facts, b"kept bytes")
        job.store.keep(facts, b"other bytes")
    edit(filed, "UPDATE kept_file SET data = x'00' WHERE data = CAST('kept bytes' AS BLOB)")
    with Job(filed, ask) as job, pytest.raises(Tampered, match="was changed and is left out"):
        job.export(tmp_path / "out")
    (left,) = (tmp_path / "out/kept").iterdir()
    assert left.read_bytes() == b"other bytes"


@pytest.mark.file_only
def test_what_is_kept_under_a_path_is_not_written_there(filed, tmp_path):
    edit(filed, "INSERT INTO kept_file VALUES ('../../escaped', x'00')")
    with pytest.raises(Tampered, match="left out"):
        take_out(filed, tmp_path / "out")
    assert not (tmp_path / "escaped").exists()
    assert list((tmp_path / "out/kept").iterdir()) == []


@pytest.mark.parametrize("name", ["out", "out.zip"])
@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_what_breaks_off_on_the_way_out_leaves_nothing(filed, tmp_path, monkeypatch, name, fault):
    def refuse(_path):
        raise fault

    monkeypatch.setattr(transfer, "_sync", refuse)
    with Job(filed, ask) as job, pytest.raises((BadInput, KeyboardInterrupt)):
        job.export(tmp_path / name)
    left = {p.name for p in tmp_path.iterdir()} - {"fitup.db", "fitup.db-wal", "fitup.db-shm"}
    assert {n for n in left if "out" in n or n.startswith(".fitup")} == set()


def row_behind(raw, body):
    """A row that follows from the last one, whatever it holds."""
    from ledger.domain.sealed import row_hash

    ((seq, previous),) = raw.execute("SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1").fetchall()
    return seq + 1, previous, body, row_hash(previous, body, ""), ""


def put(filed, *bodies):
    with sqlite3.connect(filed) as raw:
        for body in bodies:
            raw.execute("INSERT INTO journal VALUES (?, ?, ?, ?, ?)", row_behind(raw, body))
    raw.close()


@pytest.mark.parametrize(
    "body", [b"\x00\xff\xfe", b"not JSON\x00", "e\u0301".encode(), b"{}", b'{"act":1}', b""]
)
def test_a_garbage_row_comes_in_with_the_others_and_is_set_aside_by_name(filed, database, tmp_path, body):
    """It is in the chain, so that it goes out and comes in: on to a file and to a server."""
    put(filed, body)
    with Job(filed, ask) as job:
        answer(job)
        seal = job.export(tmp_path / "out")
    for kind, place in (("file", str(tmp_path / "new.db")), ("server", database)):
        with Job.bring_in(place, tmp_path / "out", ask) as other:
            assert ":".join(map(str, other.seal())) == seal
            answer(other, text="bare")
        found = examine(place, since=seal)
        assert found.whole
        assert [(f.code, f.where) for f in found.problems if f.severity != "note"] == [
            ("entry_set_aside", "entry 9")
        ]
        with Job(place, ask) as job:
            job.export(tmp_path / f"again-{kind}")


def test_a_row_that_entries_do_not_reach_is_left_out_by_name(filed, tmp_path, capsys):
    edit(filed, f"INSERT INTO journal VALUES (-5, 'x', x'00', '{'e' * 64}', '')")
    with pytest.raises(Tampered, match="entry -5 does not read as one"):
        take_out(filed, tmp_path / "out")
    assert main(["import", str(tmp_path / "out"), "--job", str(tmp_path / "new.db")]) == 0
    assert "row -5 is no entry of this job and was left out" in capsys.readouterr().out
    assert not examine(str(tmp_path / "new.db")).problems


def test_text_in_hex_is_no_second_spelling_of_a_row(out, tmp_path):
    lines = (out / "journal.jsonl").read_bytes().splitlines()
    row = json.loads(lines[-1])
    row["hex"] = row.pop("body").encode().hex()
    (out / "journal.jsonl").write_bytes(b"".join(line + b"\n" for line in [*lines[:-1], canonical(row)]))
    with pytest.raises(Tampered, match=f"line {len(lines)}: it does not read as a row"):
        Job.bring_in(str(tmp_path / "new.db"), out, ask)


def not_allowed(filed, tmp_path):
    """A job with an entry that was not allowed and two behind it, taken out; its seal before."""
    with Job(filed, ask) as job:
        seal = job.seal()
        wrong = {
            "kind": "undo",
            "version": 1,
            "undoes": 4,
            "about": "part",
            "name": "P9",
            "gone": [],
            "back": [],
        }
        said = {"job": job.ident, "at": "2026-03-03T09:00:00Z", "by": "Mira", "program": "0.1.0"}
        asked = {"kind": "answer_question", "version": 1, "number": "P0", "ident": "Q1", "answer": "zinc"}
        bodies = [
            canonical({**said, "seq": seal[0] + 1 + k, "act": act})
            for k, act in enumerate((wrong, asked, asked))
        ]
    put(filed, *bodies)
    take_out(filed, tmp_path / "out")
    return ":".join(map(str, seal)), bodies


def test_a_job_that_an_entry_stopped_goes_on_from_before_it_and_the_rest_is_kept(filed, tmp_path, capsys):
    seal, bodies = not_allowed(filed, tmp_path)
    new, rest = str(tmp_path / "new.db"), tmp_path / "rest.jsonl"
    assert main(["import", str(tmp_path / "out"), "--job", new]) == 4
    assert "--rest FILE" in capsys.readouterr().err
    assert main(["import", str(tmp_path / "out"), "--job", new, "--rest", str(rest)]) == 0
    told = capsys.readouterr().out
    assert "3 lines from entry 9 on left out" in told
    assert "counts again" in told
    assert [json.loads(line)["body"].encode() for line in rest.read_bytes().splitlines()] == bodies
    assert examine(new, since=seal).whole
    with Job(new, ask) as job:
        assert ":".join(map(str, job.seal())) == seal
        answer(job)


def test_a_seal_from_behind_the_entry_that_stopped_a_job_tells_what_is_missing(filed, tmp_path):
    not_allowed(filed, tmp_path)
    later = examine(filed).seal
    Job.bring_in(str(tmp_path / "new.db"), tmp_path / "out", ask, rest=tmp_path / "rest").close()
    assert not examine(str(tmp_path / "new.db"), since=later).whole


@pytest.mark.parametrize("line", [2, 5, 8])
def test_whichever_line_is_broken_the_entries_before_it_come_in(out, tmp_path, line):
    lines = (out / "journal.jsonl").read_bytes().splitlines()
    lines[line - 1] = b'{"seq":%d,"hex":"00"}' % line
    (out / "journal.jsonl").write_bytes(b"".join(one + b"\n" for one in lines))
    with Job.bring_in(str(tmp_path / "new.db"), out, ask, rest=tmp_path / "rest") as job:
        assert job.seal()[0] == line - 1
        assert job.left_out[0].startswith(f"{9 - line} line")
    assert (tmp_path / "rest").read_bytes().splitlines() == lines[line - 1 :]
    assert examine(str(tmp_path / "new.db")).whole


def test_signed_entries_that_are_left_out_are_named(bench, tmp_path):
    bench.lock("BASE", "TURN")
    with bench.job.store.reading() as facts:
        last = max(r.seq for r in raw_rows(facts))
    bench.job.export(tmp_path / "exported")
    path = tmp_path / "exported/journal.jsonl"
    lines = path.read_bytes().splitlines()
    path.write_bytes(b"".join(one + b"\n" for one in [*lines[: last - 4], *lines[last - 3 :]]))
    with Job.bring_in(str(tmp_path / "new.db"), tmp_path / "exported", ask, rest=tmp_path / "rest") as job:
        assert any(w.endswith(f"entry {last - 1}, lock by Jonas") for w in job.left_out)
        assert job.verdicts(["BASE"])[0].go is False


def test_nothing_comes_in_where_the_rest_cannot_be_written(filed, tmp_path):
    not_allowed(filed, tmp_path)
    (tmp_path / "rest").write_text("here already", encoding="utf-8")
    with pytest.raises(BadInput, match="nothing was brought in"):
        Job.bring_in(str(tmp_path / "new.db"), tmp_path / "out", ask, rest=tmp_path / "rest")
    assert not (tmp_path / "new.db").exists()
    assert (tmp_path / "rest").read_text(encoding="utf-8") == "here already"
