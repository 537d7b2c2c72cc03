"""
Following the journal: its rows in order, and the facts that they add up to.

Replay runs neither reader, solver nor the grammar of what was written. It asks of every entry whether it was allowed
where it stands, by the rules of its act, and applies it. A row that is no entry of this journal is *set aside* and
stops nothing but itself; an entry that was *not allowed* stops the facts there.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache

from sqlalchemy.exc import OperationalError
from sqlalchemy.schema import CreateTable
from sqlmodel import Session, select

from ledger.domain.errors import FitupError, NewerProgram, NoEntry, Tampered, visible
from ledger.domain.sealed import START, Body, Sealed, read_body, row_hash_or_none
from ledger.store.entries import entries, forgotten, hash_of, read_between, rows_between
from ledger.store.guards import lay_out_facts
from ledger.store.rows import put_row
from ledger.store.tables import Fact, JournalRow, StampFact

Apply = Callable[[Session, Sealed], None]
Stamp = Callable[[int, str], StampFact]
SetAside = Callable[[int, str], None]


@dataclass(frozen=True, slots=True)
class Stopped:
    """The first entry that was not allowed where it stands, and why: nothing from there on counts."""

    seq: int
    kind: str
    reason: str

    @property
    def message(self) -> str:
        """In words."""
        what = f" ({visible(self.kind)})" if self.kind else ""
        return f"entry {self.seq}{what} was not allowed: {self.reason}; nothing from there on counts"


def rebuild(facts: Session, apply: Apply, stamp: Stamp) -> None:
    """
    Empty every fact table and follow the journal from its first entry, as far as every entry was allowed.

    Raises NewerProgram.
    """
    lay_out_facts(facts.connection(bind_arguments={"mapper": StampFact}))
    follow_from(facts, apply, stamp, 0)


def follow_from(facts: Session, apply: Apply, stamp: Stamp, seq: int) -> Stopped | None:
    """
    Apply the entries behind `seq`, up to the first that was not allowed, and stamp the facts: with the last row of the
    journal, and with the entry that stopped them. Raises NewerProgram.
    """
    previous = _hash_at(facts, seq)
    before: int | None = None
    stopped: Stopped | None = None
    while True:  # a second time where an act broke off in the midst of writing
        forgotten(facts)
        try:
            with facts.begin_nested():
                facts.connection(bind_arguments={"mapper": StampFact})  # to take part in what may be undone
                found = followed(facts, apply, rows_between(facts, seq, before), previous)
                facts.flush()
            break
        except BrokenOff as fault:
            before, stopped = fault.stopped.seq, fault.stopped
            facts.expire_all()
    stopped = stopped or found
    last, seal = seal_of(facts)
    mark = stamp(last, seal)
    if stopped:
        mark.stopped, mark.stopped_kind, mark.reason = stopped.seq, stopped.kind, stopped.reason
    put_row(facts, mark)
    return stopped


class BrokenOff(Exception):
    """An act that was allowed broke off while its facts were written."""

    def __init__(self, stopped: Stopped) -> None:
        super().__init__(stopped.message)
        self.stopped = stopped


def followed(
    facts: Session, apply: Apply, rows: Iterable[Sealed], previous: str = START, aside: SetAside | None = None
) -> Stopped | None:
    """
    Apply rows that come one behind the other; the first that was not allowed stops, and is given back.

    A row that is no entry of this journal is set aside: `aside` is told its number and why. Raises NewerProgram, and
    BrokenOff where an act that was allowed could not be applied to its end: what it wrote must then be undone.
    """
    for row in rows:
        if row.previous != previous or row_hash_or_none(row) != row.hash:
            return Stopped(row.seq, "", "it is not what was written behind the entry before it")
        previous = row.hash
        try:
            apply(facts, row)
        except NoEntry as no:
            entries(facts).passed(row, None)
            if aside is not None:
                aside(row.seq, str(no))
        except (NewerProgram, OperationalError, sqlite3.OperationalError, MemoryError):
            raise
        except FitupError as no:
            return Stopped(row.seq, _kind_of(row), str(no))
        except Exception as fault:
            raise BrokenOff(Stopped(row.seq, _kind_of(row), f"it cannot be applied ({fault})")) from fault
    return None


def _kind_of(row: Sealed) -> str:
    return str(read_body(row.body).act["kind"])


def _hash_at(facts: Session, seq: int) -> str:
    return hash_of(facts, seq) if seq else START


def sealed_rows(facts: Session, behind: int = 0) -> Iterator[Sealed]:
    """Every row of the journal in order, behind an entry."""
    return rows_between(facts, behind)


def entries_in(facts: Session, behind: int = 0) -> Iterator[tuple[Sealed, Body]]:
    """The same with what each says; rows that are no entries are left out."""
    return read_between(facts, behind)


def stopped_at(facts: Session) -> Stopped | None:
    """The entry at which the facts stop, because it was not allowed; None where they reach the last one."""
    stamp = facts.get(StampFact, 1)
    return Stopped(stamp.stopped, stamp.stopped_kind, stamp.reason) if stamp and stamp.stopped else None


def require_followed(facts: Session) -> None:
    """Raise Tampered where the facts stop before the last entry: nothing is let out on such facts."""
    found = stopped_at(facts)
    if found:
        raise Tampered(
            f"{found.message}. This job can be read and exported; fitup verify says all that is wrong. To go on from "
            "the entries before it: fitup export, and fitup import … --rest FILE into a new job"
        )


def seal_of(facts: Session) -> tuple[int, str]:
    """Sequence number and hash of the last row."""
    t = JournalRow
    newest = t.seq.desc()  # type: ignore[attr-defined]  # a column at run time
    query = select(t.seq, t.hash).where(t.seq > 0).order_by(newest).limit(1)
    last = facts.exec(query).first()
    return (last[0], last[1]) if last else (0, START)


@cache
def schema_digest() -> str:
    """What the fact tables of this program look like."""
    tables = sorted(str(CreateTable(t)) for t in Fact.metadata.tables.values())
    return hashlib.sha256("\n".join(tables).encode()).hexdigest()
