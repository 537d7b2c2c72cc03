"""How fast a job writes, verifies and opens, against plain inserts of the same rows in the same run."""

from __future__ import annotations

import time
from datetime import UTC, datetime

import pytest
from small_job import ask
from sqlalchemy import insert
from sqlmodel import Session

from ledger.acts.base import make
from ledger.acts.parts import RecordPart
from ledger.acts.questions import AskQuestion
from ledger.domain.canonical import canonical
from ledger.domain.sealed import START, row_hash
from ledger.job import Job
from ledger.release.custody import examine, follow
from ledger.store.chain import broken_links, raw_rows
from ledger.store.guards import create_tables
from ledger.store.journal import Store, now
from ledger.store.place import connect
from ledger.store.tables import JournalRow, QuestionFact, StampFact

pytestmark = pytest.mark.bench
ACTS = 300
AT = datetime(2026, 3, 2, tzinfo=UTC)


def best(work, times=3):
    found = []
    for k in range(times):
        began = time.perf_counter()
        work(k)
        found.append(time.perf_counter() - began)
    return min(found)


def question(k):
    return make(AskQuestion, number="STUD", ident=f"Q{k}", text="which finish is meant here?")


def rows_of(k, previous):
    """The rows that one act writes, made beforehand: what is measured of the peer is inserting."""
    act = question(k).model_dump(mode="json")
    body = canonical({"job": "x", "seq": k + 1, "at": "2026", "by": "Mira", "program": "0", "act": act})
    mark = row_hash(previous, body, "")
    return (
        {"seq": k + 1, "previous": previous, "body": body, "hash": mark, "signature": ""},
        {"number": "STUD", "ident": f"Q{k}", "text": "which finish is meant here?"},
        {"ident": 1, "schema_digest": "x" * 64, "seq": k + 1, "seal": mark, "writer": "0"},
    )


def prepared(start, count):
    made, previous = [], START
    for k in range(start, start + count):
        made.append(rows_of(k, previous))
        previous = made[-1][0]["hash"]
    return made


@pytest.fixture(params=["file", "server"])
def two_places(request, tmp_path):
    """Two new places on one kind of database: for the job and for the plain inserts."""
    if request.param == "file":
        return request.param, str(tmp_path / "a.db"), str(tmp_path / "b.db")
    import psycopg

    server = request.getfixturevalue("server")
    with psycopg.connect(server.replace("+psycopg", ""), autocommit=True) as owner:
        names = [f"bench_{tmp_path.name[-12:].strip('_').lower()}_{k}" for k in "ab"]
        for name in names:
            owner.execute(f'CREATE DATABASE "{name}"')
    return request.param, *(server.replace("/postgres?", f"/{name}?") for name in names)


def put(session, rows):
    journal, fact, stamp = rows
    session.add(JournalRow(**journal))
    session.add(QuestionFact(**fact))
    session.merge(StampFact(**stamp))


def test_acts_a_second_against_plain_inserts(two_places):
    kind, ours, theirs = two_places
    engine = connect(theirs, create=True)
    create_tables(engine)
    if kind == "file":
        engine = engine.execution_options(fitup_begin="BEGIN IMMEDIATE")
    else:
        engine = engine.execution_options(isolation_level="SERIALIZABLE")
    made = prepared(0, 8 * ACTS)

    def one_by_one(run):
        for rows in made[run * ACTS : (run + 1) * ACTS]:
            with Session(engine) as session:
                put(session, rows)
                session.commit()

    def in_one_go(run):
        with Session(engine) as session:
            for rows in made[(run + 3) * ACTS : (run + 4) * ACTS]:
                put(session, rows)
                session.flush()
            session.commit()

    plain, plain_batched = best(one_by_one), best(in_one_go)
    engine.dispose()
    with Job.start(ours, "Pier", ask, now) as job:
        job.do(make(RecordPart, number="STUD", title="stud", form="bought"), by="Mira")

        def singly(run):
            for k in range(ACTS):
                job.do(question(run * ACTS + k), by="Mira")

        def batched(run):
            with job.store.writing() as facts:
                for k in range(ACTS):
                    job._do(facts, question((run + 3) * ACTS + k), "Mira")

        single, batch = best(singly), best(batched)
    print(  # noqa: T201 - a bench tells
        f"\n{kind}: single {ACTS / single:.0f} acts/s, plain {ACTS / plain:.0f}/s: {single / plain:.2f}x; "
        f"batched {ACTS / batch:.0f} acts/s, plain {ACTS / plain_batched:.0f}/s: {batch / plain_batched:.2f}x "
        f"(goal 3x)"
    )
    assert single / plain < 8
    assert batch / plain_batched < 6


def journal_of(place, count):
    """A whole journal of so many acts, written by hand, and facts not yet followed."""
    engine = connect(place, create=True)
    create_tables(engine)
    opened = {"kind": "open_job", "firm": "Pier", "ident": "x", "roles": ["drawn"], "version": 1}
    stud = make(RecordPart, number="STUD", title="stud", form="bought").model_dump(mode="json")
    previous, rows = START, []
    for seq in range(1, count + 1):
        act = opened if seq == 1 else stud if seq == 2 else question(seq).model_dump(mode="json")
        at = f"{AT:%Y-%m-%dT%H:%M:%SZ}"
        body = canonical({"job": "x", "seq": seq, "at": at, "by": "Mira", "program": "0.1.0", "act": act})
        mark = row_hash(previous, body, "")
        rows.append({"seq": seq, "previous": previous, "body": body, "hash": mark, "signature": ""})
        previous = mark
    with engine.begin() as connection:
        connection.execute(insert(JournalRow), rows)
    engine.dispose()


def test_the_chain_of_a_hundred_thousand_acts(tmp_path):
    place = str(tmp_path / "long.db")
    journal_of(place, 100_000)
    store = Store(connect(place), follow, "0.1.0")

    def chain(_run):
        with store.reading() as facts:
            assert list(broken_links(raw_rows(facts))) == []

    took = best(chain)
    store.close()
    print(f"\nchain of 100,000 acts: {took:.2f} s (goal 0.6 s)")  # noqa: T201 - a bench tells
    assert took < 1.8


def test_verifying_and_following_grow_with_the_acts_and_no_faster(tmp_path):
    took = {}
    for count in (2000, 4000, 8000):
        place = str(tmp_path / f"{count}.db")
        journal_of(place, count)
        began = time.perf_counter()
        Job(place, ask).close()
        opened = time.perf_counter() - began
        began = time.perf_counter()
        assert examine(place).whole
        took[count] = (opened, time.perf_counter() - began)
    for count, (opened, verified) in took.items():
        print(f"\n{count} acts: following {opened:.2f} s, verify {verified:.2f} s", end="")  # noqa: T201 - a bench tells
    print()  # noqa: T201 - a bench tells
    assert took[8000][0] / took[2000][0] < 4 * 1.7
    assert took[8000][1] / took[2000][1] < 4 * 1.7


def test_opening_a_job_of_two_thousand_parts(tmp_path):
    place = str(tmp_path / "many.db")
    with Job.start(place, "Pier", ask, now) as job, job.store.writing() as facts:
        for k in range(2000):
            job._do(facts, make(RecordPart, number=f"P{k:04}", title="stud", form="bought"), "Mira")

    def opened(_run):
        with Job(place, ask) as job:
            assert len(job.listed().lines) == 2000

    took = best(opened)
    print(f"\nopening 2,000 parts and their list: {took * 1000:.0f} ms")  # noqa: T201 - a bench tells
    assert took < 2
