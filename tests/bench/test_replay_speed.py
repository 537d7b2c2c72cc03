"""
What it costs to judge by the journal: followed from its first entry, and from a kept snapshot.

The peers, in the same run, are the same journal read by sqlite3 alone: hashed row by row, for the snapshot; hashed,
read as JSON and written again, for following. The ratios are asserted; whether a goal in seconds was met is printed,
because it depends on the machine.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import time

import pytest
from sqlalchemy import insert

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import RecordPart
from ledger.acts.questions import AnswerQuestion, AskQuestion
from ledger.acts.release import OpenJob
from ledger.acts.replay import follow
from ledger.domain.canonical import canonical
from ledger.domain.sealed import START, row_hash
from ledger.judge.build import build
from ledger.judge.snapshots import SnapshotFile
from ledger.store.guards import create_tables
from ledger.store.journal import Store
from ledger.store.place import connect
from ledger.store.tables import JournalRow

pytestmark = pytest.mark.bench
GOALS = {10_000: (1.5, 0.3), 100_000: (12.0, 0.3)}


def acts(count):
    """The job's opening, and then parts with a question, its answer and three dimensions each."""
    yield make(OpenJob, firm="Pier mount", ident="x")
    for k in range(count - 1):
        number = f"P{k // 6}"
        sized = {"number": number, "nominal": "40 mm", "limits": "±0.2"}
        yield (
            lambda: make(RecordPart, number=number, title="stud", form="bought", thickness="12 mm"),  # noqa: B023
            lambda: make(AskQuestion, number=number, ident="Q1", text="which finish?"),  # noqa: B023
            lambda: make(RecordDimension, name="length", **sized),  # noqa: B023
            lambda: make(RecordDimension, name="width", **sized),  # noqa: B023
            lambda: make(AnswerQuestion, number=number, ident="Q1", answer="zinc"),  # noqa: B023
            lambda: make(RecordDimension, name="height", **sized),  # noqa: B023
        )[k % 6]()


def journal_of(place, count):
    engine = connect(place, create=True)
    create_tables(engine)
    previous, rows = START, []
    for seq, act in enumerate(acts(count), start=1):
        said = {"job": "x", "seq": seq, "at": "2026-03-02T09:00:00Z", "by": "Mira", "program": "0"}
        body = canonical({**said, "act": act.model_dump(mode="json")})
        mark = row_hash(previous, body, "")
        rows.append({"seq": seq, "previous": previous, "body": body, "hash": mark, "signature": ""})
        previous = mark
    with engine.begin() as connection:
        connection.execute(insert(JournalRow), rows)
    engine.dispose()


def seconds(work):
    """Of the processor, not of the clock on the wall: others may be at work on the machine."""
    began = time.process_time()
    work()
    return time.process_time() - began


def replayed(place):
    store = Store(connect(place), follow, "0")
    store.replayed.snapshots = SnapshotFile("x")
    took = seconds(lambda: store.replaying().__enter__())
    store.close()
    return took


def plainly_hashed(place, *, read=False):
    raw = sqlite3.connect(place)
    for seq, previous, body, _mark, signature in raw.execute("SELECT * FROM journal ORDER BY seq"):
        assert hashlib.sha256(f"{seq}{previous}{signature}".encode() + body).hexdigest()
        if read:
            assert canonical(json.loads(body)) == body
    raw.close()


@pytest.mark.parametrize("count", sorted(GOALS))
def test_judging_by_the_journal(tmp_path, count, capsys):
    place = str(tmp_path / "long.db")
    journal_of(place, count)
    build()  # once a session
    first, bare = replayed(place), seconds(lambda: plainly_hashed(place, read=True))
    kept = min(replayed(place) for _ in range(3))
    hashed = min(seconds(lambda: plainly_hashed(place)) for _ in range(3))
    size = SnapshotFile("x").path.stat().st_size / 1e6
    whole, from_kept = GOALS[count]
    with capsys.disabled():
        print(  # noqa: T201 - a bench tells
            f"\n{count} entries: followed in {first:.2f} s (goal {whole}: {'met' if first < whole else 'NOT met'}), "
            f"{first / bare:.1f} of reading the bare chain; from a snapshot of {size:.1f} MB {kept:.3f} s "
            f"(goal {from_kept}: {'met' if kept < from_kept else 'NOT met'}), {kept / hashed:.1f} of plain hashing"
        )
    assert first / bare < 2.5
    assert kept / hashed < 8
    assert kept < first / 5
