"""
Following the journal: its rows in order, and the facts that they add up to.

Replay runs neither reader, solver nor validation: each act only applies. So the fact tables can be dropped at any time
and made again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from functools import cache

from sqlalchemy.exc import OperationalError
from sqlalchemy.schema import CreateTable
from sqlmodel import Session, select

from ledger.domain.errors import NewerProgram, Tampered
from ledger.store.rows import put_row
from ledger.store.sealed import START, Sealed
from ledger.store.tables import FACTS, Fact, JournalRow, StampFact

Apply = Callable[[Session, Sealed], None]
_AT_ONCE = 2000  # rows of the journal read in one go


def rebuild(facts: Session, apply: Apply, stamp: Callable[[int, str], StampFact]) -> None:
    """Drop every fact table and follow the journal from its first entry. Raises Tampered, NewerProgram."""
    connection = facts.connection()
    Fact.metadata.drop_all(connection)
    Fact.metadata.create_all(connection)
    follow_from(facts, apply, stamp, 0)


def follow_from(facts: Session, apply: Apply, stamp: Callable[[int, str], StampFact], seq: int) -> None:
    """Apply the entries behind `seq` and stamp the facts with the last. Raises Tampered, NewerProgram."""
    seal = START
    for row in sealed_rows(facts, seq):
        try:
            apply(facts, row)
        except (NewerProgram, OperationalError):
            raise
        except Exception as fault:
            raise Tampered(
                f"the journal cannot be followed past entry {row.seq} ({fault}); fitup verify says what is wrong"
            ) from fault
        seq, seal = row.seq, row.hash
    put_row(facts, stamp(seq, seal))


def sealed_rows(facts: Session, behind: int = 0) -> Iterator[Sealed]:
    """Every row of the journal in order, behind an entry."""
    t = JournalRow
    query = select(t.seq, t.previous, t.body, t.hash, t.signature).order_by(t.seq).limit(_AT_ONCE)  # type: ignore[call-overload]  # five columns
    while True:
        rows = facts.exec(query.where(t.seq > behind)).all()
        for row in rows:
            yield Sealed(*row)
        if len(rows) < _AT_ONCE:
            return
        behind = rows[-1][0]


def seal_of(facts: Session) -> tuple[int, str]:
    """Sequence number and hash of the last row."""
    query = select(JournalRow.seq, JournalRow.hash).order_by(JournalRow.seq.desc()).limit(1)  # type: ignore[attr-defined]  # a column at run time
    last = facts.exec(query).first()
    return (last[0], last[1]) if last else (0, START)


@cache
def schema_digest() -> str:
    """What the fact tables of this program look like."""
    tables = sorted(str(CreateTable(t)) for t in Fact.metadata.tables.values())
    return hashlib.sha256("\n".join(tables).encode()).hexdigest()


def dump_facts(facts: Session, tables: Iterable[type[Fact]] = FACTS) -> dict[str, list[str]]:
    """Every row of every fact table as text, sorted, for comparison."""
    out: dict[str, list[str]] = {}
    for table in tables:
        found = facts.exec(select(table)).all()
        out[str(table.__tablename__)] = sorted(
            json.dumps(row.model_dump(warnings=False), sort_keys=True) for row in found
        )
    return out
