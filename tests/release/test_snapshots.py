"""A kept snapshot spares following the journal; one that is altered, old or another's is no snapshot."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fact_rows import dump_facts
from small_job import MovingClock, answer, ask, chained_again, edit, small_job

from ledger.acts.replay import follow
from ledger.domain.errors import Tampered
from ledger.job import Job
from ledger.judge import snapshots as kept
from ledger.judge.snapshots import SnapshotFile
from ledger.store import snapshot
from ledger.store.sealed import keys_folder

pytestmark = pytest.mark.file_only


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A small job of which every snapshot is kept, closed."""
    monkeypatch.setattr(snapshot, "_WORTH_KEEPING", 1)
    made = str(tmp_path / "fitup.db")
    with small_job(made, MovingClock()) as job, job.store.replaying():
        pass
    return made


def followed(place, monkeypatch):
    """The facts that the journal says, and how many entries were followed for them in a new session."""
    applied = []

    def counted(facts, row):
        applied.append(row.seq)
        follow(facts, row)

    with Job(place, ask, MovingClock()) as job:
        monkeypatch.setattr(job.store.replayed, "apply", counted)
        with job.store.replaying() as facts:
            return dump_facts(facts), len(applied)


def file_of(place):
    with Job(place, ask, MovingClock()) as job:
        return SnapshotFile(job.ident).path


def test_nothing_is_followed_again_that_a_snapshot_holds(place, monkeypatch):
    true = followed(place, monkeypatch)
    assert true[1] == 0
    file_of(place).unlink()
    assert followed(place, monkeypatch) == (true[0], 8)


def test_only_what_came_since_is_followed(place, monkeypatch):
    with Job(place, ask, MovingClock()) as job:
        answer(job)
    facts, entries = followed(place, monkeypatch)
    assert entries == 1
    assert any('"answer": "zinc"' in row for row in facts["fact_question"])


def today_by_the_journal(place, clock):
    with Job(place, ask, clock) as job, job.store.replaying() as facts:
        return job.store.today(facts)


def test_today_is_no_earlier_than_any_entry_that_a_snapshot_holds(place):
    """The clock was ahead for one entry; since then it is right, and the day of that entry is still behind us."""
    with Job(place, ask, lambda: datetime(2026, 3, 9, 9, tzinfo=UTC)) as job:
        answer(job)
    with Job(place, ask, MovingClock()) as job:
        answer(job, number="P1")
    for _ in range(2):  # followed, and from the snapshot that was then kept
        assert today_by_the_journal(place, MovingClock()) == "2026-03-09"
    file_of(place).unlink()
    assert today_by_the_journal(place, MovingClock()) == "2026-03-09"


@pytest.mark.parametrize("shape", [{"kind": "no_act"}, {"kind": "open_job"}, {}])
def test_a_row_that_is_set_aside_does_not_move_today(place, shape):
    """Whatever day it names: it would end permits that nobody let run out."""
    with Job(place, ask, MovingClock()) as job:
        answer(job)
        last = answer(job, number="P1")
    late = {"at": "2031-01-01T09:00:00Z"}
    chained_again(place, lambda seq, body: body | late | {"act": shape} if seq == last else body)
    assert today_by_the_journal(place, MovingClock()) == "2026-03-02"


def test_no_snapshot_lies_in_the_job(place):
    assert not file_of(place).is_relative_to(Path(place).parent / "fitup.db")
    assert (
        file_of(place).stat().st_mode & 0o77,
        (keys_folder() / "snapshots.key").stat().st_mode & 0o77,
    ) == (0, 0)


@pytest.mark.parametrize("at", [0, 20, 60, 400, -4000, -1])
def test_altered_snapshot(place, monkeypatch, at):
    """One byte of it, wherever: of its head, its code, what it says of itself, or the facts."""
    true = followed(place, monkeypatch)[0]
    data = bytearray(file_of(place).read_bytes())
    data[at] ^= 1
    file_of(place).write_bytes(data)
    assert followed(place, monkeypatch) == (true, 8)


@pytest.mark.parametrize("length", [0, 7, 30, 60, 500])
def test_cut_snapshot(place, monkeypatch, length):
    file_of(place).write_bytes(file_of(place).read_bytes()[:length])
    assert followed(place, monkeypatch)[1] == 8


def test_snapshot_of_another_user(place, monkeypatch):
    (keys_folder() / "snapshots.key").write_bytes(b"k" * 32)
    assert followed(place, monkeypatch)[1] == 8


def test_snapshot_of_another_program(place, monkeypatch):
    monkeypatch.setattr(kept, "build", lambda: "another")
    assert followed(place, monkeypatch)[1] == 8


def test_snapshot_of_another_schema(place, monkeypatch):
    monkeypatch.setattr(kept, "schema_digest", lambda: "another")
    assert followed(place, monkeypatch)[1] == 8


def test_snapshot_of_another_job(place, monkeypatch, tmp_path):
    other = str(tmp_path / "other.db")
    with small_job(other, MovingClock(), acts=3), Job(place, ask, MovingClock()):
        pass
    file_of(other).write_bytes(file_of(place).read_bytes())
    assert followed(other, monkeypatch)[1] == 5


def test_journal_rewritten_before_a_snapshot(place, monkeypatch):
    """Every hash is made to fit again, so the journal no longer has the seal that the snapshot was taken at."""

    def change(_seq, body):
        act = body["act"]
        return {**body, "act": {**act, "text": "which paint?"}} if act["kind"] == "ask_question" else body

    chained_again(place, change)
    facts, entries = followed(place, monkeypatch)
    assert entries == 8
    assert json.loads(facts["fact_question"][0])["text"] == "which paint?"


def test_journal_altered_before_a_snapshot(place, monkeypatch):
    """No hash fits: nothing is proven from it, whatever a snapshot says."""
    edit(place, "UPDATE journal SET body = replace(body, 'finish', 'paints') WHERE seq = 4")
    with pytest.raises(Tampered, match="entry 4 is not what was written: nothing can be proven"):
        followed(place, monkeypatch)


def test_journal_cut_before_a_snapshot(place, monkeypatch):
    with Job(place, ask, MovingClock()) as job:
        answer(job)
        with job.store.replaying():
            pass
    edit(place, "DELETE FROM journal WHERE seq = 9; UPDATE fact_stamp SET seq = 8")
    assert followed(place, monkeypatch)[1] == 8
