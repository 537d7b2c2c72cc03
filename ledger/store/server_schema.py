"""
What a job on a server (PostgreSQL) is made of, in a schema of its own, and who may do what there.

Everything belongs to the owner. A workstation's role reads, writes facts, and adds to journal and kept files only
through two functions that run as the owner and take nothing but the next well-formed entry, and bytes under their own
digest. Such a role can make nothing in any schema that a session of this program searches: that is `pg_catalog` alone,
and every name and operator is looked for there, so none of somebody else's is ever run.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import cache
from importlib import resources

from sqlalchemy import Connection, Table, UniqueConstraint, text
from sqlalchemy.dialects import postgresql
from sqlalchemy.types import TypeEngine

from ledger.domain.errors import visible
from ledger.domain.finding import Finding
from ledger.store.tables import Fact, Permanent

SCHEMA = "fitup"
SEARCHED = (
    "pg_catalog, pg_temp"  # pg_temp is searched first unless it is named, and only for tables and types
)
ADDING = (
    "fitup.add_entry(integer, character varying, bytea, character varying, character varying)",
    "fitup.keep_file(character varying, bytea)",
)
_KEEPS = "FOR EACH ROW EXECUTE FUNCTION fitup.never_changes()"
_STAYS = "FOR EACH STATEMENT EXECUTE FUNCTION fitup.never_changes()"
_STAMP = (
    "CREATE TRIGGER stamp_is_here BEFORE INSERT OR UPDATE ON fitup.fact_stamp "
    "FOR EACH ROW EXECUTE FUNCTION fitup.stamp_is_here()"
)
_TRIGGERS = (
    (
        "CREATE TRIGGER journal_grows_by_one BEFORE INSERT ON fitup.journal "
        "FOR EACH ROW EXECUTE FUNCTION fitup.only_grows()"
    ),
    f"CREATE TRIGGER journal_keeps BEFORE DELETE OR UPDATE ON fitup.journal {_KEEPS}",
    f"CREATE TRIGGER journal_stays BEFORE TRUNCATE ON fitup.journal {_STAYS}",
    f"CREATE TRIGGER kept_file_keeps BEFORE DELETE OR UPDATE ON fitup.kept_file {_KEEPS}",
    f"CREATE TRIGGER kept_file_stays BEFORE TRUNCATE ON fitup.kept_file {_STAYS}",
    _STAMP,
)
_TABLES = {**Permanent.metadata.tables, **Fact.metadata.tables}
_GUARD_KINDS = ("trigger", "rule", "policy", "event trigger")
# Whatever hangs on the schema, directly or over something else; row types, the indexes behind constraints and the
# like are parts of what is told. Not null is told with its column (of PostgreSQL 18 it is a constraint as well).
# Casts and event triggers are in no schema; what is in pg_catalog and numbered from 16384 on was made by somebody
# (PostgreSQL manual, 68.2.2, OID assignment).
_OBJECTS = """
    WITH RECURSIVE found(classid, objid) AS (
        SELECT 'pg_namespace'::regclass::oid, oid FROM pg_namespace WHERE nspname = 'fitup'
        UNION SELECT d.classid, d.objid FROM pg_depend d
            JOIN found f ON d.refclassid = f.classid AND d.refobjid = f.objid
            WHERE NOT (d.deptype = 'i' AND d.classid IN ('pg_type'::regclass, 'pg_class'::regclass))
    ), ours AS (SELECT oid, nspowner FROM pg_namespace WHERE nspname = 'fitup'), every AS (
        SELECT classid, objid FROM found WHERE classid <> 'pg_namespace'::regclass
        UNION SELECT 'pg_cast'::regclass, oid FROM pg_cast WHERE oid >= 16384
        UNION SELECT 'pg_event_trigger'::regclass, oid FROM pg_event_trigger
        UNION SELECT 'pg_proc'::regclass, oid FROM pg_proc
            WHERE oid >= 16384 AND pronamespace = 'pg_catalog'::regnamespace
        UNION SELECT 'pg_operator'::regclass, oid FROM pg_operator
            WHERE oid >= 16384 AND oprnamespace = 'pg_catalog'::regnamespace
        UNION SELECT 'pg_type'::regclass, oid FROM pg_type
            WHERE oid >= 16384 AND typnamespace = 'pg_catalog'::regnamespace
    )
    SELECT i.type, CASE i.type WHEN 'function' THEN e.objid::regprocedure::text ELSE i.identity END, CASE e.classid
        WHEN 'pg_class'::regclass THEN (SELECT concat_ws(' ', c.relkind, c.relpersistence,
                CASE WHEN c.relrowsecurity OR c.relforcerowsecurity THEN 'row security' END,
                array_to_string(c.reloptions, ','),
                CASE WHEN c.relowner <> ours.nspowner THEN 'of ' || pg_get_userbyid(c.relowner) END)
            FROM pg_class c, ours WHERE c.oid = e.objid)
        WHEN 'pg_proc'::regclass THEN (SELECT concat_ws(' ',
                CASE WHEN p.prokind IN ('f', 'p') THEN pg_get_functiondef(p.oid) END,
                CASE WHEN p.proowner <> ours.nspowner THEN 'of ' || pg_get_userbyid(p.proowner) END)
            FROM pg_proc p, ours WHERE p.oid = e.objid)
        WHEN 'pg_trigger'::regclass THEN (SELECT pg_get_triggerdef(t.oid) || ' ' || t.tgenabled::text
            FROM pg_trigger t WHERE t.oid = e.objid)
        WHEN 'pg_constraint'::regclass THEN pg_get_constraintdef(e.objid)
        ELSE '' END
    FROM every e, pg_identify_object(e.classid, e.objid, 0) i
    WHERE NOT EXISTS (SELECT 1 FROM pg_depend d
            WHERE d.classid = e.classid AND d.objid = e.objid AND d.deptype = 'e')
        AND NOT EXISTS (SELECT 1 FROM pg_constraint c
            WHERE e.classid = 'pg_constraint'::regclass AND c.oid = e.objid AND c.contype = 'n')
        AND NOT EXISTS (SELECT 1 FROM pg_trigger t
            WHERE e.classid = 'pg_trigger'::regclass AND t.oid = e.objid AND t.tgisinternal)"""
_COLUMNS = """SELECT c.relname, a.attname, concat_ws(' ', format_type(a.atttypid, a.atttypmod),
        CASE WHEN a.attnotnull THEN 'not null' END, NULLIF(a.attidentity::text, ''), NULLIF(a.attgenerated::text, ''),
        CASE WHEN a.atthasdef THEN 'default' END, CASE WHEN a.attcollation <> t.typcollation THEN 'collated' END)
    FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid JOIN pg_type t ON t.oid = a.atttypid
    WHERE c.relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'fitup')
        AND c.relkind IN ('r', 'p', 'v', 'm', 'f') AND a.attnum > 0 AND NOT a.attisdropped"""
_PRIVILEGES = """
    WITH granted(what, acl, owner) AS (
        SELECT 'schema ' || nspname, nspacl, nspowner FROM pg_namespace WHERE nspname = 'fitup'
        UNION ALL SELECT c.relname, c.relacl, c.relowner FROM pg_class c
            WHERE c.relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'fitup')
        UNION ALL SELECT c.relname, a.attacl, c.relowner FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
            WHERE c.relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'fitup')
        UNION ALL SELECT p.proname, p.proacl, p.proowner FROM pg_proc p
            WHERE p.pronamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'fitup')
    ) SELECT DISTINCT g.what, x.privilege_type,
        CASE x.grantee WHEN 0 THEN 'everyone' ELSE pg_get_userbyid(x.grantee) END
    FROM granted g, aclexplode(g.acl) x WHERE x.grantee <> g.owner"""
_MAY = {
    "schema fitup": {"USAGE"},
    "add_entry": {"EXECUTE"},
    "keep_file": {"EXECUTE"},
    **{name: {"SELECT"} for name in Permanent.metadata.tables},
    **{name: {"SELECT", "INSERT", "UPDATE", "DELETE"} for name in Fact.metadata.tables},
}
_KINDS = {"VARCHAR": "character varying"}


def make(connection: Connection) -> None:
    """Put schema, tables, functions and guards into a database that has no such schema."""
    connection.exec_driver_sql(f"CREATE SCHEMA {SCHEMA}")
    Permanent.metadata.create_all(connection, checkfirst=False)
    Fact.metadata.create_all(connection, checkfirst=False)
    for function in _functions():
        connection.exec_driver_sql(function.replace("%", "%%"))  # else taken for a parameter
    connection.exec_driver_sql(f"REVOKE ALL ON ALL FUNCTIONS IN SCHEMA {SCHEMA} FROM PUBLIC")
    for trigger in _TRIGGERS:
        connection.exec_driver_sql(trigger)


def lay_out_facts(connection: Connection) -> None:
    """Make the fact tables again, with the guard of the stamp, for the roles that had them."""
    roles = connection.execute(
        text(
            "SELECT DISTINCT quote_ident(pg_get_userbyid(x.grantee)), p.proname IS NOT NULL "
            "FROM pg_class c CROSS JOIN aclexplode(c.relacl) x LEFT JOIN pg_proc p "
            "ON p.pronamespace = c.relnamespace AND p.proname = 'add_entry' "
            "AND has_function_privilege(x.grantee, p.oid, 'EXECUTE') "
            "WHERE c.relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = 'fitup') "
            "AND c.relname = 'journal' AND x.grantee NOT IN (0, c.relowner)"
        )
    ).all()
    Fact.metadata.drop_all(connection)
    Fact.metadata.create_all(connection)
    connection.exec_driver_sql(_STAMP)
    facts = ", ".join(f"{SCHEMA}.{name}" for name in Fact.metadata.tables)
    for role, adds in roles:
        may = "SELECT, INSERT, UPDATE, DELETE" if adds else "SELECT"
        connection.exec_driver_sql(f"GRANT {may} ON {facts} TO {role}")


def wrong_tables(connection: Connection, expected: Iterable[str]) -> tuple[str, ...]:
    """Which of these tables are missing, or have other columns or constraints than this program gives them."""
    have: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for table, column, kind in connection.execute(text(_COLUMNS)):
        have[table].add((column, kind))
    for kind, identity, definition in _objects(connection):
        if kind == "table constraint":
            name, _, table = identity.rpartition(" on ")
            have[table.removeprefix(f"{SCHEMA}.")].add((name, definition))
        elif kind == "table" and definition != "r p":
            have[identity.removeprefix(f"{SCHEMA}.")].add(("", definition))
    return tuple(n for n in expected if have[n] != _shape(n))


def strange(connection: Connection) -> Iterator[Finding]:
    """Guards that are missing or changed, whatever this program never made, and whoever may do more than a role may."""
    expected = _guards()
    for kind, identity, definition in _objects(connection):
        where = visible(identity.partition(" on ")[0])
        if (kind, identity) in expected:
            if definition != expected.pop((kind, identity)):
                name = where.partition("(")[0].removeprefix(f"{SCHEMA}.")
                yield Finding("trigger_gone", f"the guard {name} is missing or was changed", where=name)
        elif kind not in ("table", "table constraint") or identity.removeprefix(f"{SCHEMA}.") not in (
            *_TABLES,
            *_constraints(),
        ):
            code = "trigger_strange" if kind in _GUARD_KINDS else "schema_strange"
            yield Finding(
                code, f"a{_n(kind)} {kind} {visible(identity)} that this program never made", where=where
            )
    for _, identity in sorted(expected):
        name = identity.partition(" on ")[0].partition("(")[0].removeprefix(f"{SCHEMA}.")
        yield Finding("trigger_gone", f"the guard {name} is missing or was changed", where=name)
    for what, privilege, role in connection.execute(text(_PRIVILEGES)):
        if privilege not in _MAY.get(what, set()):
            message = (
                f"{visible(role)} may {privilege} on {visible(what)}, which no role needs: see fitup grants"
            )
            yield Finding("privilege_strange", message, where=visible(role))


def _objects(connection: Connection) -> list[tuple[str, str, str]]:
    found = connection.execute(text(_OBJECTS)).all()
    return [(str(kind), str(identity), _plain(definition)) for kind, identity, definition in found]


@cache
def _guards_as_made() -> dict[tuple[str, str], str]:
    triggers = {
        (
            "trigger",
            f"{sql.split()[2]} on {sql.split(' ON ')[1].split()[0]}",
        ): f"{sql} O"
        for sql in _TRIGGERS
    }
    return triggers | {("function", _identity(sql)): _plain(sql) for sql in _functions()}


def _guards() -> dict[tuple[str, str], str]:
    return dict(_guards_as_made())


def _identity(function: str) -> str:
    """What a server calls a function: its name and the types that it takes."""
    named, _, rest = function.removeprefix("CREATE OR REPLACE FUNCTION ").partition("(")
    takes = [one.split(maxsplit=1)[1] for one in _plain(rest.partition(")")[0]).split(", ") if one]
    return f"{named}({','.join(takes)})"


@cache
def _constraints() -> frozenset[str]:
    """Names of the constraints of this program's tables, as a server tells them."""
    return frozenset(
        f"{name} on {SCHEMA}.{table}"
        for table in _TABLES
        for name, kind in _shape(table)
        if "KEY" in kind or "UNIQUE" in kind
    )


@cache
def _shape(name: str) -> frozenset[tuple[str, str]]:
    """What a server tells of a table of this program: its columns, and what its constraints are on."""
    table: Table = _TABLES[name]
    columns = {(c.name, _kind(c.type) + ("" if c.nullable else " not null")) for c in table.columns}
    keys = ", ".join(c.name for c in table.primary_key.columns)
    unique = [[c.name for c in one.columns] for one in table.constraints if isinstance(one, UniqueConstraint)]
    made = {(f"{name}_{'_'.join(cs)}_key", f"UNIQUE ({', '.join(cs)})") for cs in unique}
    return frozenset(columns | made | {(f"{name}_pkey", f"PRIMARY KEY ({keys})")})


@cache
def _functions() -> tuple[str, ...]:
    """The statements that make the schema's functions."""
    script = resources.files(__package__).joinpath("server_functions.sql").read_text(encoding="utf-8")
    return tuple(
        one.strip()
        for one in re.findall(
            r"^CREATE OR REPLACE .*?\$function\$.*?\$function\$", script, re.MULTILINE | re.DOTALL
        )
    )


def _plain(sql: object) -> str:
    return re.sub(r"\s+", " ", str(sql or "")).strip()


def _n(word: str) -> str:
    return "n" if word[:1] in "aeiou" else ""


def _kind(column: TypeEngine[object]) -> str:
    written = column.compile(dialect=postgresql.dialect())  # type: ignore[no-untyped-call]  # SQLAlchemy's own
    return _KINDS.get(written, written.lower())
