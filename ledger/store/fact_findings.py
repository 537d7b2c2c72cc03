"""
What is wrong with the fact tables: does the journal, followed into an empty database, give the same rows?
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import Connection, Engine, event, text
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

from ledger.domain.errors import NewerProgram
from ledger.domain.finding import Finding
from ledger.domain.sealed import Sealed
from ledger.store.chain import Raw
from ledger.store.entries import entries
from ledger.store.guards import named
from ledger.store.replay import Apply, BrokenOff, Stopped, followed
from ledger.store.rows import TOLD, key_of
from ledger.store.scratch import in_memory, scratch
from ledger.store.tables import FACTS, Fact, JournalRow, Permanent

Touched = dict[tuple[str, str], int]  # by table and key: the last entry that wrote the row


def replayed(facts: Session, apply: Apply, rows: list[Raw], aside: dict[int, str]) -> Iterator[Finding]:
    """
    The journal followed into an empty database gives the same facts, and every entry was allowed where it stands.

    The rows that are no entries of it are put into `aside`, by number, with why.
    """
    touched: Touched = {}
    job = facts.connection(bind_arguments={"mapper": JournalRow})
    with scratch() as memory:
        binds: dict[Any, Engine | Connection] = {Permanent: job, Fact: memory}
        with Session(binds=binds, join_transaction_mode="rollback_only", info=in_memory(memory)) as then:

            def touch(*put: Any) -> None:
                for row in put:
                    touched[str(row.__tablename__), json.dumps(key_of(row))] = entries(then).next or 0

            then.info[TOLD] = touch
            event.listen(then, "after_flush", lambda s, _context: touch(*s.new, *s.dirty, *s.deleted))
            try:
                stopped = followed(then, apply, (Sealed(*row) for row in rows), aside=aside.__setitem__)
            except NewerProgram as newer:
                seq = entries(then).next or 0
                message = f"from entry {seq} on nothing could be verified: {newer}"
                yield Finding("newer_program", message, where=f"entry {seq}")
                return
            except BrokenOff as fault:
                stopped = fault.stopped
                yield _not_allowed(stopped)
                return
            for seq, why in aside.items():
                message = f"row {seq} is no entry of this job and was set aside: {why}"
                yield Finding("entry_set_aside", message, where=f"entry {seq}", severity="warning")
            if stopped:
                yield _not_allowed(stopped)
            if stopped is None:  # else the tables say more than counts, which has its cause already
                yield from compared(facts, then, touched)


def _not_allowed(stopped: Stopped) -> Finding:
    return Finding("entry_not_allowed", stopped.message, where=f"entry {stopped.seq}")


def compared(
    facts: Session, followed: Session, touched: Touched, tables: Iterable[type[Fact]] = FACTS
) -> Iterator[Finding]:
    """Row by row: what the tables hold against what the acts add up to."""
    for table in tables:
        name, keys = str(table.__tablename__), [c.name for c in table.__table__.primary_key.columns]  # type: ignore[attr-defined]  # SQLModel hides its table
        try:
            with facts.begin_nested():
                found = _stored(facts, table, keys)
        except (DBAPIError, ValueError, TypeError) as fault:
            unless_lost(fault)
            yield Finding("fact_changed", f"{name} cannot be read", where=name)
            continue
        meant = _stored(followed, table, keys)
        for key in sorted(found.keys() | meant.keys()):
            if not _same(found.get(key), meant.get(key)):
                yield _odd(name, key, found.get(key), meant.get(key), touched.get((name, key), 0))


def unless_lost(fault: Exception) -> None:
    """A connection that was lost says nothing of the job: raise what came up then."""
    if isinstance(fault, DBAPIError) and fault.connection_invalidated:
        raise fault


def _stored(facts: Session, table: type[Fact], keys: list[str]) -> dict[str, dict[str, Any]]:
    """Every row of a table by its key, with the values as they are stored and not as a library would read them."""
    connection = facts.connection(bind_arguments={"mapper": table})
    columns = [c.name for c in table.__table__.columns]  # type: ignore[attr-defined]  # SQLModel hides its table
    listed = ", ".join(f't."{c}"' for c in columns)  # with t, a column that is missing is not read as a text
    query = f"SELECT {listed} FROM {named(connection, str(table.__tablename__))} t"  # noqa: S608 - our own names
    rows = (dict(zip(columns, map(_plain, row), strict=True)) for row in connection.execute(text(query)))
    return {json.dumps([row[k] for k in keys], default=repr): row for row in rows}


def _plain(value: Any) -> Any:
    return (
        int(value) if isinstance(value, bool) else value
    )  # a server has a kind for yes and no, a file has 1 and 0


def _same(one: dict[str, Any] | None, other: dict[str, Any] | None) -> bool:
    if one is None or other is None:
        return one is other
    return all(type(one[c]) is type(other[c]) and one[c] == other[c] for c in other)


def _odd(
    table: str, key: str, found: dict[str, Any] | None, meant: dict[str, Any] | None, since: int
) -> Finding:
    named = ", ".join(str(k) for k in json.loads(key))
    if found is None:
        what = "is gone from the table"
    elif meant is None:
        what = "was put in; no entry says so"
    else:
        odd = [c for c in meant if not _same({c: found[c]}, {c: meant[c]})]
        what = "; ".join(f"{c} reads {found[c]!r}, the entries say {meant[c]!r}" for c in odd)
    behind = f" (changed after entry {since})" if since else ""
    return Finding("fact_changed", f"{table}: the row {named} {what}{behind}", where=f"{table} {named}")
