"""
Empty fact tables in memory, to follow a journal in.

One engine serves them all, so that statements are put together once; each connection is a database of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from sqlalchemy import Connection, Engine
from sqlalchemy.dialects import sqlite
from sqlalchemy.pool import NullPool
from sqlalchemy.schema import CreateTable
from sqlmodel import Session, create_engine

from ledger.store.rows import IN_MEMORY
from ledger.store.tables import Fact, JournalRow, KeptFileRow, Permanent


@contextmanager
def scratch(data: bytes = b"") -> Iterator[Connection]:
    """A connection to empty fact tables, or those of a database in these bytes; they are gone when it is closed."""
    with _engine().connect() as connection:
        driver: Any = connection.connection.driver_connection
        if data:
            driver.deserialize(data)
        for table in () if data else _tables():
            connection.exec_driver_sql(table)
        yield connection


def in_memory(memory: Connection) -> dict[str, Any]:
    """What a session on such tables is told (`Session(info=...)`), so that it asks them with no layer between."""
    return {IN_MEMORY: memory.connection.driver_connection}


@contextmanager
def journal_of(rows: Iterable[JournalRow], kept: Iterable[KeptFileRow]) -> Iterator[Session]:
    """A session on a journal of these rows and these kept files, and on nothing else; gone when it is closed."""
    with _engine().connect() as connection, Session(connection) as facts:
        Permanent.metadata.create_all(connection)
        facts.add_all([*rows, *kept])
        facts.flush()
        yield facts


@cache
def _engine() -> Engine:
    return create_engine("sqlite://", poolclass=NullPool)


@cache
def _tables() -> tuple[str, ...]:
    return tuple(
        str(CreateTable(table).compile(dialect=sqlite.dialect())) for table in Fact.metadata.tables.values()
    )
