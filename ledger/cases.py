"""
From facts to one verdict: which revision of every ply counts, the cases, the checks, the signatures.

The other ply of a mate is taken from the set judged together, else its newest locked revision, else its open one;
the last stands as *open*, or *frozen* where its face was frozen for this mate.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.checks import all_checks
from ledger.checks._case import MateCase, PartCase, PlacedPly
from ledger.domain import digest, gate
from ledger.domain.amounts import read_amount
from ledger.domain.quantity import plain
from ledger.domain.record import Mate, Part, Standing
from ledger.domain.shape import Profile
from ledger.store import facts as read
from ledger.store.questions import blocking
from ledger.store.sealed import check_signature, signed_statement
from ledger.store.tables import JournalRow, PartFact, PermitFact, PersonFact, ProfileFact, SignOffFact


def reads_the_same(taken: ProfileFact, dxf: bytes) -> bool:
    """Whether this program's reader still reads those bytes as they were taken."""
    from ledger.profile.read import READER_VERSION, geometry_digest, read_profile

    if taken.reader == READER_VERSION:
        return True
    unit = taken.unit if taken.unit_stated else None
    profile: Profile = read_profile(dxf, unit=unit, roles=json.loads(taken.roles))
    return geometry_digest(profile) == taken.geometry


@dataclass(frozen=True)
class Bench:
    """
    Facts laid out for judging a set of parts together; each record is read once.

    `today` is an ISO date and only decides whether a permit has run out.
    """

    facts: Session
    together: tuple[str, ...]
    today: str
    parts_read: dict[tuple[str, str], Part] = field(default_factory=dict, repr=False, compare=False)

    def as_last_signed(self, number: str) -> Bench:
        """
        The part laid out with the open parts it was last signed together with, or by itself.

        The records read so far are used again: the same facts, so the same records.
        """
        newest = newest_part(self.facts, number)
        signed = read.rows(self.facts, SignOffFact, number=number, revision=newest.revision)
        last = max((s.seq for s in signed), default=0)
        others = {s.number for s in read.rows(self.facts, SignOffFact, seq=last)} if last else set()
        still_open = {n for n in others if not newest_part(self.facts, n).locked}
        return replace(self, together=tuple(sorted(still_open | {number})))

    @cached_property
    def policy(self) -> gate.Policy:
        """What the shop asks for."""
        return read.policy(self.facts)

    def part(self, row: PartFact) -> Part:
        """A revision as a record, read once."""
        key = (row.number, row.revision)
        if key not in self.parts_read:
            self.parts_read[key] = read.part(self.facts, row, reads_the_same)
        return self.parts_read[key]

    def counting(self, number: str, mate: Mate) -> tuple[Part, Standing]:
        """The revision of a ply that counts in a mate, and why."""
        newest = newest_part(self.facts, number)
        if number in self.together:
            return self.part(newest), "in the set"
        locked = [r for r in read.rows(self.facts, PartFact, number=number) if r.locked]
        if locked:
            return self.part(max(locked, key=lambda r: r.place)), "locked"
        frozen = any(number == part for part, _ in mate.frozen_faces)
        return self.part(newest), "frozen" if frozen else "open"

    def mate_case(self, mate: Mate, viewed_from: str) -> MateCase:
        """A mate with its plies placed."""
        plies = []
        for ply in mate.plies:
            part, standing = self.counting(ply.part, mate)
            plies.append(PlacedPly(ply, part, standing, digest.face(part, ply, mate.kind)))
        return MateCase(mate, tuple(plies), viewed_from)

    def cases(self, number: str) -> tuple[PartCase, tuple[MateCase, ...]]:
        """Everything the checks look at for one part."""
        row = newest_part(self.facts, number)
        mates = tuple(self.mate_case(m, number) for m in read.mates_of(self.facts, number))
        twin = self.part(newest_part(self.facts, row.opposite_of)) if row.opposite_of else None
        names = tuple(m.mate.name for m in mates)
        part, others = self.part(row), blocking(self.facts, number)
        asked = (*part.questions, *(q for _, q in others))
        late = tuple(q.due for q in asked if q.due and q.due < self.today)
        return PartCase(part, names, twin, self.together, others, late), mates

    def subject(self, part: PartCase, mates: Iterable[MateCase]) -> str:
        """What a sign-off of this part names now."""
        digests = [digest.mate_digest(m.mate, [p.face for p in m.plies]) for m in mates]
        return digest.subject(part.part, digests, self.policy, part.twin)

    def verdict(self, number: str) -> gate.Verdict:
        """Run every check afresh and judge."""
        part, mates = self.cases(number)
        subject = self.subject(part, mates)
        return gate.judge(
            part=number,
            revision=part.part.revision,
            subject=subject,
            outcomes=tuple(_outcomes(part, mates)),
            sign_offs=tuple(self._sign_offs(part.part)),
            permits=tuple(self.permits(part.part)),
            policy=self.policy,
        )

    def _sign_offs(self, part: Part) -> Iterator[gate.SignOffMade]:
        for row in read.rows(self.facts, SignOffFact, number=part.number, revision=part.revision):
            sound = self._sound(row.seq, row.person)
            seen = tuple(json.loads(row.acknowledged))
            yield gate.SignOffMade(row.person, row.role, row.subject, sound, row.self_check, seen)

    def permits(self, part: Part) -> Iterator[gate.PermitMade]:
        """What was accepted in writing for this revision, in force or not."""
        for row in read.rows(self.facts, PermitFact, number=part.number, revision=part.revision):
            in_force = not row.until or row.until >= self.today
            sound = self._sound(row.seq, row.person)
            yield gate.PermitMade(
                row.code,
                row.place,
                row.reason,
                row.person,
                sound,
                in_force,
                row.until,
                _decimal(row.up_to),
                row.above,
            )

    def _sound(self, seq: int, person: str) -> bool:
        """Whether the entry that a fact came from carries that person's signature."""
        row = self.facts.get(JournalRow, seq)
        known = self.facts.get(PersonFact, person)
        if row is None or known is None:
            return False
        body = json.loads(row.body)
        statement = signed_statement(body["shop"], body["act"])
        return body["act"]["key"] == known.key and check_signature(known.key, statement, row.signature)


def _decimal(written: str) -> str:
    return plain(read_amount(written).mm) if written else ""


def _outcomes(part: PartCase, mates: Iterable[MateCase]) -> Iterator[gate.Outcome]:
    mates = tuple(mates)
    for rule in all_checks():
        if rule.on is PartCase:
            yield rule.run(part, part.part.number)
        else:
            for mate in mates:
                yield rule.run(mate, mate.mate.name)
