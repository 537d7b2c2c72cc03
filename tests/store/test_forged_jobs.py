"""
A job altered at random, in its journal (with every hash made to fit) or in its facts: nothing falls over.

Whatever is written, `verify` says that it is wrong, and whoever works with the job gets words and not a crash. The
alterations are drawn from a seeded generator, so that a run can be repeated; FITUP_ROUNDS multiplies them.
"""

from __future__ import annotations

import json
import os
import random
import sqlite3
from pathlib import Path

import pytest
from bench_job import PASSPHRASE, Bench
from small_job import MovingClock, chained_again, edit

from ledger.acts.base import make
from ledger.acts.questions import AskQuestion
from ledger.domain.errors import FitupError
from ledger.job import Job
from ledger.release.custody import examine

ROUNDS = int(os.environ.get("FITUP_ROUNDS", "1"))
# What a column or a field is written over with: other kinds, other lengths, what a terminal acts on, what is too large.
JUNK = (
    None,
    True,
    0,
    -1,
    1.5,
    2**62,
    10**30,
    "",
    "x",
    "\x1b[31m",
    "𐏿",
    "nan",
    "200 mm",
    "-5 mm",
    "A",
    "BASE",
)
NESTED = ([], {}, [1], [[]], {"a": 1}, ["x"] * 3, "A" * 2000)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Two plates locked together, a third signed with a permit: the file, its keys and the moment after."""
    folder = tmp_path_factory.mktemp("forged")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        bench = Bench.started(folder, MovingClock())
        bench.two_plates()
        bench.plate("LID", unconnected=True)
        bench.job.do(make(AskQuestion, number="LID", ident="Q1", text="which finish?"), by="Mira")
        where = {"code": "question_open", "place": "Q1", "reason": "it stays bare", "until": ""}
        bench.job.permit("LID", "Mira", **where)
        bench.lock("BASE", "TURN")
        bench.sign_all("LID")
        bench.job.close()
    assert examine(bench.place).whole
    return Path(bench.place), folder / "keys"


@pytest.fixture
def copied(made, tmp_path, monkeypatch):
    """A copy to alter, with the keys of everyone."""
    monkeypatch.setenv("FITUP_KEYS", str(made[1]))

    def anew():
        place = tmp_path / "forged.db"
        place.unlink(missing_ok=True)
        source, copy = sqlite3.connect(made[0]), sqlite3.connect(place)
        source.backup(copy)
        source.close()
        copy.close()
        return str(place)

    return anew


def works_or_says_why(place, out):
    """Everything that judges, from an altered job: what it says, or '' where it works as ever."""
    try:
        with Job(place, lambda _name: PASSPHRASE, MovingClock()) as job:
            list(job.journal())
            job.verdicts(("BASE", "LID"))
            job.guard(out)
            job.lock(("LID",), "Jonas", out)
    except FitupError as told:
        return str(told)
    return ""


def rows_of(place, table):
    raw = sqlite3.connect(place)
    rows = raw.execute(f"SELECT * FROM {table}").fetchall()
    raw.close()
    return rows


def places_in(value, at=()):
    if at:
        yield at
    children = (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    )
    for key, child in children:
        yield from places_in(child, (*at, key))


def altered(body, draw):
    """The body of an entry with one field, wherever, gone or another."""
    new = json.loads(json.dumps(body))
    *way, last = draw.choice(sorted(places_in(new), key=str))
    at = new
    for key in way:
        at = at[key]
    if draw.random() < 0.3:
        del at[last]
    else:
        at[last] = draw.choice([j for j in (*JUNK, *NESTED) if j != at[last] and j is not at[last]])
    return new


def forged_journal(place, draw):
    """Alter an entry before the last signatures and chain everything anew; the entry as it was and as it is."""
    ((entries,),) = rows_of(place, "(SELECT MAX(seq) FROM journal)")
    target = draw.randint(1, entries - 2)
    seen = []

    def change(seq, body):
        if seq == target:
            seen[:] = body, altered(body, draw)
            return seen[1]
        return body

    while True:
        try:
            chained_again(place, change)
        except (ValueError, TypeError):  # no canonical JSON holds that
            continue
        return seen


def forged_facts(copied, draw):
    """A copy with a column of a fact table written over, or a row taken out, and the statement that did it."""
    place = copied()
    raw = sqlite3.connect(place)
    named = raw.execute(
        "SELECT name FROM sqlite_master WHERE name LIKE 'fact_%' AND type = 'table' ORDER BY name"
    )
    tables = [name for (name,) in named if name != "fact_stamp" and rows_of(place, name)]
    columns = {t: [row[1] for row in raw.execute(f"PRAGMA table_info({t})")] for t in tables}
    raw.close()
    values = [repr(j) for j in JUNK if type(j) in (int, float, str) and j != 10**30]
    values += ["NULL", "x'00ff'", "'[]'", "'{}'", "'[1]'"]
    while True:
        table = draw.choice(tables)
        column, value = draw.choice(columns[table]), draw.choice(values)
        script = f"UPDATE {table} SET {column} = {value}"
        if draw.random() < 0.3:
            script = f"DELETE FROM {table} WHERE rowid = (SELECT MAX(rowid) FROM {table})"
        before = rows_of(place, table)
        try:
            edit(place, script)
        except sqlite3.DatabaseError:  # the table itself refuses that, and its guards are gone by then
            place = copied()
            continue
        if rows_of(place, table) != before:
            return place, script


def forged_schema(place, draw):
    """What puts something into the schema that the program did not make, or gives an index another's rows."""
    raw = sqlite3.connect(place)
    tables = [n for (n,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
    indexes = [n for (n,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'index' ORDER BY name")]
    filled = [t for t in tables if rows_of(place, t)]
    table, other = draw.choice(filled), draw.choice(tables)
    column = draw.choice([row[1] for row in raw.execute(f"PRAGMA table_info({table})")])
    raw.close()
    column = f'"{column}"'
    when = f"{draw.choice(('BEFORE', 'AFTER'))} {draw.choice(('INSERT', 'UPDATE', 'DELETE'))}"
    does = draw.choice(("SELECT 1", f"DELETE FROM {other}", f"UPDATE {table} SET {column} = NULL"))
    trigger = f"CREATE TRIGGER sly {when} ON {table} BEGIN {does}; END"
    kind = draw.choice(("trigger", "TRIGGER", "index", "table", "view", ""))
    mine, another = draw.sample(
        [n for n in indexes if any(n.startswith(f"sqlite_autoindex_{t}_") for t in filled)], 2
    )
    page = f"(SELECT rootpage FROM sqlite_master WHERE name = '{another}')"
    swapped = f"UPDATE sqlite_master SET rootpage = {page} WHERE name = '{mine}'"
    return draw.choice(
        (
            f"CREATE {draw.choice(('', 'UNIQUE'))} INDEX sly ON {table} ({column}) WHERE {column} IS NULL",
            f"CREATE INDEX sly ON {table} ({column} || 'x')",
            f"CREATE VIEW sly AS SELECT * FROM {table}",
            f"CREATE VIRTUAL TABLE sly USING fts5({column})",
            f"CREATE TABLE sly ({column})",
            f"ALTER TABLE {other} ADD COLUMN sly TEXT",
            f"ALTER TABLE {other} ADD COLUMN sly TEXT AS ({draw.randint(0, 9)})",
            trigger,
            f"INSERT INTO sqlite_master VALUES ('{kind}', 'sly', '{table}', 0, '{trigger}')",
            f"UPDATE sqlite_master SET sql = replace(sql, 'VARCHAR', 'varchar') WHERE name = '{table}'",
            swapped,
        )
    )


def written_into_the_schema(place, script):
    """As somebody who writes over the schema itself."""
    raw = sqlite3.connect(place, isolation_level=None)
    raw.execute("PRAGMA writable_schema = ON")
    raw.execute(script)
    raw.execute("PRAGMA schema_version = 9999")
    raw.close()


def not_whole(place):
    """Whether a job is said to be altered: by what is found in it, or by the database, which opens it no more."""
    try:
        return not examine(place).whole
    except FitupError:
        return True


@pytest.mark.file_only
@pytest.mark.parametrize("seed", range(20 * ROUNDS))
def test_a_schema_altered_at_random_is_found_and_locks_nothing(copied, tmp_path, seed):
    place = copied()
    script = forged_schema(place, random.Random(seed))
    written_into_the_schema(place, script)
    assert not_whole(place), script
    told = works_or_says_why(place, tmp_path)
    assert told or examine(place).whole, (
        script
    )  # or its fact tables were made again before anything was judged


@pytest.mark.parametrize("seed", range(40 * ROUNDS))
def test_an_entry_altered_at_random_with_every_hash_made_to_fit_locks_nothing(copied, tmp_path, seed):
    place = copied()
    was = forged_journal(place, random.Random(seed))
    assert not examine(place).whole, was
    assert works_or_says_why(place, tmp_path), was


@pytest.mark.parametrize("seed", range(40 * ROUNDS))
def test_a_fact_altered_at_random_is_found_and_locks_nothing(copied, tmp_path, seed):
    place, script = forged_facts(copied, random.Random(seed))
    assert not examine(place).whole, script
    assert works_or_says_why(place, tmp_path), script
