"""
A seat's connection is cut by the server at the n-th statement of a verb: all of it happened, or nothing.

The backend is ended with pg_terminate_backend just before the statement is sent. Only every few statements are tried,
unless FITUP_FAULTS=all asks for each.
"""

from __future__ import annotations

import itertools
import os

import pytest
from small_shop import PASSPHRASE, ask, small_shop
from sqlalchemy import event

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import RecordPart
from ledger.acts.questions import AskQuestion
from ledger.domain.errors import FitupError
from ledger.keeping import examine
from ledger.packet.inspect import inspect
from ledger.shop import Shop
from ledger.store import faults


@pytest.fixture
def shared(database, clock):
    with small_shop(database, clock, acts=0) as shop:
        shop.do(
            make(RecordPart, number="STUD", title="stud", form="bought", quantity=4, stands_alone=True),
            by="Mira",
        )
        shop.do(
            make(RecordDimension, number="STUD", name="length", nominal="40 mm", limits="±0.2"), by="Mira"
        )
        shop.enrol("Jonas", ("checked",), PASSPHRASE)
        shop.sign(["STUD"], "drawn", "Mira", {})
        shop.sign(["STUD"], "checked", "Jonas", {})
        assert shop.verdicts(["STUD"])[0].go
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


def record(shop, _home):
    shop.do(make(AskQuestion, number="STUD", ident="Q1", text="which?"), by="Mira")


def enrol(shop, _home):
    shop.enrol("Ada", ("checked",), PASSPHRASE)


def lock(shop, home):
    shop.lock(["STUD"], "Mira", home / "out")


# Each with the entries that it may write: all or nothing of them.
VERBS = {record: (1, 1), enrol: (1, 2), lock: (2, 9)}


@pytest.mark.parametrize("verb", VERBS, ids=lambda verb: verb.__name__)
def test_a_connection_cut_at_the_nth_statement_leaves_all_or_nothing(shared, tmp_path, monkeypatch, verb):
    monkeypatch.setattr(faults, "sleep", lambda _s: None)
    writes, stride = VERBS[verb]
    before, told = examine(shared).entries, []
    for n in itertools.count(1, 1 if os.environ.get("FITUP_FAULTS") == "all" else stride):
        with Shop(shared, ask) as shop, Cut(shop.store.engine, shared, n) as cut:
            try:
                verb(shop, tmp_path)
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
        with Shop(shared, ask) as shop:
            verb(shop, tmp_path)
    seen = examine(shared)
    assert (seen.whole, seen.entries) == (True, before + writes)
    if verb is lock:
        with Shop(shared, ask) as shop:
            data = shop.packet("STUD")[1]
            assert shop.holds(inspect(data).head)
