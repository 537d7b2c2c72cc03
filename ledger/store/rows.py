"""
Rows of the fact tables, written and looked up in one statement each.

The object-relational way asks for a row before it writes one, and keeps an object of each that it has read: much work
for the many rows that acts and replay go through. What is looked up here is a value of its own; to change the row,
another is put in its place. A row that the session holds an object of still goes the other way, so that none of its
objects is out of date. Tables in memory (`ledger.store.scratch`) are asked with no layer between.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from operator import itemgetter
from typing import Any, NamedTuple, TypeVar

from sqlalchemy import Boolean, Connection
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm.util import identity_key
from sqlmodel import Session, SQLModel, select

from ledger.store.tables import as_pydantic_has_it

T = TypeVar("T", bound=SQLModel)
IN_MEMORY = "fitup in memory"  # where a session whose facts are in memory has the driver's own connection
TOLD = "fitup rows told"  # where a session has what is told of every row that is put here, which no flush of it sees


class _Columns(NamedTuple):
    """The names of a table's columns, of those of its key, and of those that hold yes or no."""

    all: tuple[str, ...]
    key: tuple[str, ...]
    yes_or_no: tuple[str, ...]


def put_row(facts: Session, row: SQLModel) -> None:
    """Write a whole row, new or in the place of the one with the same key."""
    kind = type(row)
    facts.flush()
    if len(facts.identity_map) and facts.identity_map.get(identity_key(instance=row)) is not None:
        facts.merge(row)
        facts.flush()
        return
    if (told := facts.info.get(TOLD)) is not None:
        told(row)
    asked = _asked(facts, kind)
    if isinstance(asked, Connection):
        asked.execute(_upsert(kind, asked.dialect.name), {n: getattr(row, n) for n in kind.model_fields})
        return
    statement, names, values = _as_text(kind)
    try:
        asked(statement, values(row.__dict__))
    except KeyError:  # one that a session holds and has not read
        asked(statement, tuple([getattr(row, name) for name in names]))


def row_with(facts: Session, kind: type[T], *key: object) -> T | None:
    """The row with this key; None where there is none."""
    same: dict[str, Any] = dict(zip(_columns(kind).key, key, strict=True))
    found = rows_with(facts, kind, **same)
    return found[0] if found else None


def the_row(facts: Session, kind: type[T], *key: object) -> T:
    """The one row with this key; of a table that has one row, with none. Raises LookupError where it is not there."""
    found = row_with(facts, kind, *key) if key else next(iter(rows_with(facts, kind)), None)
    if found is None:
        raise LookupError(f"{kind.__tablename__} has no row {key}")
    return found


def rows_with(facts: Session, kind: type[T], *, by: str = "", **same: object) -> list[T]:
    """Every row whose columns hold these values, in order of another column."""
    asked = _asked(facts, kind)
    if isinstance(asked, Connection):
        query = select(kind).filter_by(**same)
        return list(facts.exec(query.order_by(by) if by else query))
    facts.flush()
    names, values = tuple(same), tuple(same.values())
    found = asked(_look_up(kind, names, ""), values).fetchall()
    if by and len(found) > 1:  # to put one wide row in order costs more than to look it up
        found = asked(_look_up(kind, names, by), values).fetchall()
    return [_value(kind, values) for values in found] if found else []


def _value(kind: type[T], values: Iterable[Any]) -> T:
    """A row that no session knows, as it lies in the table."""
    names, _, yes_or_no = _columns(kind)
    row = object.__new__(kind)
    said = row.__dict__
    said.update(zip(names, values, strict=True))
    for name in yes_or_no:
        said[name] = bool(said[name])
    as_pydantic_has_it(row, kind)
    return row


def _asked(facts: Session, kind: type[SQLModel]) -> Callable[[str, tuple[Any, ...]], Any] | Connection:
    """What runs a statement of SQLite's on the tables of this kind; of a server, the connection."""
    if (memory := facts.info.get(IN_MEMORY)) is not None:
        return memory.execute  # type: ignore[no-any-return]  # sqlite3's own
    where = facts.connection(bind_arguments={"mapper": kind})
    return where.exec_driver_sql if where.dialect.name == "sqlite" else where


def key_of(row: SQLModel) -> tuple[object, ...]:
    """The key of a row, in order of its table."""
    return tuple(getattr(row, name) for name in _columns(type(row)).key)


@cache
def _columns(kind: type[SQLModel]) -> _Columns:
    table = kind.__table__  # type: ignore[attr-defined]  # a mapped class has it at run time
    return _Columns(
        tuple(c.name for c in table.columns),
        tuple(c.name for c in table.primary_key),
        tuple(c.name for c in table.columns if isinstance(c.type, Boolean)),
    )


@cache
def _look_up(kind: type[SQLModel], same: tuple[str, ...], by: str) -> str:
    """The statement as SQLite reads it. The names are our own."""
    table, key = kind.__tablename__, " AND ".join(f'"{name}" = ?' for name in same)
    listed = ", ".join(f'"{name}"' for name in _columns(kind).all)
    order = f' ORDER BY "{by}"' if by else ""
    return f'SELECT {listed} FROM "{table}"{" WHERE " if key else ""}{key}{order}'  # noqa: S608 - our own names


@cache
def _as_text(kind: type[SQLModel]) -> tuple[str, tuple[str, ...], itemgetter[tuple[Any, ...]]]:
    """The statement as SQLite reads it, its columns in order, and what takes them out of a row in one go."""
    made = _upsert(kind, "sqlite").compile(dialect=sqlite.dialect())
    return str(made), tuple(made.positiontup), itemgetter(*made.positiontup)


@cache
def _upsert(kind: type[SQLModel], dialect: str) -> Any:
    """The statement for a table: names of columns are those of the fields."""
    table = kind.__table__  # type: ignore[attr-defined]  # a mapped class has it at run time
    insert = (sqlite if dialect == "sqlite" else postgresql).insert(table)
    keys = [c.name for c in table.primary_key]
    rest = {c.name: insert.excluded[c.name] for c in table.columns if c.name not in keys}
    return insert.on_conflict_do_update(index_elements=keys, set_=rest)
