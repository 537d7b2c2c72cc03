"""
How parts stand: every verdict, and what to do first.

Of a locked revision the verdict is read as it was kept with its lock; of an open one it is judged now.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.checks import source_of
from ledger.domain.connection import Connection
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Why
from ledger.domain.gate import with_lock_unsigned
from ledger.domain.next_steps import Step, first_steps
from ledger.domain.record import UNSIGNED, Part
from ledger.domain.verdict import PermitMade, Verdict
from ledger.judge.bench import Bench
from ledger.judge.blockers import People, waits_on
from ledger.judge.outcomes import Outcomes
from ledger.judge.records import Records
from ledger.judge.summaries import Summary, summary
from ledger.store import facts as read
from ledger.store.journal import Store
from ledger.store.questions import waits_between
from ledger.store.replay import seal_of
from ledger.store.tables import LockFact, PartFact

_WHOLE = 6  # where more than one part in so many is judged, each table is read at once


@dataclass(frozen=True, slots=True)
class Stands:
    """How a part stands: the journal seal (seq:hash) it was judged at, the set it was judged in, the verdict."""

    seal: str
    together: tuple[str, ...]
    verdict: Verdict

    def summary(self, people: People) -> Summary:
        """What a list shows of it; `people` are (name, roles) of everyone enrolled."""
        return summary(self.verdict, waits_on(self.verdict, people, self.together), self.together)


@dataclass
class Judging:
    """
    The parts of an open job, judged. `outcomes` keeps what checks said, for all but locking; `told` adds to a verdict
    what changed since each signature.
    """

    store: Store
    outcomes: Outcomes
    told: Callable[[Session, Bench, Verdict], Verdict]

    def verdicts(self, numbers: Sequence[str]) -> tuple[Verdict, ...]:
        """
        Judge these parts as a set, from what the journal says. A locked revision's verdict is read from its lock.

        Where a change has left a role open that was signed before, it is said what changed. Raises UnknownName;
        Tampered where the journal does not hold together.
        """
        with self.store.replaying() as facts, self.kept():
            bench = self.bench(facts, numbers, kept=True)
            return tuple(self.told(facts, bench, self.verdict(facts, bench, n)) for n in bench.together)

    def each_verdict(self, numbers: Sequence[str], *, changes: bool = False) -> Iterator[Stands]:
        """
        Each part judged with those it was last signed together with, else by itself, in one reading.

        Records are read once for all of them. With `changes` it is said what changed since a signature, for which the
        journal is read: for few parts. Raises UnknownName.
        """
        with self.store.reading() as facts, self.kept():
            seq, seal = seal_of(facts)
            whole = len(numbers) * _WHOLE >= read.how_many_parts(facts)
            bench = self.bench(facts, (), kept=True, whole=whole)
            for number in numbers:
                laid = bench.as_last_signed(number)
                found = self.verdict(facts, laid, number)
                found = self.told(facts, laid, found) if changes else found
                yield Stands(f"{seq}:{seal}", laid.together, found)

    def as_if(self, facts: Session, part: Part) -> Verdict:
        """The verdict of an open part as it would be if it were recorded so, with those it was last signed with."""
        records = Records(facts)
        records.stand_in(part)
        bench = Bench(facts, (), self.store.today(facts), records, self.outcomes)
        return bench.as_last_signed(part.number).verdict(part.number)

    def why(self, number: str, code: str) -> Why:
        """Everything known of the findings of one code at a part. Raises UnknownName, with the codes that there are."""
        (found,) = self.each_verdict([number], changes=True)
        of = found.verdict
        known = [*of.stops, *of.warnings, *of.notes, *of.permitted]
        meant = tuple(f for f in known if f.code == code)
        if not meant:
            raise UnknownName("finding", code, sorted({f.code for f in known}))
        return Why(number, meant, source_of(code))

    def permits(self, number: str) -> tuple[PermitMade, ...]:
        """What was accepted in writing for the newest revision, in force or not. Raises UnknownName."""
        with self.store.reading() as facts:
            bench = self.bench(facts, (number,))
            return tuple(bench.permits(bench.part(newest_part(facts, number))))

    def first_steps(self) -> tuple[Step, ...]:
        """What to decide, measure or mend first, because it frees the most parts."""
        with self.store.reading() as facts:
            numbers = [line.number for line in read.part_lines(facts) if not line.locked]
            depends_on = waits_between(facts)
        return first_steps((found.verdict for found in self.each_verdict(numbers)), depends_on)

    def verdict(self, facts: Session, bench: Bench, number: str) -> Verdict:
        """One part of those laid out; of a locked revision the verdict that was kept with its lock."""
        row = newest_part(facts, number)
        if not row.locked:
            return bench.verdict(number)
        if not bench.records.is_locked(row):
            return with_lock_unsigned(bench.verdict(number), self._why(bench, row))
        if bench.records.proves:
            (lock,) = bench.records.lock_proofs.locks_of(number, row.revision)
        else:
            lock = facts.get_one(LockFact, (number, row.revision))
        return Verdict.from_json(json.loads(read.kept_file(facts, lock.verdict)))

    @staticmethod
    def _why(bench: Bench, row: PartFact) -> str:
        """Why the lock of a revision does not count."""
        if not bench.records.proves:
            return UNSIGNED
        proofs = bench.records.lock_proofs
        locks = proofs.locks_of(row.number, row.revision)
        return next((why for k in reversed(locks) for why in proofs.faults(k.seq, k.number)), UNSIGNED)

    def bench(
        self, facts: Session, numbers: Sequence[str], *, kept: bool = False, whole: bool = False
    ) -> Bench:
        """The parts laid out for judging: every check looks, unless kept outcomes are asked for."""
        for number in numbers:
            newest_part(facts, number)
        together = tuple(dict.fromkeys(numbers))
        today = self.store.today(facts)
        return Bench(facts, together, today, Records(facts, whole), self.outcomes if kept else None)

    def bench_of(self, facts: Session, connection: Connection, *, kept: bool = False) -> Bench:
        """A connection as the verdict of its open parts sees it: an open revision counts, not the locked before."""
        rows = {ply.part: newest_part(facts, ply.part) for ply in connection.plies}
        ahead = [n for n, r in rows.items() if not r.locked and read.rows(facts, LockFact, number=n)]
        return self.bench(facts, ahead, kept=kept)

    @contextmanager
    def kept(self) -> Iterator[None]:
        """Afterwards what checks said is written down, whatever became of the rest."""
        try:
            yield
        finally:
            self.outcomes.save()
