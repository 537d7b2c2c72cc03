"""
Whether the fact tables of a job say what its journal says.

Both sides are compared as raw rows, which is quick; only a table that differs is read again for words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from sqlalchemy import Table, select
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

from ledger.domain.finding import Finding
from ledger.store.fact_findings import compared
from ledger.store.tables import FACTS, Fact


def disagreements(replayed: Session) -> Iterator[Finding]:
    """Every row of the job's fact tables that is not as the entries say, by table and key, in the same transaction."""
    job: Session = replayed.info["job"]
    different = [table for table in FACTS if not _same(job, replayed, table)]
    if different:
        yield from compared(job, replayed, {}, different)


def _same(job: Session, replayed: Session, table: type[Fact]) -> bool:
    try:
        with job.begin_nested():
            found = _rows(job, table)
    except DBAPIError as fault:
        if fault.connection_invalidated:
            raise
        return False
    return found == _rows(replayed, table)


def _rows(facts: Session, table: type[Fact]) -> Counter[tuple[object, ...]]:
    """The rows with their kinds: SQLite keeps what it is given, and 1 is not '1'."""
    own: Table = table.__table__  # type: ignore[attr-defined]  # SQLModel hides its table
    where = facts.connection(bind_arguments={"mapper": table})
    return Counter(map(tuple, where.execute(select(*own.columns))))
