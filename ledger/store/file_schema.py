"""
What a job's file is made of: its tables, their indexes, its guards, and nothing else.

The schema of a file is compared, row by row, with that of a file freshly made by this program. So whatever else lies
in there is found, of whatever kind it says that it is: an index with a condition, a view, a virtual table, a
generated column, a trigger whose kind is spelled in capitals.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import NamedTuple

from sqlalchemy import Connection, Table, text
from sqlalchemy.exc import DBAPIError

from ledger.domain.errors import visible
from ledger.domain.finding import Finding
from ledger.store.tables import Fact, Permanent

GUARDS = {
    "journal_grows_by_one": """CREATE TRIGGER journal_grows_by_one BEFORE INSERT ON journal BEGIN
        SELECT RAISE(ABORT, 'the journal only grows by its next entry')
        WHERE NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM journal)
           OR EXISTS (SELECT 1 FROM journal WHERE hash = NEW.hash OR previous = NEW.previous); END""",
    "journal_keeps": """CREATE TRIGGER journal_keeps BEFORE UPDATE ON journal BEGIN
        SELECT RAISE(ABORT, 'the journal is never changed'); END""",
    "journal_stays": """CREATE TRIGGER journal_stays BEFORE DELETE ON journal BEGIN
        SELECT RAISE(ABORT, 'the journal is never shortened'); END""",
    "kept_file_once": """CREATE TRIGGER kept_file_once BEFORE INSERT ON kept_file BEGIN
        SELECT RAISE(ABORT, 'kept bytes are written once')
        WHERE EXISTS (SELECT 1 FROM kept_file WHERE sha256 = NEW.sha256); END""",
    "kept_file_keeps": """CREATE TRIGGER kept_file_keeps BEFORE UPDATE ON kept_file BEGIN
        SELECT RAISE(ABORT, 'kept bytes are never changed'); END""",
    "kept_file_stays": """CREATE TRIGGER kept_file_stays BEFORE DELETE ON kept_file BEGIN
        SELECT RAISE(ABORT, 'kept bytes are never removed'); END""",
}
_TABLES = {**Permanent.metadata.tables, **Fact.metadata.tables}
_ENCODING = "UTF-8"
_MOST = 20  # faults of a file that are told
_SPACE = re.compile(r"[ \t\r\n]+")  # what SQLite itself takes for space; a no-break space is a letter to it


class Piece(NamedTuple):
    """One row of a file's schema."""

    kind: str
    name: str
    table: str
    sql: str


def pieces(connection: Connection) -> list[Piece]:
    """Everything that the schema of a file holds, whatever it calls itself."""
    rows = connection.execute(text("SELECT type, name, tbl_name, sql FROM main.sqlite_master"))
    return [Piece(str(kind), str(name), str(table), _plain(sql)) for kind, name, table, sql in rows]


@cache
def as_made() -> tuple[Piece, ...]:
    """The schema of a file that this program has just made, in memory."""
    from sqlmodel import create_engine

    with create_engine("sqlite://").begin() as connection:
        make(connection)
        return tuple(pieces(connection))


def make(connection: Connection) -> None:
    """Put tables and guards into an empty file."""
    Permanent.metadata.create_all(connection, checkfirst=False)
    Fact.metadata.create_all(connection, checkfirst=False)
    for trigger in GUARDS.values():
        connection.exec_driver_sql(trigger)


def wrong_tables(connection: Connection, expected: list[str]) -> tuple[str, ...]:
    """Which of these tables are missing, or are not to the letter what this program makes, with their indexes."""
    have = pieces(connection)
    return tuple(n for n in expected if _of_table(have, n) != _of_table(as_made(), n))


def strange(connection: Connection) -> Iterator[Finding]:
    """Guards that are missing or changed, and whatever this program never made."""
    have, made = pieces(connection), set(as_made())
    encoding = str(connection.execute(text("PRAGMA main.encoding")).scalar())
    if encoding != _ENCODING:  # what is looked for in bytes would be read as other letters
        yield Finding(
            "schema_strange",
            f"the file holds its text as {visible(encoding)}, not {_ENCODING}",
            where="the file",
        )
    for name, sql in GUARDS.items():
        if Piece("trigger", name, sql.split(" ON ")[1].split()[0], _plain(sql)) not in have:
            yield Finding("trigger_gone", f"the guard {name} is missing or was changed", where=name)
    for piece in sorted(set(have) - made):
        if piece.name in GUARDS or (piece.kind == "table" and piece.name in _TABLES):
            continue  # told as a guard or table that is another
        code = "trigger_strange" if piece.kind.lower() == "trigger" else "schema_strange"
        words = f"a{'n' if piece.kind[:1] in 'aeiou' else ''} {visible(piece.kind)} {visible(piece.name)}"
        message = f"{words} on {visible(piece.table)} that this program never made"
        yield Finding(code, message, where=visible(piece.name))


def damage(connection: Connection) -> Iterator[Finding]:
    """What is wrong with the pages of a file, and which rows an index hides or makes up."""
    try:
        rows = connection.execute(text(f"PRAGMA main.integrity_check({_MOST})")).all()
        said = [str(line) for (line,) in rows]
    except DBAPIError as fault:
        said = [str(fault.orig)]
    if said == ["ok"]:
        return
    for line in said:
        yield Finding("file_damaged", f"the job's file is damaged: {visible(line)}", where="the file")
    for name, table in _TABLES.items():
        if name not in wrong_tables(connection, [name]):
            yield from _hidden(connection, table)


def _hidden(connection: Connection, table: Table) -> Iterator[Finding]:
    """Rows that a scan of a table and a look through one of its indexes do not both find."""
    for index, columns in _indexes(connection, table.name):
        keys = ", ".join(columns)
        scanned = f"SELECT {keys} FROM main.{table.name} NOT INDEXED"  # noqa: S608 - names of our own tables
        looked_up = f"SELECT {keys} FROM main.{table.name} INDEXED BY {index}"  # noqa: S608 - the same
        for one, other, words in (
            (scanned, looked_up, "is hidden by"),
            (looked_up, scanned, "is made up by"),
        ):
            try:
                rows = connection.execute(text(f"{one} EXCEPT {other} LIMIT {_MOST}")).all()
            except DBAPIError:
                return  # a page of it cannot be read, which was said
            for row in rows:
                named = ", ".join(visible(str(value)) for value in row)
                message = f"{table.name}: the row {named} {words} the index {index}"
                yield Finding("row_hidden", message, where=f"{table.name} {named}")


def _indexes(connection: Connection, table: str) -> list[tuple[str, list[str]]]:
    names = connection.execute(text(f"PRAGMA main.index_list({table})")).all()
    columns = {row[1]: connection.execute(text(f"PRAGMA main.index_info({row[1]})")).all() for row in names}
    return [(name, [str(row[2]) for row in rows]) for name, rows in columns.items()]


def _of_table(found: list[Piece] | tuple[Piece, ...], name: str) -> list[Piece]:
    """A table and the indexes that its own constraints make."""
    return sorted(
        p for p in found if p.table == name and (p.name == name or (p.kind == "index" and not p.sql))
    )


@lru_cache(512)
def _plain(sql: object) -> str:
    return _SPACE.sub(" ", str(sql)).strip() if sql is not None else ""
