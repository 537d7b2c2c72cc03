"""
Attacks on a job on a server, one name an attack: by a workstation's role, and by whoever may make things there.

What such a role may do at all is tested as well: read, write facts, add the next well-formed entry.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import random

import psycopg
import pytest
from small_job import answer, ask, small_job

from ledger.acts.base import make
from ledger.acts.parts import RecordPart
from ledger.domain.canonical import canonical
from ledger.domain.errors import FitupError, JobBusy, Tampered
from ledger.domain.sealed import row_hash
from ledger.job import Job
from ledger.release.custody import examine, take_out
from ledger.store.grants import grants
from ledger.store.journal import now
from ledger.store.place import connect

pytestmark = pytest.mark.usefixtures("server")
ROUNDS = int(os.environ.get("FITUP_ROUNDS", "1"))


def raw_at(address):
    return psycopg.connect(
        address.replace("+psycopg", ""), autocommit=True, options="-c search_path=fitup,public"
    )


@pytest.fixture(scope="module")
def made(server, tmp_path_factory):
    """A job on a server, closed again, as a template; and the role that may only add to it."""
    with pytest.MonkeyPatch.context() as patch, raw_at(server) as raw:
        patch.setenv("FITUP_KEYS", str(tmp_path_factory.mktemp("keys")))
        raw.execute("CREATE DATABASE attacked")
        raw.execute("CREATE ROLE adding LOGIN")
        address = server.replace("/postgres?", "/attacked?")
        with small_job(address, now) as job, job.store.writing() as facts:
            job.store.keep(facts, b"kept")
        with raw_at(address) as owner:
            owner.execute(grants("adding"))
        yield "attacked"
        raw.execute("DROP DATABASE attacked WITH (FORCE)")
        raw.execute("DROP ROLE adding")


@pytest.fixture
def shared(server, made):
    """A copy of that job: its owner's address."""
    with raw_at(server) as raw:
        raw.execute("CREATE DATABASE copy_of_attacked TEMPLATE attacked STRATEGY file_copy")
        yield server.replace("/postgres?", "/copy_of_attacked?")
        raw.execute("DROP DATABASE copy_of_attacked WITH (FORCE)")


@pytest.fixture
def role(shared):
    """The address of a workstation whose role may only add."""
    return shared.replace("postgres:@", "adding:@")


@pytest.mark.parametrize(
    "script",
    [
        "CREATE TABLE fitup.sly (a int)",
        "CREATE TABLE public.journal (a int)",
        "CREATE FUNCTION fitup.sly() RETURNS int LANGUAGE sql AS 'SELECT 1'",
        "CREATE FUNCTION public.sly() RETURNS int LANGUAGE sql AS 'SELECT 1'",
        "CREATE OPERATOR public.= (LEFTARG = varchar, RIGHTARG = varchar, FUNCTION = public.sly)",
        "CREATE DOMAIN public.sly AS text",
        "CREATE VIEW fitup.sly AS SELECT 1",
        "CREATE SCHEMA sly",
        "CREATE CAST (varchar AS bytea) WITHOUT FUNCTION",
        "CREATE INDEX sly ON fitup.fact_part (title)",
        "CREATE RULE sly AS ON INSERT TO fitup.fact_part DO INSTEAD NOTHING",
        "CREATE POLICY sly ON fitup.fact_part USING (false)",
        "ALTER TABLE fitup.fact_part ALTER title SET DEFAULT 'sly'",
        "ALTER TABLE fitup.fact_part ENABLE ROW LEVEL SECURITY",
        "DROP TABLE fitup.fact_part",
        "TRUNCATE fitup.fact_part",
        "INSERT INTO fitup.journal SELECT 9, hash, body, 'ff', '' FROM fitup.journal WHERE seq = 8",
        "INSERT INTO fitup.kept_file VALUES ('00', '')",
        "CREATE TRIGGER sly BEFORE INSERT ON fitup.fact_part FOR EACH ROW EXECUTE FUNCTION fitup.never_changes()",
        "BEGIN; LOCK TABLE fitup.journal IN ACCESS EXCLUSIVE MODE",
        "ALTER FUNCTION fitup.add_entry SECURITY INVOKER",
    ],
)
def test_a_role_that_may_add_makes_takes_and_changes_nothing_else(role, script):
    with raw_at(role) as raw, pytest.raises(psycopg.errors.InsufficientPrivilege):
        raw.execute(script)


def test_a_role_that_may_add_works_and_its_job_stays_intact(role, shared):
    with Job(role, ask) as job:
        answer(job)
        with job.store.writing() as facts:
            job.store.keep(facts, b"more")
        assert job.verify() is not None
    assert examine(role).whole
    assert examine(shared).whole


_BODY = {
    "act": {"kind": "ask_question"},
    "at": "2026-01-01T00:00:00Z",
    "by": "Mira",
    "program": "0.2.0",
    "seq": 9,
}


def _forged(shared, change=lambda row: None, **said):
    """The next entry of a job as a stranger may write it, well formed but for what is changed."""
    with raw_at(shared) as raw:
        ((previous, first),) = raw.execute(
            "SELECT a.hash, b.body FROM journal a, journal b WHERE a.seq = 8 AND b.seq = 1"
        ).fetchall()
    body = {**_BODY, "job": json.loads(first)["job"], **said}
    row = {
        "seq": 9,
        "previous": previous,
        "body": canonical({k: v for k, v in body.items() if v is not None}),
    }
    row["signature"] = ""
    change(row)
    if "hash" not in row:
        row["hash"] = row_hash(row["previous"], row["body"], row["signature"])
    return [row[n] for n in ("seq", "previous", "body", "hash", "signature")]


def _bytes(data):
    return lambda row: row.update(body=data)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda row: row.update(seq=10), {"seq": 10}),
        (lambda row: row.update(seq=-(2**31)), {"seq": -(2**31)}),
        (lambda row: row.update(seq=8), {"seq": 8}),
        (lambda row: row.update(previous="0" * 64), {}),
        (lambda row: row.update(hash="f" * 64), {}),
        (lambda row: row.update(signature="ab"), {}),
        (lambda row: row.update(signature="zz", hash="f" * 64), {}),
        (_bytes(b""), {}),
        (_bytes(b"\xff\xfe"), {}),
        (_bytes(b"{"), {}),
        (_bytes(b"[]"), {}),
        (_bytes(b"{}"), {}),
        (_bytes(b"[" * 10_000 + b"]" * 10_000), {}),
        (lambda _row: None, {"job": "another"}),
        (lambda _row: None, {"seq": 8}),
        (lambda _row: None, {"seq": "9"}),
        (lambda _row: None, {"act": None}),
        (lambda _row: None, {"act": {}}),
        (lambda _row: None, {"act": {"kind": 1}}),
        (lambda _row: None, {"at": "today"}),
        (lambda _row: None, {"by": 1}),
        (lambda _row: None, {"more": 1}),
    ],
)
def test_a_garbage_entry_is_not_taken(role, shared, change, said):
    row = _forged(shared, change, **said)
    with raw_at(role) as raw, pytest.raises(psycopg.Error):
        raw.execute("SELECT fitup.add_entry(%s, %s, %s, %s, %s)", row)
    with raw_at(shared) as raw:
        assert raw.execute("SELECT COUNT(*) FROM journal").fetchone() == (8,)


def test_an_entry_that_is_well_formed_is_taken_whoever_writes_it(role, shared):
    """What it says is judged where the journal is followed, not by the database."""
    with raw_at(role) as raw:
        raw.execute("SELECT fitup.add_entry(%s, %s, %s, %s, %s)", _forged(shared))
    with raw_at(shared) as raw:
        assert raw.execute("SELECT COUNT(*) FROM journal").fetchone() == (9,)
    assert ("entry_set_aside", "entry 9") in {(f.code, f.where) for f in examine(shared).problems}


def test_kept_bytes_under_another_name_are_not_taken(role):
    with raw_at(role) as raw, pytest.raises(psycopg.errors.RaiseException, match="named by their SHA-256"):
        raw.execute("SELECT fitup.keep_file(%s, %s)", (hashlib.sha256(b"a").hexdigest(), b"b"))


@pytest.mark.parametrize(
    "script",
    ["SELECT pg_advisory_lock(1718187125, 1)", "BEGIN; LOCK TABLE fitup.fact_part IN EXCLUSIVE MODE"],
)
def test_a_role_can_hold_the_others_up_and_they_are_told(role, shared, monkeypatch, script):
    monkeypatch.setattr("ledger.store.place.PATIENCE", "200ms")
    with raw_at(role) as raw, Job(shared, ask) as job:
        raw.execute(script)
        with pytest.raises(JobBusy, match="another workstation holds the job"):
            job.do(make(RecordPart, number="P9", title="nut", form="bought"), by="Mira")


@pytest.mark.parametrize(
    "script",
    [
        "UPDATE fitup.fact_stamp SET seq = 1000000",
        "UPDATE fitup.fact_stamp SET seal = repeat('f', 64)",
        "INSERT INTO fitup.fact_stamp VALUES (2, '', -1, '', '')",
    ],
)
def test_a_stamp_that_would_have_everybody_stop_is_not_taken(role, script):
    with raw_at(role) as raw, pytest.raises(psycopg.errors.RaiseException, match="an entry of the journal"):
        raw.execute(script)


def test_a_stamp_of_a_newer_program_that_wrote_no_entry_stops_nobody(role, shared):
    with raw_at(role) as raw:
        raw.execute("UPDATE fitup.fact_stamp SET writer = '99.0.0'")
    with Job(shared, ask) as job:
        assert answer(job) == 9


def test_a_false_fact_of_a_role_is_named_and_export_goes_on(role, shared, tmp_path):
    with raw_at(role) as raw:
        raw.execute("UPDATE fitup.fact_question SET holds_up = 'garbage'")
        raw.execute("DELETE FROM fitup.fact_dimension WHERE number = 'P1'")
    wrong = {(f.code, f.where) for f in examine(shared).problems}
    assert ("fact_changed", "fact_dimension P1, A, length") in wrong
    with Job(shared, ask) as job:
        job.export(tmp_path / "out")
    with Job.bring_in(str(tmp_path / "again.db"), tmp_path / "out", ask) as again:
        assert {f.severity for f in again.verify()} == {"note"}


_LOG = (
    "CREATE TABLE public.ran (what text); "
    "CREATE FUNCTION public.sly(a varchar, b varchar) RETURNS bool LANGUAGE plpgsql AS "
    "$$ BEGIN INSERT INTO public.ran VALUES ('operator'); RETURN false; END $$; "
    "CREATE FUNCTION public.sly(a text) RETURNS bool LANGUAGE plpgsql AS "
    "$$ BEGIN INSERT INTO public.ran VALUES ('check'); RETURN true; END $$; "
    "CREATE FUNCTION public.sly(a bytea) RETURNS bytea LANGUAGE plpgsql AS "
    "$$ BEGIN INSERT INTO public.ran VALUES ('function'); RETURN a; END $$; "
    "CREATE FUNCTION public.sly() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN INSERT INTO public.ran VALUES ('trigger'); RETURN NEW; END $$; "
)


def _ran(address):
    with raw_at(address) as raw:
        return raw.execute("SELECT * FROM public.ran").fetchall()


def test_an_operator_of_somebody_elses_never_runs(shared):
    with raw_at(shared) as raw:
        raw.execute(
            _LOG + "CREATE OPERATOR public.= (LEFTARG = varchar, RIGHTARG = varchar, FUNCTION = public.sly); "
            "CREATE FUNCTION public.convert_from(a bytea, b text) RETURNS text LANGUAGE plpgsql AS "
            "$$ BEGIN INSERT INTO public.ran VALUES ('function'); RETURN ''; END $$; "
            "ALTER ROLE postgres SET search_path = public, pg_catalog"
        )
    try:
        assert examine(shared).whole
        with Job(shared, ask) as job:
            assert answer(job) == 9
            assert job.part("P0").title == "stud"
        assert _ran(shared) == []
    finally:
        with raw_at(shared) as raw:
            raw.execute("ALTER ROLE postgres RESET search_path")


def test_a_domain_whose_check_is_a_function_is_named_and_never_runs(shared):
    with raw_at(shared) as raw:
        raw.execute(
            _LOG + "CREATE DOMAIN public.sly_text AS varchar CHECK (public.sly(VALUE::text)); "
            "ALTER TABLE fact_question ALTER answer TYPE public.sly_text; DELETE FROM public.ran"
        )
    assert ("table_changed", "fact_question") in {(f.code, f.where) for f in examine(shared).problems}
    with Job(shared, ask) as job:
        answer(job)
    assert _ran(shared) == []
    assert examine(shared).whole


STRANGE = {
    "function": ("CREATE FUNCTION fitup.sly() RETURNS int LANGUAGE sql AS 'SELECT 1'", "fitup.sly()"),
    "operator": (
        _LOG + "CREATE OPERATOR fitup.= (LEFTARG = varchar, RIGHTARG = varchar, FUNCTION = public.sly)",
        "fitup.=",
    ),
    "operator elsewhere": (
        _LOG + "CREATE OPERATOR pg_catalog.= (LEFTARG = varchar, RIGHTARG = varchar, FUNCTION = public.sly)",
        "pg_catalog.=",
    ),
    "domain": ("CREATE DOMAIN fitup.sly AS text", "fitup.sly"),
    "type": ("CREATE TYPE fitup.sly AS ENUM ('a')", "fitup.sly"),
    "cast": (
        "CREATE CAST (bytea AS varchar) WITHOUT FUNCTION AS IMPLICIT",
        "(pg_catalog.bytea AS",
    ),
    "rule": ("CREATE RULE sly AS ON UPDATE TO fact_part DO ALSO SELECT 1", "sly"),
    "trigger": (
        _LOG + "CREATE TRIGGER sly AFTER INSERT ON fact_part FOR EACH ROW EXECUTE FUNCTION public.sly()",
        "sly",
    ),
    "event trigger": (
        """CREATE FUNCTION public.e() RETURNS event_trigger LANGUAGE plpgsql AS $$ BEGIN END $$;
        CREATE EVENT TRIGGER sly ON sql_drop EXECUTE FUNCTION public.e()""",
        "sly",
    ),
    "index": ("CREATE INDEX sly ON fact_part (title)", "fitup.sly"),
    "partial index": ("CREATE INDEX sly ON fact_part (title) WHERE locked", "fitup.sly"),
    "policy": ("CREATE POLICY sly ON fact_part USING (false)", "sly"),
    "default": ("ALTER TABLE fact_part ALTER title SET DEFAULT 'sly'", "for fitup.fact_part.title"),
    "view": ("CREATE VIEW fitup.sly AS SELECT 1", "fitup.sly"),
    "materialized view": ("CREATE MATERIALIZED VIEW fitup.sly AS SELECT 1", "fitup.sly"),
    "table": ("CREATE TABLE fitup.sly (a int)", "fitup.sly"),
    "child table": ("CREATE TABLE public.sly () INHERITS (fitup.fact_part)", "public.sly"),
    "sequence": ("CREATE SEQUENCE fitup.sly", "fitup.sly"),
    "aggregate": ("CREATE AGGREGATE fitup.sly (int) (SFUNC = int4pl, STYPE = int)", "fitup.sly(integer)"),
    "collation": ('CREATE COLLATION fitup.sly FROM "C"', "fitup.sly"),
    "row security": ("ALTER TABLE fact_part ENABLE ROW LEVEL SECURITY", "fact_part"),
    "unlogged": ("ALTER TABLE fact_part SET UNLOGGED", "fact_part"),
    "generated column": ("ALTER TABLE fact_part ADD g int GENERATED ALWAYS AS (1) STORED", "fact_part"),
    "column of another type": ("ALTER TABLE fact_part ALTER title TYPE text", "fact_part"),
    "column with a collation": ('ALTER TABLE fact_part ALTER title TYPE varchar COLLATE "C"', "fact_part"),
    "exclusion": ("ALTER TABLE fact_part ADD EXCLUDE (number WITH =, revision WITH =)", "fact_part"),
    "foreign key": (
        "ALTER TABLE fact_lock ADD FOREIGN KEY (number, revision) REFERENCES fact_part",
        "fact_lock",
    ),
    "function made over": (
        """CREATE OR REPLACE FUNCTION fitup.keep_file(new_sha256 varchar, new_data bytea) RETURNS void
        LANGUAGE plpgsql SECURITY DEFINER AS $$ BEGIN END $$""",
        "keep_file",
    ),
    "function searching elsewhere": ("ALTER FUNCTION fitup.add_entry RESET search_path", "add_entry"),
    "owner of a table": ("ALTER TABLE fact_part OWNER TO adding", "fact_part"),
    "create for a role": ("GRANT CREATE ON SCHEMA fitup TO adding", "adding"),
    "triggers for a role": ("GRANT TRIGGER ON fact_part TO adding", "adding"),
    "inserts for everyone": ("GRANT INSERT ON journal TO PUBLIC", "everyone"),
    "a column for a role": ("GRANT UPDATE (body) ON journal TO adding", "adding"),
}


@pytest.mark.parametrize("kind", STRANGE)
def test_whatever_the_program_did_not_make_is_named_and_nothing_is_written(shared, kind):
    script, name = STRANGE[kind]
    with Job(shared, ask) as job:
        with raw_at(shared) as raw:
            raw.execute(script)
        seen = examine(shared)
        assert not seen.whole
        assert any(f.where.startswith(name) for f in seen.problems), seen.problems
        with pytest.raises(FitupError):
            answer(job)


_OPERATORS = ("=", "<>", "<", "||", "~")
_KINDS = ("varchar", "text", "integer", "bytea")


def forged_schema(raw, draw):
    """A statement that puts something of its own into the schema, or where its tables could be led by it."""
    tables = [
        t for (t,) in raw.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'fitup' ORDER BY 1")
    ]
    table = draw.choice(tables)
    query = "SELECT attname, format_type(atttypid, -1) FROM pg_attribute WHERE attrelid = %s::regclass AND attnum > 0"
    columns = raw.execute(query, (f"fitup.{table}",)).fetchall()
    column, kind = draw.choice(sorted(columns))
    named, where = f'"{column}"', draw.choice(("fitup", "pg_catalog"))
    left, right = draw.choice(_KINDS), draw.choice(_KINDS)
    when = f"{draw.choice(('BEFORE', 'AFTER'))} {draw.choice(('INSERT', 'UPDATE', 'DELETE'))}"
    operator = (
        f"CREATE FUNCTION {where}.odd(a {left}, b {right}) RETURNS bool LANGUAGE sql AS 'SELECT true'; "
        f"CREATE OPERATOR {where}.{draw.choice(_OPERATORS)} "
        f"(LEFTARG = {left}, RIGHTARG = {right}, FUNCTION = {where}.odd)"
    )
    cast = (
        f"CREATE CAST ({draw.choice(('bytea AS varchar', 'bytea AS text'))}) WITHOUT FUNCTION AS ASSIGNMENT"
    )
    privilege, to = draw.choice(("TRUNCATE", "TRIGGER", "REFERENCES")), draw.choice(("PUBLIC", "adding"))
    granted = f"GRANT {privilege} ON {table} TO {to}"
    return draw.choice(
        (
            f"CREATE INDEX sly ON {table} ({named}) {draw.choice(('', f'WHERE {named} IS NULL'))}",
            f"CREATE TRIGGER sly {when} ON {table} FOR EACH ROW EXECUTE FUNCTION public.sly()",
            f"CREATE RULE sly AS ON {when.split()[1]} TO {table} DO ALSO SELECT 1",
            f"CREATE POLICY sly ON {table} USING ({draw.choice(('true', 'false'))})",
            f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY",
            f"ALTER TABLE {table} ALTER {named} SET DEFAULT NULL; ALTER TABLE {table} ADD sly integer DEFAULT 1",
            f"ALTER TABLE {table} ADD CHECK ({named} IS NOT NULL)",
            f"CREATE DOMAIN public.odd AS {kind}; ALTER TABLE {table} ALTER {named} TYPE public.odd",
            f"CREATE DOMAIN fitup.odd AS {kind}",
            f"CREATE VIEW fitup.odd AS SELECT * FROM {table}",
            operator,
            cast,
            granted,
        )
    )


@pytest.mark.parametrize("seed", range(12 * ROUNDS))
def test_a_schema_altered_at_random_is_found_and_nothing_of_it_runs(shared, seed):
    draw = random.Random(seed)
    with raw_at(shared) as raw:
        raw.execute(_LOG)
        while True:
            script = forged_schema(raw, draw)
            try:
                raw.execute(script)
            except psycopg.Error:  # the server itself allows no such thing
                raw.rollback()
                continue
            break
        raw.execute("DELETE FROM public.ran")
    assert not examine(shared).whole, script
    with contextlib.suppress(FitupError), Job(shared, ask) as job:
        answer(job)
        assert {f.severity for f in job.verify()} <= {"note"}, (
            script
        )  # what was odd about the facts went with their tables
    assert _ran(shared) == [], script


def test_a_row_that_reads_as_no_entry_stops_nothing_but_itself(shared, tmp_path):
    """By the owner, with the guards asleep; export and import say which line it is."""
    with raw_at(shared) as raw:
        raw.execute("SET session_replication_role = replica")
        raw.execute(
            "INSERT INTO journal SELECT 9, hash, '\\x00ff', repeat('f', 64), '' FROM journal WHERE seq = 8"
        )
    assert ("entry_changed", "entry 9") in {(f.code, f.where) for f in examine(shared).problems}
    with pytest.raises(Tampered, match="entry 9 does not read"):
        take_out(shared, tmp_path / "out")
    with pytest.raises(Tampered, match="line 9"):
        Job.bring_in(str(tmp_path / "again.db"), tmp_path / "out", ask)


def test_a_session_searches_pg_catalog_alone(shared):
    engine = connect(shared)
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SHOW search_path").scalar() == "pg_catalog, pg_temp"
    engine.dispose()
