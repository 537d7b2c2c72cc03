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

from ledger.checks import all_checks
from ledger.checks._case import Around, Joined, MateCase, PartCase, PlacedPly
from ledger.checks._frame import Check
from ledger.checks._joined import is_fitted, joined_with, ring_through
from ledger.domain import digest, gate
from ledger.domain.amounts import read_amount
from ledger.domain.mated import Mate
from ledger.domain.quantity import plain
from ledger.domain.record import Part, Standing
from ledger.outcomes import Keys, Outcomes
from ledger.shelf import Shelf
from ledger.store import facts as read
from ledger.store.questions import blocking
from ledger.store.tables import PartFact, PermitFact, SignOffFact


@dataclass(frozen=True)
class Bench:
    """
    Facts laid out for judging a set of parts together; each record is read once.

    `today` is an ISO date and only decides whether a permit has run out. With `kept`, outcomes of checks on cases that
    were looked at before are taken from there; without it every check looks. Signing and locking have none.
    """

    facts: Session
    together: tuple[str, ...]
    today: str
    shelf: Shelf = field(default=None, repr=False, compare=False)  # type: ignore[assignment]  # made below
    kept: Outcomes | None = field(default=None, repr=False, compare=False)
    mates_read: dict[tuple[str, str], MateCase] = field(default_factory=dict, repr=False, compare=False)
    joined_read: dict[str, Joined] = field(default_factory=dict, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.shelf is None:
            object.__setattr__(self, "shelf", Shelf(self.facts))

    def as_last_signed(self, number: str) -> Bench:
        """
        The part laid out with the open parts it was last signed together with, or by itself.

        The records read so far are used again: the same facts, so the same records.
        """
        newest, rows = self.shelf.newest(number), self.shelf.rows
        signed = rows(self.facts, SignOffFact, number=number, revision=newest.revision)
        last = max((s.seq for s in signed), default=0)
        others = {s.number for s in rows(self.facts, SignOffFact, seq=last)} if last else set()
        still_open = {n for n in others if not self.shelf.newest(n).locked}
        return replace(self, together=tuple(sorted(still_open | {number})), mates_read={}, joined_read={})

    def as_judged(self, mate: Mate) -> Bench:
        """A mate laid out as the verdicts of its open parts see it: an open revision counts, not the locked before."""
        newest = [row for row in (self.shelf.newest(ply.part) for ply in mate.plies) if not row.locked]
        ahead = {r.number for r in newest if any(map(self.shelf.is_locked, self.shelf.revisions(r.number)))}
        together = tuple(sorted(ahead | set(self.together)))
        if together == tuple(sorted(self.together)):
            return self
        return replace(self, together=together, mates_read={}, joined_read={})

    @cached_property
    def policy(self) -> gate.Policy:
        """What the shop asks for."""
        return read.policy(self.facts)

    def part(self, row: PartFact) -> Part:
        """A revision as a record, read once."""
        return self.shelf.part(row)

    def counting(self, number: str, mate: Mate) -> tuple[Part, Standing]:
        """The revision of a ply that counts in a mate, and why."""
        newest = self.shelf.newest(number)
        if number in self.together:
            return self.part(newest), "in the set"
        locked = [r for r in self.shelf.revisions(number) if self.shelf.is_locked(r)]
        if locked:
            return self.part(max(locked, key=lambda r: r.place)), "locked"
        if newest.locked:
            return self.part(newest), "lock unsigned"
        frozen = any(number == part for part, _ in mate.frozen_faces)
        return self.part(newest), "frozen" if frozen else "open"

    def mate_case(self, mate: Mate, viewed_from: str) -> MateCase:
        """A mate with its plies placed; the same one, with what was worked out for it, each time it is asked for."""
        key = (mate.name, viewed_from)
        if key not in self.mates_read:
            self.mates_read[key] = self._mate_case(mate, viewed_from)
        return self.mates_read[key]

    def _mate_case(self, mate: Mate, viewed_from: str) -> MateCase:
        plies = []
        for ply in mate.plies:
            part, standing = self.counting(ply.part, mate)
            plies.append(PlacedPly(ply, part, standing, self.shelf.face(part, ply, mate)))
        around, joined = (lambda: self._around(mate)), (lambda: self._joined(mate))
        return self.shelf.shared(MateCase(mate, tuple(plies), viewed_from, around, joined, self.policy.odds))

    def _joined(self, mate: Mate) -> Joined:
        """What is fitted with it, and a ring that it is in; worked out once."""
        if mate.name not in self.joined_read:
            case = self.mate_case(mate, "").shown((), ())
            mates = joined_with(case, self._mates_at)
            ring = ring_through((case, *mates), self.shelf.bolted) if is_fitted(case) else ()
            self.joined_read[mate.name] = Joined(mates, ring)
        return self.joined_read[mate.name]

    def _mates_at(self, number: str) -> tuple[MateCase, ...]:
        mates = (m for m in self.shelf.mates_of(number) if m.kind == "bolted")
        return tuple(self.mate_case(m, "").shown((), ()) for m in mates)

    def _around(self, mate: Mate) -> Around:
        """The other mates of its parts, by name, and the key dimensions that are bound to their drawings."""
        others = {m.name: m for ply in mate.plies for m in self.shelf.mates_of(ply.part)}
        near = tuple(self.mate_case(others[n], "").shown((), ()) for n in sorted(others) if n != mate.name)
        bound = tuple(
            tuple(d for d in self.counting(ply.part, mate)[0].dimensions if d.bound) for ply in mate.plies
        )
        return Around(near, bound)

    def cases(self, number: str) -> tuple[PartCase, tuple[MateCase, ...]]:
        """Everything the checks look at for one part."""
        row = self.shelf.newest(number)
        mates = tuple(self.mate_case(m, number) for m in self.shelf.mates_of(number))
        twin = self.part(self.shelf.newest(row.opposite_of)) if row.opposite_of else None
        names = tuple(m.mate.name for m in mates)
        others, left = self._others(row)
        part, asked = self.part(row), blocking(self.facts, number)
        late = tuple(q.due for q in (*part.questions, *(q for _, q in asked)) if q.due and q.due < self.today)
        return PartCase(part, names, twin, others, left, self.together, asked, late), mates

    def _others(self, row: PartFact) -> tuple[tuple[Part, ...], int]:
        """The parts that this one could be taken for, and how many were left out. No part of the subject."""
        if row.form != "cut":
            return (), 0
        numbers, left = self.shelf.neighbours.of(row.number, self.together)
        return tuple(self.part(self.shelf.newest(n)) for n in numbers), left

    def subject(self, part: PartCase, mates: Iterable[MateCase]) -> str:
        """What a sign-off of this part names now."""
        digests = [self.shelf.mate_digest(m.mate, tuple(p.face for p in m.plies)) for m in mates]
        return digest.subject(part.part, digests, self.policy, part.twin)

    def verdict(self, number: str) -> gate.Verdict:
        """Run every check, or take what is kept of it, and judge."""
        part, mates = self.cases(number)
        subject = self.subject(part, mates)
        return gate.judge(
            part=number,
            revision=part.part.revision,
            subject=subject,
            outcomes=tuple(self._outcomes(part, mates)),
            sign_offs=tuple(self._sign_offs(part.part)),
            permits=tuple(self.permits(part.part)),
            policy=self.policy,
        )

    def mate_outcomes(self, case: MateCase) -> Iterator[gate.Outcome]:
        """What becomes of every check of mates on one."""
        keys = Keys(case) if self.kept else None
        for rule in all_checks():
            if rule.on is MateCase:
                yield self._outcome(rule, case, keys, case.mate.name)

    def _outcomes(self, part: PartCase, mates: tuple[MateCase, ...]) -> Iterator[gate.Outcome]:
        own = Keys(part) if self.kept else None
        keys = [Keys(mate) if self.kept else None for mate in mates]
        for rule in all_checks():
            if rule.on is PartCase:
                yield self._outcome(rule, part, own, part.part.number)
                continue
            for mate, key in zip(mates, keys, strict=True):
                yield self._outcome(rule, mate, key, mate.mate.name)

    def _outcome(
        self, rule: Check, case: PartCase | MateCase, keys: Keys | None, subject: str
    ) -> gate.Outcome:
        return self.kept.of(rule, case, keys, subject) if self.kept and keys else rule.run(case, subject)

    def signed_before(self, verdict: gate.Verdict) -> dict[str, str]:
        """Who signed this revision as what before a change that left the role open: {role: person}."""
        open_roles = {s.where for s in verdict.stops if s.code == "role_missing"}
        if not open_roles:
            return {}
        made = self._sign_offs(self.part(self.shelf.newest(verdict.part)))
        earlier = [s for s in made if s.sound and s.subject != verdict.subject]
        return {r: p for r, p in gate.signed_before(earlier, self.policy).items() if r in open_roles}

    def _sign_offs(self, part: Part) -> Iterator[gate.SignOffMade]:
        for row in self.shelf.rows(self.facts, SignOffFact, number=part.number, revision=part.revision):
            sound = self.shelf.vouching.of(row)
            seen = tuple(json.loads(row.acknowledged))
            yield gate.SignOffMade(row.person, row.role, row.subject, sound, row.self_check, seen)

    def permits(self, part: Part) -> Iterator[gate.PermitMade]:
        """What was accepted in writing for this revision, in force or not."""
        for row in self.shelf.rows(self.facts, PermitFact, number=part.number, revision=part.revision):
            in_force = not row.until or row.until >= self.today
            sound = self.shelf.vouching.of(row)
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


def _decimal(written: str) -> str:
    return plain(read_amount(written).mm) if written else ""
