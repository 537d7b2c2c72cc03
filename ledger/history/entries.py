"""The entries of the journal and the revisions of a part, for reading."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from typing import Any

from sqlmodel import Session, select

from ledger.acts.base import newest_part
from ledger.domain.errors import NoEntry
from ledger.domain.sealed import Sealed, read_row
from ledger.store import facts as read
from ledger.store.replay import seal_of, sealed_rows
from ledger.store.tables import JournalRow, PartFact

NO_ENTRY = "no entry"  # of a row that was set aside


@dataclass(frozen=True, slots=True)
class Written:
    """One entry of the journal, for reading."""

    seq: int
    at: str
    by: str
    kind: str
    hash: str
    signed: bool
    act: dict[str, Any]
    set_back_from: str = ""  # the later time of the entry before: the clock was set back between


@dataclass(frozen=True, slots=True)
class Revised:
    """One revision of a part in the list of them: its letter, whether it is locked, why it was begun."""

    revision: str
    locked: bool
    reason: str


def entry_of(row: Sealed | JournalRow) -> Written:
    """An entry as it is read."""
    try:
        body = read_row(row if isinstance(row, Sealed) else Sealed(**row.model_dump()))
    except NoEntry:
        return Written(row.seq, "", "", NO_ENTRY, row.hash, bool(row.signature), {"kind": NO_ENTRY})
    kind: str = body.act["kind"]
    return Written(row.seq, body.at, body.by, kind, row.hash, bool(row.signature), body.act)


def entry_numbered(facts: Session, seq: int) -> Written:
    """The entry of that number."""
    return entry_of(facts.get_one(JournalRow, seq))


def entries(facts: Session) -> Iterator[Written]:
    """Every entry, oldest first."""
    before = ""
    for row in sealed_rows(facts):
        found = entry_of(row)
        yield replace(found, set_back_from=before) if found.at and found.at < before else found
        before = found.at or before


def news(facts: Session, since: int, mine: Collection[str]) -> tuple[int, tuple[Written, ...]]:
    """The newest entry's number, and the entries behind `since` whose hash is not among `mine`."""
    seq, _hash = seal_of(facts)
    rows = facts.exec(select(JournalRow).where(JournalRow.seq > since)).all() if seq > since > 0 else ()
    return seq, tuple(entry_of(r) for r in rows if r.hash not in mine)


def revisions(facts: Session, number: str) -> tuple[Revised, ...]:
    """Every revision of a part, oldest first. Raises UnknownName."""
    newest_part(facts, number)
    found = sorted(read.rows(facts, PartFact, number=number), key=lambda r: r.place)
    return tuple(Revised(r.revision, r.locked, r.reason) for r in found)
