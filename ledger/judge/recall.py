"""
Locked revisions checked once more beside the verdict that was kept with their lock.

A structure or a bought part counts as it was measured last, locked or not; a cut part that is still open does not: what
is drawn next is checked against what is out, not the other way round. Signatures, and what was permitted at the lock,
are not asked for again. Nothing that is locked is altered.
"""

from __future__ import annotations

from collections.abc import Iterator

from sqlmodel import Session

from ledger.domain.finding import Finding
from ledger.domain.recall import Recall
from ledger.domain.verdict import SIGNED_OVER, Verdict
from ledger.judge.bench import Bench
from ledger.judge.verdicts import Judging
from ledger.store import facts as read


def recalls(judging: Judging, most: int | None = None) -> tuple[Recall, ...] | None:
    """
    Every cut part whose newest revision is locked, was GO and would not be now, by number.

    None where more than `most` are locked: nothing was looked at then.
    """
    with judging.store.reading() as facts, judging.kept():
        locked = sum(line.locked and line.form == "cut" for line in read.part_lines(facts))
        return None if most is not None and locked > most else tuple(_found(judging, facts))


def _found(judging: Judging, facts: Session) -> Iterator[Recall]:
    lines = read.part_lines(facts)
    measured = [line.number for line in lines if not line.locked and line.form != "cut"]
    drawn = {line.number for line in lines if not line.locked and line.form == "cut"}
    bench = judging.bench(facts, measured, kept=True, whole=True)
    for line in lines:
        if not line.locked or line.form != "cut":
            continue
        before = judging.verdict(facts, bench, line.number)
        if before.go and (stops := tuple(_new(bench, before, bench.verdict(line.number), drawn))):
            yield Recall(line.number, line.revision, stops)


def _new(bench: Bench, before: Verdict, now: Verdict, drawn: set[str]) -> Iterator[Finding]:
    """What stops now and did not at the lock, as far as it rests on nothing that is still being drawn."""
    accepted = {(f.code, f.where) for f in before.permitted}
    unsettled = {c.name for c in bench.records.connections_of(now.part) if {p.part for p in c.plies} & drawn}
    for stop in now.stops:
        places = stop.where.split("/")
        names_drawn = any(p == n or p.startswith(f"{n} ") for p in places for n in drawn)
        if stop.code in SIGNED_OVER or stop.follows or (stop.code, stop.where) in accepted:
            continue
        if places[0] in unsettled or names_drawn:
            continue
        yield stop
