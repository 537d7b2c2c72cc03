"""Facts are what the acts add up to: any journal, followed again, gives the same facts."""

from __future__ import annotations

import json
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from fact_rows import dump_facts
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.acts.base import make
from ledger.acts.connections import RecordConnection, RemoveConnection, RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import ChangePart, RecordHole, RecordPart
from ledger.acts.questions import AnswerQuestion, AskQuestion
from ledger.domain.errors import BadInput
from ledger.job import Job, follow
from ledger.store.replay import rebuild

NUMBER = st.sampled_from(["PIER", "BASE", "TURN"])
NAME = st.sampled_from(["Q1", "Q2", "S1", "S2"])
LENGTH = st.sampled_from(["12 mm", "3/16 in", "1-1/2 in", "0.250 in"])
LIMITS = st.sampled_from(["", "±0.1 mm", "+0.010/-0.005 in", "min", "2768-m"])
TEXT = st.text(
    st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), min_size=1, max_size=12
)


def act(kind, **fields):
    return st.builds(lambda **f: (kind, f), **fields)


ACTS = st.one_of(
    act(RecordPart, number=NUMBER, title=TEXT, form=st.just("bought"), thickness=LENGTH),
    act(ChangePart, number=NUMBER, title=TEXT, form=st.just("bought"), quantity=st.integers(1, 9)),
    act(RecordHole, number=NUMBER, label=NAME, x=LENGTH, y=LENGTH, diameter=LENGTH, source=st.just("given")),
    act(RecordDimension, number=NUMBER, name=NAME, nominal=LENGTH, limits=LIMITS, frozen=st.booleans()),
    act(AskQuestion, number=NUMBER, ident=NAME, text=TEXT),
    act(AnswerQuestion, number=NUMBER, ident=NAME, answer=TEXT),
    act(
        RecordConnection,
        name=NAME,
        connection_kind=st.just("beside"),
        position=st.sampled_from(["", "as drawn", "0.10 -3 37.5 turned over", "left on left"]),
        plies=st.tuples(NUMBER, NUMBER).map(lambda p: tuple({"part": n} for n in p)),
    ),
    act(RequireClearance, connection=NAME, name=NAME, required=st.sampled_from([">= 1/8 in", "2..5 mm"])),
    act(RemoveConnection, name=NAME, reason=TEXT),
)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(ACTS, min_size=5, max_size=40))
def test_a_random_journal_followed_again_gives_the_same_facts(expected):
    with tempfile.TemporaryDirectory() as folder:
        job = Job.start(
            str(Path(folder) / "fitup.db"), "Pier", lambda _n: "", lambda: datetime(2026, 3, 2, tzinfo=UTC)
        )
        written = 0
        for kind, fields in expected:
            try:
                job.do(make(kind, **fields), by="Mira")
                written += 1
            except BadInput:
                continue
        assert len(list(job.journal())) == written + 1
        with job.store.reading() as facts:
            before = dump_facts(facts)
        with job.store.writing() as facts:
            rebuild(facts, follow, job.store._stamp)
            assert json.dumps(dump_facts(facts)) == json.dumps(before)
        assert job.verify() == ()
        job.close()
