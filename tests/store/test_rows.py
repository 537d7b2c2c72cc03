"""Rows looked up and written in one statement are what the object-relational way gives, wherever the tables are."""

from __future__ import annotations

import pytest
from fact_rows import dump_facts
from small_job import MovingClock, small_job
from sqlmodel import Session, select

from ledger.acts.replay import follow
from ledger.domain.errors import NoEntry
from ledger.domain.sealed import Sealed, read_row, row_hash
from ledger.store.entries import rows_between
from ledger.store.replay import follow_from
from ledger.store.rows import put_row, row_with, rows_with, the_row
from ledger.store.scratch import in_memory, scratch
from ledger.store.tables import FACTS, Fact, PartFact, Permanent, QuestionFact


@pytest.fixture(params=["job", "memory"])
def facts(request, place):
    """The facts of a small job, as its own tables hold them and as they are followed in memory."""
    with small_job(place, MovingClock()) as job:
        if request.param == "memory":
            with job.store.replaying() as both:
                yield both
        else:
            with job.store.reading() as own:
                yield own


def key_of(row):
    return tuple(getattr(row, c.name) for c in type(row).__table__.primary_key)


@pytest.mark.both
def test_a_row_looked_up_is_the_row_that_is_there(facts):
    seen = 0
    for table in FACTS:
        for row in facts.exec(select(table)).all():
            found = row_with(facts, table, *key_of(row))
            assert found.model_dump() == row.model_dump()
            assert {n: type(v) for n, v in found} == {n: type(v) for n, v in row}
            seen += 1
    assert seen > 5
    assert row_with(facts, PartFact, "P0", "no such revision") is None
    with pytest.raises(LookupError, match="fact_part"):
        the_row(facts, PartFact, "P0", "no such revision")


def test_a_row_that_was_put_is_looked_up_as_it_was_put_and_in_order():
    with scratch() as memory, Session(memory, info=in_memory(memory)) as facts:
        for place in (2, 0, 1):
            fields = {"number": "P", "revision": "CAB"[place], "place": place, "locked": place == 0}
            row = PartFact(title="stud", form="bought", hand="either", reason="", **fields)
            put_row(facts, row)
            assert row_with(facts, PartFact, "P", "CAB"[place]).model_dump() == row.model_dump()
        found = rows_with(facts, PartFact, by="place", number="P")
        assert [(r.revision, r.locked) for r in found] == [("C", True), ("A", False), ("B", False)]
        facts.get_one(PartFact, ("P", "A")).title = "bolt"
        assert row_with(facts, PartFact, "P", "A").title == "bolt"  # what the session has not written yet


def test_what_an_act_wrote_before_it_broke_off_is_undone_in_memory_too(tmp_path):
    with small_job(str(tmp_path / "a.db"), MovingClock()) as job, job.store.reading() as own:
        rows = list(rows_between(own, 0))
        asked = next(r.seq for r in rows if read_row(r).act["kind"] == "ask_question")

        def breaks_off(facts, row):
            follow(facts, row)
            if row.seq == asked:
                put_row(facts, QuestionFact(number="P0", ident="Q9", text="half an act"))
                raise RuntimeError("it broke off")

        binds = {Permanent: own.connection()}
        with scratch() as memory, scratch() as straight:
            with Session(binds=binds | {Fact: memory}, info=in_memory(memory)) as both:
                stopped = follow_from(both, breaks_off, job.store._stamp, 0)
                assert stopped.seq == asked
                assert row_with(both, QuestionFact, "P0", "Q9") is None
                found = dump_facts(both)
            with Session(binds=binds | {Fact: straight}, info=in_memory(straight)) as both:
                for row in (r for r in rows if r.seq < asked):
                    follow(both, row)
                expected = dump_facts(both)
        assert found == expected


@pytest.mark.parametrize(
    ("number", "taken"),
    [
        ("9007199254740991", True),
        ("-9007199254740991", True),
        ("1234567890123456", True),
        ("9007199254740992", False),
        ("-9007199254740992", False),
        ("1" * 5000, False),
        ("-0", False),
        ("01", False),
        ("1.0", False),
        ("1e2", False),
        ("NaN", False),
    ],
)
def test_whole_numbers_of_an_entry_are_those_that_every_reader_holds_exactly(number, taken):
    said = f'{{"act":{{"kind":"x","n":{number}}},"at":"2026-03-02T09:00:00Z","by":"M","job":"j","program":"0","seq":1}}'
    body = said.encode()
    row = Sealed(1, "0" * 64, body, row_hash("0" * 64, body, ""), "")
    if taken:
        assert read_row(row).act["n"] == int(number)
    else:
        with pytest.raises(NoEntry):
            read_row(row)
