"""
What keeps the permanent tables append-only, on either database, and whether it is still there.

Triggers refuse a change, a removal, and any insert but the next entry: so `INSERT OR REPLACE` is refused too, with
or without recursive triggers. They stop accidents; the chain and the signatures find fraud.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

from sqlalchemy import Connection, Engine, UniqueConstraint, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import DBAPIError
from sqlalchemy.schema import CreateTable
from sqlalchemy.types import TypeEngine

from ledger.domain.finding import Finding
from ledger.store.faults import in_our_words
from ledger.store.tables import Fact, Permanent

_SQLITE = {
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
# On PostgreSQL two workstations race under SERIALIZABLE, and its own constraints decide between them; so the trigger
# leaves a number taken by another workstation to the primary key and refuses only what is no next entry at all.
_FUNCTIONS = {
    "fitup_grows": """BEGIN
        IF NEW.seq > (SELECT COALESCE(MAX(seq), 0) + 1 FROM journal) OR NEW.seq < 1 THEN
            RAISE EXCEPTION 'the journal only grows by its next entry';
        END IF;
        RETURN NEW;
    END""",
    "fitup_keeps": """BEGIN
        RAISE EXCEPTION 'what is written in % is never changed or removed', TG_TABLE_NAME;
    END""",
}
_POSTGRES = {
    "journal_grows_by_one": "BEFORE INSERT ON journal FOR EACH ROW EXECUTE FUNCTION fitup_grows()",
    "journal_keeps": "BEFORE UPDATE OR DELETE ON journal FOR EACH ROW EXECUTE FUNCTION fitup_keeps()",
    "journal_stays": "BEFORE TRUNCATE ON journal FOR EACH STATEMENT EXECUTE FUNCTION fitup_keeps()",
    "kept_file_keeps": "BEFORE UPDATE OR DELETE ON kept_file FOR EACH ROW EXECUTE FUNCTION fitup_keeps()",
    "kept_file_stays": "BEFORE TRUNCATE ON kept_file FOR EACH STATEMENT EXECUTE FUNCTION fitup_keeps()",
}
_TABLES = {**Permanent.metadata.tables, **Fact.metadata.tables}
# Columns, constraints (of PostgreSQL 18, "not null" is one, and told with its column) and whatever else is unique.
_SHAPES = """SELECT table_name, column_name,
        data_type || CASE is_nullable WHEN 'NO' THEN ' not null' ELSE '' END
    FROM information_schema.columns WHERE table_schema = current_schema()
    UNION ALL SELECT t.relname, COALESCE((SELECT string_agg(a.attname, ',' ORDER BY k.place)
        FROM unnest(c.conkey) WITH ORDINALITY k(number, place)
        JOIN pg_attribute a ON a.attrelid = c.conrelid AND a.attnum = k.number), c.conname), c.contype::text
    FROM pg_constraint c JOIN pg_class t ON t.oid = c.conrelid
    WHERE t.relnamespace = current_schema()::regnamespace AND c.contype IN ('p', 'u', 'c', 'f', 'x')
    UNION ALL SELECT t.relname, i.relname, 'unique index'
    FROM pg_index x JOIN pg_class t ON t.oid = x.indrelid JOIN pg_class i ON i.oid = x.indexrelid
    WHERE t.relnamespace = current_schema()::regnamespace AND x.indisunique
        AND NOT EXISTS (SELECT 1 FROM pg_constraint c WHERE c.conindid = x.indexrelid)"""
_KINDS = {"VARCHAR": "character varying"}


def create_tables(engine: Engine) -> None:
    """
    The permanent tables with their guards, and empty fact tables: all or nothing.

    A table of one of these names that is there already is somebody else's, and refused.
    """
    try:
        with engine.begin() as connection:
            Permanent.metadata.create_all(connection, checkfirst=False)
            Fact.metadata.create_all(connection, checkfirst=False)
            _make_guards(connection)
    except DBAPIError as fault:
        raise in_our_words(fault) from fault


def drop_tables(engine: Engine) -> None:
    """Take a job that never came to be away again."""
    with engine.begin() as connection:
        _drop_guards(connection)
        Fact.metadata.drop_all(connection)
        Permanent.metadata.drop_all(connection)


def _make_guards(connection: Connection) -> None:
    """Put the guards on new permanent tables."""
    if connection.dialect.name == "sqlite":
        for trigger in _SQLITE.values():
            connection.exec_driver_sql(trigger)
        return
    for name, body in _FUNCTIONS.items():
        connection.execute(
            text(f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ {body} $$").columns()
        )
    for name, rest in _POSTGRES.items():
        connection.exec_driver_sql(f"CREATE TRIGGER {name} {rest}")


def _drop_guards(connection: Connection) -> None:
    """Take the functions of a job that never came to be away; its triggers go with the tables."""
    for name in _FUNCTIONS:
        connection.exec_driver_sql(f"DROP FUNCTION {name}() CASCADE")


def guard_findings(connection: Connection) -> Iterator[Finding]:
    """Guards that are missing, changed or strange, and tables of another shape than they were made with."""
    yield from trigger_findings(connection)
    for name in wrong_tables(connection, (*Permanent.metadata.tables, *Fact.metadata.tables)):
        yield Finding("table_changed", f"the table {name} is missing or has another shape", where=name)


def trigger_findings(connection: Connection) -> Iterator[Finding]:
    """Guards that are missing, changed or strange."""
    have, meant = _guards(connection)
    for name, sql in meant.items():
        if have.get(name) != sql:
            yield Finding("trigger_gone", f"the guard {name} is missing or was changed", where=name)
    for name in sorted(have.keys() - meant.keys()):
        yield Finding(
            "trigger_strange", f"a trigger, rule or policy {name} that this program never made", where=name
        )


def wrong_tables(connection: Connection, names: Iterable[str] | None = None) -> tuple[str, ...]:
    """The fact tables (or those named) that are missing, or of another shape than this program's."""
    expected = list(Fact.metadata.tables if names is None else names)
    if connection.dialect.name == "sqlite":
        rows = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'table'"))
        made = {name: _plain(sql) for name, sql in rows}
        return tuple(n for n in expected if made.get(n) != _as_made()[n])
    found: dict[str, set[tuple[str, str]]] = {}
    for name, what, kind in connection.execute(text(_SHAPES)):
        found.setdefault(name, set()).add((what, kind))
    return tuple(n for n in expected if found.get(n) != _shape(n))


def _guards(connection: Connection) -> tuple[dict[str, str], dict[str, str]]:
    """What guards there are and what there should be, by name."""
    if connection.dialect.name == "sqlite":
        rows = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
        return {name: _plain(sql) for name, sql in rows}, {n: _plain(s) for n, s in _SQLITE.items()}
    rows = connection.execute(
        text(
            "SELECT t.tgname, pg_get_triggerdef(t.oid) || ' ' || t.tgenabled::text, quote_ident(current_schema()) "
            "FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE c.relnamespace = current_schema()::regnamespace AND NOT t.tgisinternal "
            "UNION ALL SELECT proname, prosrc, '' FROM pg_proc "
            "WHERE pronamespace = current_schema()::regnamespace AND proname LIKE 'fitup%' "
            "UNION ALL SELECT rulename, definition, '' FROM pg_rules WHERE schemaname = current_schema() "
            "UNION ALL SELECT policyname, cmd, '' FROM pg_policies WHERE schemaname = current_schema()"
        )
    )
    have = {
        name: _plain(sql).replace(f"{schema}.", "") if schema else _plain(sql) for name, sql, schema in rows
    }
    meant = {n: f"CREATE TRIGGER {n} {_ordered(rest)} O" for n, rest in _POSTGRES.items()}
    return have, meant | {n: _plain(body) for n, body in _FUNCTIONS.items()}


@cache
def _as_made() -> dict[str, str]:
    """What SQLite keeps of how each table was made."""
    return {n: _plain(str(CreateTable(t).compile(dialect=sqlite.dialect()))) for n, t in _TABLES.items()}


@cache
def _shape(name: str) -> set[tuple[str, str]]:
    """What a server tells of a table of this program: its columns, and what its constraints are on."""
    table = _TABLES[name]
    shape = {(c.name, _kind(c.type) + ("" if c.nullable else " not null")) for c in table.columns}
    shape.add((",".join(c.name for c in table.primary_key.columns), "p"))
    unique = (c for c in table.constraints if isinstance(c, UniqueConstraint))
    return shape | {(",".join(c.name for c in one.columns), "u") for one in unique}


def _ordered(rest: str) -> str:
    return rest.replace("UPDATE OR DELETE", "DELETE OR UPDATE")  # as the server spells it


def _plain(sql: str) -> str:
    return " ".join(sql.split())


def _kind(column: TypeEngine[object]) -> str:
    written = column.compile(dialect=postgresql.dialect())  # type: ignore[no-untyped-call]  # SQLAlchemy's own
    return _KINDS.get(written, written.lower())
