"""
A workstation's connection is cut by the server at the n-th statement of a verb: all of it happened, or nothing.

The backend is ended with pg_terminate_backend just before the statement is sent. Only every few statements are tried,
unless FITUP_FAULTS=all asks for each.
"""

from __future__ import annotations

import itertools
import os

import pytest
from small_job import PASSPHRASE, ask, small_job
from sqlalchemy import event

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import RecordPart
from ledger.acts.questions import AskQuestion
from ledger.domain.errors import FitupError
from ledger.job import Job
from ledger.packet.inspect import inspect
from ledger.release.custody import examine
from ledger.store import faults


@pytest.fixture
def shared(database, clock):
    with small_job(database, clock, acts=0) as job:
        job.do(
            make(RecordPart, number="STUD", title="stud", form="bought", quantity=4, unconnected=True),
            by="Mira",
        )
        job.do(make(RecordDimension, number="STUD", name="length", nominal="40 mm", limits="±0.2"), by="Mira")
        job.enroll("Jonas", ("checked",), PASSPHRASE)
        job.sign(["STUD"], "drawn", "Mira", {})
        job.sign(["STUD"], "checked", "Jonas", {})
        assert job.verdicts(["STUD"])[0].go
    return database


class Cut:
    """Ends the backend of whichever connection sends the n-th statement while this is entered."""

    def __init__(self, engine, address, n):
        import psycopg

        self.n, self.count, self.struck = n, 0, ""
        self.engine = engine
        self.owner = psycopg.connect(address.replace("+psycopg", ""), autocommit=True)

    def __enter__(self):
        event.listen(self.engine, "before_cursor_execute", self.statement)
        event.listen(self.engine, "commit", self.last_word)
        return self

    def __exit__(self, *_):
        event.remove(self.engine, "before_cursor_execute", self.statement)
        event.remove(self.engine, "commit", self.last_word)
        self.owner.close()

    def statement(self, connection, _cursor, sql, *_):
        self.hit(connection, sql)

    def last_word(self, connection):
        self.hit(connection, "COMMIT")

    def hit(self, connection, what):
        self.count += 1
        if self.count == self.n:
            self.struck = what
            pid = connection.connection.driver_connection.info.backend_pid
            self.owner.execute("SELECT pg_terminate_backend(%s, 5000)", (pid,))


def record(job, _home):
    job.do(make(AskQuestion, number="STUD", ident="Q1", text="which?"), by="Mira")


def enroll(job, _home):
    job.enroll("Ada", ("checked",), PASSPHRASE)


def lock(job, home):
    job.lock(["STUD"], "Mira", home / "out")


# Each with the entries that it may write: all or nothing of them.
VERBS = {record: (1, 1), enroll: (1, 2), lock: (2, 9)}


@pytest.mark.parametrize("verb", VERBS, ids=lambda verb: verb.__name__)
def test_a_connection_cut_at_the_nth_statement_leaves_all_or_nothing(shared, tmp_path, monkeypatch, verb):
    monkeypatch.setattr(faults, "sleep", lambda _s: None)
    writes, stride = VERBS[verb]
    before, told = examine(shared).entries, []
    for n in itertools.count(1, 1 if os.environ.get("FITUP_FAULTS") == "all" else stride):
        with Job(shared, ask) as job, Cut(job.store.engine, shared, n) as cut:
            try:
                verb(job, tmp_path)
            except FitupError as fault:
                told.append(str(fault))
            else:
                break
        assert cut.struck
        seen = examine(shared)
        assert seen.whole, seen.problems
        assert seen.entries in (before, before + writes)
        if seen.entries != before:
            break
        assert not list(tmp_path.rglob("*.zip"))
        assert not list(tmp_path.rglob("*.part"))
    assert all("nothing was written" in t or "look with fitup journal" in t or "locked" in t for t in told), (
        told
    )
    assert len(told) > 3
    if examine(shared).entries == before:
        with Job(shared, ask) as job:
            verb(job, tmp_path)
    seen = examine(shared)
    assert (seen.whole, seen.entries) == (True, before + writes)
    if verb is lock:
        with Job(shared, ask) as job:
            data = job.packet("STUD")[1]
            assert job.holds(inspect(data).seal)
