"""
The tables of a job with what keeps them, on either database, and whether they are still as they were made.

Guards (triggers) refuse a change of the permanent tables, a removal, and any insert but the next entry: so `INSERT OR
REPLACE` is refused too, with or without recursive triggers. They stop accidents; the chain and the signatures find
fraud. Whatever else lies in the job's schema could hide or change what is read, so it is named and nothing is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from ledger.domain.finding import Finding
from ledger.store import file_schema, server_schema
from ledger.store.faults import in_our_words
from ledger.store.tables import Fact, Permanent


def create_tables(engine: Engine) -> None:
    """
    The permanent tables with their guards, and empty fact tables: all or nothing.

    A table or schema of one of these names that is there already is somebody else's, and refused.
    """
    try:
        with engine.begin() as connection:
            _schema(connection).make(connection)
    except DBAPIError as fault:
        raise in_our_words(fault) from fault


def drop_tables(engine: Engine) -> None:
    """Take a job that never came to be away again."""
    with engine.begin() as connection:
        if connection.dialect.name != "sqlite":
            connection.exec_driver_sql(f"DROP SCHEMA {server_schema.SCHEMA} CASCADE")
            return
        Fact.metadata.drop_all(connection)
        Permanent.metadata.drop_all(connection)


def remove_unfinished(engine: Engine) -> None:
    """Take away what a start that was killed left on a server: a schema as it was made, without an entry."""
    if engine.dialect.name == "sqlite":
        return
    try:
        with engine.begin() as connection:
            if next(guard_findings(connection), None):
                return
            connection.exec_driver_sql("LOCK TABLE fitup.journal IN ACCESS EXCLUSIVE MODE")
            if connection.exec_driver_sql("SELECT 1 FROM fitup.journal LIMIT 1").first() is None:
                connection.exec_driver_sql(f"DROP SCHEMA {server_schema.SCHEMA} CASCADE")
    except DBAPIError as fault:
        raise in_our_words(fault) from fault


def lay_out_facts(connection: Connection) -> None:
    """Empty fact tables of this program, made again where they have another shape; on a server by their owner alone."""
    if not wrong_tables(connection):
        for table in Fact.metadata.tables.values():
            connection.execute(table.delete())
    elif connection.dialect.name == "sqlite":
        Fact.metadata.drop_all(connection)
        Fact.metadata.create_all(connection)
    else:
        server_schema.lay_out_facts(connection)


def guard_findings(connection: Connection) -> Iterator[Finding]:
    """Guards that are missing, changed or strange, and tables of another shape than they were made with."""
    yield from unwritable(connection)
    yield from _wrong(connection, Fact)


def damage(connection: Connection) -> Iterator[Finding]:
    """What is wrong with the file itself, and which rows an index of it hides; a server's files are its own affair."""
    if connection.dialect.name == "sqlite":
        yield from file_schema.damage(connection)


def unwritable(connection: Connection) -> Iterator[Finding]:
    """`guard_findings` without the fact tables, which may be another version's and are then made again."""
    yield from _schema(connection).strange(connection)
    yield from _wrong(connection, Permanent)


def wrong_tables(connection: Connection, names: Iterable[str] | None = None) -> tuple[str, ...]:
    """The fact tables (or those named) that are missing, or of another shape than this program's."""
    expected = list(Fact.metadata.tables if names is None else names)
    return _schema(connection).wrong_tables(connection, expected)


def named(connection: Connection, table: str) -> str:
    """A table's name as a statement written by hand must give it, so that no other one is meant."""
    return f"{'main' if connection.dialect.name == 'sqlite' else server_schema.SCHEMA}.{table}"


def _wrong(connection: Connection, base: type[Permanent | Fact]) -> Iterator[Finding]:
    for name in wrong_tables(connection, base.metadata.tables):
        yield Finding("table_changed", f"the table {name} is missing or has another shape", where=name)


class _Schema(Protocol):
    """What either database says of its schema."""

    def make(self, connection: Connection, /) -> None: ...
    def strange(self, connection: Connection, /) -> Iterator[Finding]: ...
    def wrong_tables(self, connection: Connection, expected: list[str], /) -> tuple[str, ...]: ...


def _schema(connection: Connection) -> _Schema:
    return file_schema if connection.dialect.name == "sqlite" else server_schema
