"""
One row of a table written in one statement, whether its key is there already or not.

The object-relational way asks for the row first and then writes it: two statements and much work for each of the many
rows that acts and replay write. A row that the session holds an object of still goes that way, so that none of its
objects is out of date.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm.util import identity_key
from sqlmodel import Session, SQLModel


def put_row(facts: Session, row: SQLModel) -> None:
    """Write a whole row, new or in the place of the one with the same key."""
    kind = type(row)
    facts.flush()
    values = {name: getattr(row, name) for name in kind.model_fields}
    if facts.identity_map.get(identity_key(instance=row)) is not None:
        facts.merge(row)
        facts.flush()
        return
    where = facts.connection(bind_arguments={"mapper": kind})
    if where.dialect.name != "sqlite":
        where.execute(_upsert(kind, where.dialect.name), values)
        return
    statement, names = _as_text(kind)
    where.exec_driver_sql(statement, tuple(values[name] for name in names))


@cache
def _as_text(kind: type[SQLModel]) -> tuple[str, tuple[str, ...]]:
    """The statement as SQLite reads it, with its columns in order: replay writes the same ones again and again."""
    made = _upsert(kind, "sqlite").compile(dialect=sqlite.dialect())
    return str(made), tuple(made.positiontup)


@cache
def _upsert(kind: type[SQLModel], dialect: str) -> Any:
    """The statement for a table: names of columns are those of the fields."""
    table = kind.__table__  # type: ignore[attr-defined]  # a mapped class has it at run time
    insert = (sqlite if dialect == "sqlite" else postgresql).insert(table)
    keys = [c.name for c in table.primary_key]
    rest = {c.name: insert.excluded[c.name] for c in table.columns if c.name not in keys}
    return insert.on_conflict_do_update(index_elements=keys, set_=rest)
