"""A small, quick job: people, bought parts, questions and a permit-free journal; no drawing is read."""

from __future__ import annotations

import json
import sqlite3
from contextlib import suppress
from datetime import UTC, datetime, timedelta

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import RecordPart
from ledger.acts.questions import AnswerQuestion, AskQuestion
from ledger.domain.canonical import canonical
from ledger.domain.sealed import row_hash
from ledger.job import Job

PASSPHRASE = "correct horse"


class MovingClock:
    """A clock that moves one second at each look, from a fixed start; `looks`: how often it was looked at."""

    def __init__(self, looks=0):
        self.looks = looks

    def __call__(self):
        self.looks += 1
        return datetime(2026, 3, 2, 9, 0, tzinfo=UTC) + timedelta(seconds=self.looks - 1)


def ask(_name):
    return PASSPHRASE


def small_job(place, clock, *, acts=6, people=("Mira",)):
    """A job of 1 + people + acts entries, and some kept bytes."""
    job = Job.start(place, "Pier mount", ask, clock)
    for name in people:
        job.enroll(name, ("drawn", "checked", "approved"), PASSPHRASE)
    for k in range(acts):
        number = f"P{k // 3}"
        act = (
            make(RecordPart, number=number, title="stud", form="bought", thickness="12 mm"),
            make(AskQuestion, number=number, ident="Q1", text="Which finish?"),
            make(RecordDimension, number=number, name="length", nominal="40 mm", limits="±0.2"),
        )[k % 3]
        job.do(act, by="Mira")
    return job


def answer(job, number="P0", text="zinc"):
    return job.do(make(AnswerQuestion, number=number, ident="Q1", answer=text), by="Mira")


def edit(place, script, *, guards=True):
    """Change a job's file as someone at the file would; `guards` False: the triggers are put back behind."""
    raw = sqlite3.connect(place)
    kept = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _sql in kept:
        raw.execute(f"DROP TRIGGER {name}")
    raw.executescript(script)
    for _name, sql in kept if guards else ():
        with suppress(sqlite3.OperationalError):  # its table is gone
            raw.execute(sql)
    raw.commit()
    raw.close()


def chained_again(place, change):
    """
    Rewrite the whole journal with `change(seq, body)` applied and every hash made anew: a forger's best.

    Bytes that `change` gives are written as they are, anything else as canonical JSON.
    """
    raw = sqlite3.connect(place)
    rows = raw.execute("SELECT seq, body, signature FROM journal ORDER BY seq").fetchall()
    raw.close()
    previous, script = "0" * 64, ["DELETE FROM journal"]
    for seq, body, signature in rows:
        new = change(seq, json.loads(body))
        made = new if isinstance(new, bytes) else canonical(new)
        mark = row_hash(previous, made, signature)
        script.append(
            f"INSERT INTO journal VALUES ({seq}, '{previous}', x'{made.hex()}', '{mark}', '{signature}')"
        )
        previous = mark
    edit(place, ";".join(script))
