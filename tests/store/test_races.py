"""
Processes at once on one job: exactly one wins what only one can have, nobody loses anything, losers are told.

FITUP_ROUNDS multiplies the rounds.
"""

from __future__ import annotations

import os
import sys
import time

import pytest
from faulty import forked_all
from small_job import PASSPHRASE, ask

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NewRevision, RecordPart
from ledger.acts.questions import AskQuestion
from ledger.domain.errors import FitupError
from ledger.job import Job
from ledger.packet.inspect import inspect
from ledger.release.custody import examine
from ledger.store.journal import now

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="processes are forked here")
ROUNDS = int(os.environ.get("FITUP_ROUNDS", "1"))
WON, LOST, BROKEN = 10, 11, 99


@pytest.fixture
def raced(place):
    with Job.start(place, "Pier mount", ask, now) as job:
        job.enroll("Mira", ("drawn", "checked", "approved"), PASSPHRASE)
        for number in ("STUD", "NUT"):
            job.do(
                make(RecordPart, number=number, title="stud", form="bought", quantity=4, unconnected=True),
                by="Mira",
            )
            job.do(make(RecordDimension, number=number, name="length", nominal="40 mm"), by="Mira")
    return place


def at_once(place, start, work):
    """What one process does: open, wait for the others, try."""

    def run():
        with Job(place, ask) as job:
            job._signer("Mira")
            time.sleep(max(0.0, start - time.time()))
            try:
                work(job)
            except FitupError as told:
                return LOST if "nothing" in str(told) or "locked" in str(told) else BROKEN
            return WON

    return run


def together(place, *works):
    start = time.time() + 0.15 + 0.06 * len(works)
    return forked_all([at_once(place, start, work) for work in works])


@pytest.mark.parametrize(("workstations", "rounds"), [(2, 4), (4, 2), (16, 1)])
def test_one_of_many_seats_locks(raced, tmp_path, workstations, rounds):
    for k in range(rounds * ROUNDS):
        with Job(raced, ask) as job:
            if k:
                job.do(make(NewRevision, number="STUD", reason="again"), by="Mira")
            job.sign(["STUD"], "checked", "Mira", {})
        works = [
            lambda job, n=n: job.lock(["STUD"], "Mira", tmp_path / f"out{n}") for n in range(workstations)
        ]
        ended = together(raced, *works)
        assert sorted(ended) == [WON] + [LOST] * (workstations - 1)
        packets = [p for n in range(workstations) for p in (tmp_path / f"out{n}").glob("*.zip")]
        assert len(packets) == k + 1
        assert not list(tmp_path.rglob("*.part"))
    seen = examine(raced)
    assert seen.whole
    with Job(raced, ask) as job:
        assert sum(e.kind == "lock" for e in job.journal()) == rounds * ROUNDS
        assert all(job.holds(inspect(p.read_bytes()).seal) for p in packets)


@pytest.mark.parametrize("workstations", [2, 4, 16])
def test_nothing_that_many_seats_record_at_once_is_lost(raced, workstations):
    def record(n):
        def work(job):
            for k in range(3 * ROUNDS):
                job.do(
                    make(AskQuestion, number="STUD", ident=f"Q{n}.{k}", text="which?"), by=f"workstation {n}"
                )

        return work

    before = examine(raced).entries
    assert together(raced, *map(record, range(workstations))) == [WON] * workstations
    seen = examine(raced)
    assert (seen.whole, seen.entries) == (True, before + workstations * 3 * ROUNDS)
    with Job(raced, ask) as job:
        assert len(job.part("STUD").questions) == workstations * 3 * ROUNDS


def test_a_lock_while_others_edit_and_sign_holds_what_was_signed_or_is_refused(raced, tmp_path):
    """The edit comes before, and the signature no longer counts; or after, and is refused. Nothing between."""
    for k in range(3 * ROUNDS):
        with Job(raced, ask) as job:
            if k:
                job.do(make(NewRevision, number="NUT", reason="again"), by="Mira")
            job.sign(["NUT"], "checked", "Mira", {})
        ended = together(
            raced,
            lambda job: job.lock(["NUT"], "Mira", tmp_path / "out"),
            lambda job, k=k: job.write_part("NUT", {"note": f"edit {k}"}, by="Mira"),
            lambda job: job.sign(["STUD"], "checked", "Mira", {}),
        )
        assert ended[2] == WON
        assert sorted(ended[:2]) == [WON, LOST]
        with Job(raced, ask) as job:
            locked = job.part("NUT").locked
            assert locked == (ended[0] == WON)
            assert (job.part("NUT").note == f"edit {k}") == (ended[1] == WON)
            if not locked:
                job.sign(["NUT"], "checked", "Mira", {})
                job.lock(["NUT"], "Mira", tmp_path / "out")
    assert examine(raced).whole
