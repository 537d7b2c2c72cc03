"""
Empty fact tables in memory, to follow a journal in.

One engine serves them all, so that statements are put together once; each connection is a database of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from sqlalchemy import Connection, Engine
from sqlalchemy.dialects import sqlite
from sqlalchemy.pool import NullPool
from sqlalchemy.schema import CreateTable
from sqlmodel import create_engine

from ledger.store.tables import Fact


@contextmanager
def scratch(data: bytes = b"") -> Iterator[Connection]:
    """A connection to empty fact tables, or those of a database in these bytes; they are gone when it is closed."""
    with _engine().connect() as connection:
        if data:
            connection.connection.driver_connection.deserialize(data)  # type: ignore[union-attr]  # sqlite3's own
        for table in () if data else _tables():
            connection.exec_driver_sql(table)
        yield connection


@cache
def _engine() -> Engine:
    return create_engine("sqlite://", poolclass=NullPool)


@cache
def _tables() -> tuple[str, ...]:
    return tuple(
        str(CreateTable(table).compile(dialect=sqlite.dialect())) for table in Fact.metadata.tables.values()
    )
