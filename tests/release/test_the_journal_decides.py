"""
What lets something out is judged by the journal: a row that somebody took out of the fact tables is not missed.

Rows go behind the program's back, as for someone who can write to the job's file and has no key.
"""

from __future__ import annotations

import random
import sqlite3
from datetime import UTC, datetime, timedelta

import pytest
from bench_job import plate_dxf
from small_job import edit

from ledger.acts.parts import NewRevision
from ledger.acts.questions import AskQuestion
from ledger.cli import main
from ledger.domain.errors import BadInput, NotReleasable, Tampered

pytestmark = pytest.mark.file_only
OLD, NEW, WAS = plate_dxf(), plate_dxf(diameter=14.0), plate_dxf(diameter=13.0)


def stops(bench, *numbers):
    return {s.code for v in bench.job.verdicts(numbers) for s in v.stops}


def asked_after_signing(bench):
    """LID is signed by both, and then somebody asks something about it."""
    bench.plate("LID", unconnected=True)
    bench.sign_all("LID")
    assert stops(bench, "LID") == set()
    bench.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    assert "question_open" in stops(bench, "LID")


def superseded(bench, number="LID", old=OLD):
    """Revision A is locked, and then B, with wider holes."""
    bench.plate(number, old, unconnected=True)
    bench.lock(number)
    bench.do(NewRevision, number=number, reason="a wider hole")
    bench.job.take_profile(number, f"{number}.dxf", NEW, by="Mira")
    bench.lock(number)


def sent(bench, data):
    folder = bench.folder / "sent"
    folder.mkdir(exist_ok=True)
    (folder / "LID.dxf").write_bytes(data)
    (told,) = bench.job.guard(folder).files
    return told.state


def test_deleted_question(bench):
    asked_after_signing(bench)
    edit(bench.place, "DELETE FROM fact_question")
    assert "question_open" in stops(bench, "LID")
    with pytest.raises(
        Tampered, match="fact_question: the row LID, Q1 is gone from the table: nothing was signed"
    ):
        bench.job.sign(["LID"], "drawn", "Mira", {})
    with pytest.raises(Tampered, match="fact_question"):
        bench.job.lock(["LID"], "Jonas", bench.folder / "out")


def test_deleted_question_and_a_printed_verdict(bench, capsys):
    asked_after_signing(bench)
    edit(bench.place, "DELETE FROM fact_question")
    assert main(["--job", bench.place, "verdict", "LID"]) == 4
    said = capsys.readouterr()
    assert "question_open" in said.out
    assert "fact_question: the row LID, Q1 is gone from the table" in said.err


def test_deleted_lock_and_a_folder_or_a_file_looked_at(bench, capsys):
    """The answer is the journal's; that the tables were altered is said, and the command ends with 4."""
    superseded(bench)
    sent(bench, NEW)
    for words in (["guard", str(bench.folder / "sent")], ["verify", str(bench.folder / "sent" / "LID.dxf")]):
        assert main(["--job", bench.place, *words]) == 0
    edit(bench.place, "DELETE FROM fact_lock WHERE revision = 'B'")
    capsys.readouterr()
    for words in (["guard", str(bench.folder / "sent")], ["verify", str(bench.folder / "sent" / "LID.dxf")]):
        assert main(["--job", bench.place, *words]) == 4
        said = capsys.readouterr()
        assert "fact_lock: the row LID, B is gone from the table" in said.err
        assert "current" in said.out or "locked" in said.out


def test_deleted_lock(bench):
    superseded(bench)
    assert (sent(bench, OLD), sent(bench, NEW)) == ("superseded", "current")
    edit(bench.place, "DELETE FROM fact_lock WHERE revision = 'B'")
    assert (sent(bench, OLD), sent(bench, NEW)) == ("superseded", "current")
    assert not bench.job.stands(OLD).current
    with pytest.raises(
        Tampered, match="fact_lock: the row LID, B is gone from the table: nothing is handed out"
    ):
        bench.job.packet("LID", "A")


def test_deleted_packet(bench):
    superseded(bench)
    edit(bench.place, "DELETE FROM fact_packet")
    with pytest.raises(Tampered, match=r"fact_packet.*nothing is handed out"):
        bench.job.packet("LID")


def test_every_fact_table_taken_away(bench):
    """Even where tables are gone the journal says how parts stand."""
    superseded(bench)
    edit(bench.place, "DROP TABLE fact_lock; DROP TABLE fact_question; DROP TABLE fact_part")
    assert (sent(bench, OLD), sent(bench, NEW)) == ("superseded", "current")
    assert stops(bench, "LID") == set()
    with pytest.raises(Tampered, match="fact_part cannot be read: nothing is handed out"):
        bench.job.packet("LID")


def test_any_one_row_deleted(bench):
    """Whichever row of whichever table is gone: nothing that was NO-GO is GO, nothing superseded is current."""
    bench.lock("BASE", "TURN")
    superseded(bench, old=WAS)
    bench.plate("CAP", unconnected=True)
    bench.sign_all("CAP")
    bench.do(AskQuestion, number="CAP", ident="Q1", text="which finish?")

    def how_it_stands():
        return [v.go for v in bench.job.verdicts(["CAP", "LID"])], bench.job.stands(WAS).current

    before = how_it_stands()
    assert before == ([False, True], False)
    raw = sqlite3.connect(bench.place, isolation_level=None)
    tables = [
        n
        for (n,) in raw.execute("SELECT name FROM sqlite_master WHERE name GLOB 'fact_*' AND type = 'table'")
    ]
    taken = 0
    for table in tables:
        rows = raw.execute(f"SELECT rowid, * FROM {table}").fetchall()
        for row in random.Random(1).sample(rows, min(len(rows), 3)):
            raw.execute(f"DELETE FROM {table} WHERE rowid = {row[0]}")
            assert how_it_stands() == before, (table, row)
            raw.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * (len(row) - 1))})", row[1:])
            taken += 1
    raw.close()
    assert taken > 30
    assert bench.job.verify() == ()


def permitted_until(bench, day):
    bench.plate("LID", unconnected=True)
    bench.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    bench.job.permit("LID", "Mira", code="question_open", place="Q1", reason="it stays bare", until=day)
    bench.sign_all("LID")
    assert stops(bench, "LID") == set()


def at(bench, day):
    bench.job.store.clock = lambda: datetime.fromisoformat(day).replace(tzinfo=UTC) + timedelta(hours=9)


def test_clock_set_back(bench):
    """The permit ran out, which an entry of a later day shows; the clock of the workstation says otherwise."""
    permitted_until(bench, "2026-03-05")
    at(bench, "2026-03-09")
    bench.do(AskQuestion, number="BASE", ident="Q9", text="which finish?")
    assert stops(bench, "LID") == {"question_open"}
    at(bench, "2026-03-04")
    assert stops(bench, "LID") == {"question_open"}
    with pytest.raises(NotReleasable):
        bench.job.lock(["LID"], "Jonas", bench.folder / "out")


def test_clock_set_back_and_an_entry_written_then(bench):
    """The newest entry is of the earlier day; that a later one stands before it still counts."""
    permitted_until(bench, "2026-03-05")
    at(bench, "2026-03-09")
    bench.do(AskQuestion, number="BASE", ident="Q9", text="which finish?")
    at(bench, "2026-03-04")
    bench.do(AskQuestion, number="BASE", ident="Q10", text="which paint?")
    assert stops(bench, "LID") == {"question_open"}
    with pytest.raises(NotReleasable):
        bench.job.lock(["LID"], "Jonas", bench.folder / "out")


def test_clock_set_back_for_a_new_permit(bench):
    """Nobody gives a permit until a day that is over by the entries."""
    permitted_until(bench, "2026-03-20")
    at(bench, "2026-03-09")
    bench.do(AskQuestion, number="LID", ident="Q2", text="which paint?")
    at(bench, "2026-03-02")
    with pytest.raises(BadInput, match="over already: it is 2026-03-09"):
        bench.job.permit("LID", "Mira", code="question_open", place="Q2", reason="none", until="2026-03-05")
