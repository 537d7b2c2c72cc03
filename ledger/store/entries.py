"""
The entries before the one that is asked about, for rules that say where in the journal an act may be.

Kept with the session that follows the journal; what it has not followed itself is read from the journal.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import ColumnElement, func, or_
from sqlmodel import Session, select

from ledger.domain.errors import NoEntry
from ledger.domain.sealed import Body, Sealed, read_row
from ledger.store.tables import JournalRow

_AT_ONCE = 2000
_KEY = "fitup entries"
_JOB = "job of the journal"


@dataclass
class Entries:
    """What a session has followed: the hash of each row, the last entry, and which one it is at."""

    hashes: dict[int, str] = field(default_factory=dict)
    last: tuple[int, Body] | None = None
    next: int | None = None  # the entry that is being followed; None: none
    latest: str = ""  # the latest time of any of them
    known: dict[str, Any] = field(default_factory=dict)  # what rules have read out of the entries before it

    @property
    def from_the_first(self) -> bool:
        """Whether this session has followed every row before the one that it is at."""
        return self.next is not None and len(self.hashes) >= self.next - 1

    def passed(self, row: Sealed, body: Body | None) -> None:
        """One row further; `body` None where it was set aside."""
        self.hashes[row.seq] = row.hash
        self.next = None
        self.last = (row.seq, body) if body else None
        if body and body.at > self.latest:
            self.latest = body.at


def entries(facts: Session) -> Entries:
    """What this session has followed."""
    found: Entries | None = facts.info.get(_KEY)
    if found is None:
        found = facts.info[_KEY] = Entries()
    return found


def forgotten(facts: Session) -> None:
    """The session begins to follow from the first entry again."""
    facts.info.pop(_KEY, None)


def hash_of(facts: Session, seq: int) -> str:
    """The hash of a row, empty where there is none."""
    known = entries(facts).hashes.get(seq)
    return known or facts.exec(select(JournalRow.hash).where(JournalRow.seq == seq)).first() or ""


def body_of(facts: Session, seq: int) -> Body | None:
    """What an entry says; None where there is none, or what is there is no entry."""
    last = entries(facts).last
    if last and last[0] == seq:
        return last[1]
    row = facts.get(JournalRow, seq) if seq > 0 else None
    try:
        return read_row(Sealed(row.seq, row.previous, row.body, row.hash, row.signature)) if row else None
    except NoEntry:
        return None


def rows_between(
    facts: Session, behind: int, before: int | None = None, at_once: int = _AT_ONCE
) -> Iterator[Sealed]:
    """The rows of the journal in order, behind one entry and before another. Entries are numbered from 1."""
    t = JournalRow
    query = select(t.seq, t.previous, t.body, t.hash, t.signature).order_by(t.seq).limit(at_once)  # type: ignore[call-overload]  # five columns
    if before is not None:
        query = query.where(t.seq < before)
    behind = max(behind, 0)
    while True:
        rows = facts.exec(query.where(t.seq > behind)).all()
        for row in rows:
            yield Sealed(*row)
        if len(rows) < at_once:
            return
        behind = rows[-1][0]


def read_between(facts: Session, behind: int, before: int | None = None) -> Iterator[tuple[Sealed, Body]]:
    """The same with what each says, without those that are no entries of this job."""
    job = job_of(facts)
    for row in rows_between(facts, behind, before):
        try:
            body = read_row(row)
        except NoEntry:
            continue
        if body.job == job:
            yield row, body


def naming(facts: Session, *pieces: bytes) -> ColumnElement[bool]:
    """Which rows hold one of these pieces in their bodies; the database looks for them in the bytes as they lie."""
    there = facts.connection(bind_arguments={"mapper": JournalRow})
    found = func.instr if there.dialect.name == "sqlite" else func.pg_catalog.position
    return or_(*(found(JournalRow.body, piece) > 0 for piece in pieces))


def read_naming(
    facts: Session, *pieces: bytes, before: int | None = None, newest_first: bool = False
) -> Iterator[tuple[Sealed, Body]]:
    """The entries of this job that hold one of these pieces and stand before one, in order or the newest first."""
    t, job = JournalRow, job_of(facts)
    order = t.seq.desc() if newest_first else t.seq  # type: ignore[attr-defined]  # a column at run time
    named = select(t.seq, t.previous, t.body, t.hash, t.signature).where(t.seq > 0, naming(facts, *pieces))  # type: ignore[call-overload]  # five columns
    query = named.order_by(order).limit(_AT_ONCE)
    first, last = 0, before
    while True:
        further = query.where(t.seq > first)
        rows = facts.exec(further if last is None else further.where(t.seq < last)).all()
        for row in rows:
            with suppress(NoEntry):
                sealed = Sealed(*row)
                body = read_row(sealed)
                if body.job == job:
                    yield sealed, body
        if len(rows) < _AT_ONCE:
            return
        first, last = (first, rows[-1][0]) if newest_first else (rows[-1][0], last)


def newest_body(facts: Session) -> Body | None:
    """What the newest entry of this job says; rows behind it that are none are passed over."""
    t, job = JournalRow, job_of(facts)
    newest = t.seq.desc()  # type: ignore[attr-defined]  # a column at run time
    query = select(t.seq, t.previous, t.body, t.hash, t.signature).where(t.seq > 0).order_by(newest).limit(1)  # type: ignore[call-overload]  # five columns
    row = facts.exec(query).first()
    while row is not None:
        with suppress(NoEntry):
            body = read_row(Sealed(*row))
            if body.job == job:
                return body
        row = facts.exec(query.where(t.seq < row[0])).first()
    return None


def job_of(facts: Session) -> str:
    """Which job the journal is of: what its first opening says; empty where nothing opens it."""
    known = entries(facts).known
    if not known.get(_JOB):
        known[_JOB] = next(_openings(facts), "")
    return str(known[_JOB])


def _openings(facts: Session) -> Iterator[str]:
    for row in rows_between(facts, 0, at_once=10):  # it is the first one, unless somebody put others before
        try:
            body = read_row(row)
        except NoEntry:
            continue
        if body.act["kind"] == "open_job" and body.act.get("ident") == body.job:
            yield body.job
