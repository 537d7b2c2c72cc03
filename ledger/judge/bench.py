"""
From facts to one verdict: which revision of every ply counts, the cases, the checks, the signatures.

The other ply of a connection is taken from the set judged together, else its newest locked revision, else its open one;
the last stands as *open*, or *frozen* where its interface was frozen for this connection.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from sqlmodel import Session

from ledger.cases.connections import Around, ConnectionCase, Joined, PlacedPly
from ledger.cases.parts import PartCase
from ledger.cases.rings import is_fitted, joined_with, ring_through
from ledger.checks import all_checks
from ledger.checks._frame import Check
from ledger.domain import digest, gate
from ledger.domain.connection import Connection
from ledger.domain.quantity import Length, plain
from ledger.domain.record import Part, Standing
from ledger.judge.outcomes import Keys, Outcomes
from ledger.judge.records import Records
from ledger.store import facts as read
from ledger.store.exact import length
from ledger.store.questions import blocking
from ledger.store.tables import PartFact, PermitFact, SignatureFact


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
    records: Records = field(default=None, repr=False, compare=False)  # type: ignore[assignment]  # made below
    kept: Outcomes | None = field(default=None, repr=False, compare=False)
    connections_read: dict[tuple[str, str], ConnectionCase] = field(
        default_factory=dict, repr=False, compare=False
    )
    joined_read: dict[str, Joined] = field(default_factory=dict, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.records is None:
            object.__setattr__(self, "records", Records(self.facts))

    def as_last_signed(self, number: str) -> Bench:
        """
        The part laid out with the open parts it was last signed together with, or by itself.

        The records read so far are used again: the same facts, so the same records.
        """
        newest, rows = self.records.newest(number), self.records.rows
        signed = rows(self.facts, SignatureFact, number=number, revision=newest.revision)
        last = max((s.seq for s in signed), default=0)
        others = {s.number for s in rows(self.facts, SignatureFact, seq=last)} if last else set()
        still_open = {n for n in others if not self.records.newest(n).locked}
        return replace(
            self, together=tuple(sorted(still_open | {number})), connections_read={}, joined_read={}
        )

    def as_judged(self, connection: Connection) -> Bench:
        """A connection as the verdicts of its open parts see it: an open revision counts, not the locked one before."""
        newest = [
            row for row in (self.records.newest(ply.part) for ply in connection.plies) if not row.locked
        ]
        ahead = {
            r.number for r in newest if any(map(self.records.is_locked, self.records.revisions(r.number)))
        }
        together = tuple(sorted(ahead | set(self.together)))
        if together == tuple(sorted(self.together)):
            return self
        return replace(self, together=together, connections_read={}, joined_read={})

    @cached_property
    def policy(self) -> gate.Policy:
        """What the job asks for."""
        return read.policy(self.facts)

    def part(self, row: PartFact) -> Part:
        """A revision as a record, read once."""
        return self.records.part(row)

    def counting(self, number: str, connection: Connection) -> tuple[Part, Standing]:
        """The revision of a ply that counts in a connection, and why."""
        newest = self.records.newest(number)
        if number in self.together:
            return self.part(newest), "in the set"
        locked = [r for r in self.records.revisions(number) if self.records.is_locked(r)]
        if locked:
            return self.part(max(locked, key=lambda r: r.place)), "locked"
        if newest.locked:
            return self.part(newest), "lock unsigned"
        frozen = any(number == part for part, _ in connection.frozen_interfaces)
        return self.part(newest), "frozen" if frozen else "open"

    def connection_case(self, connection: Connection, viewed_from: str) -> ConnectionCase:
        """A connection with its plies placed; each time the same one, with what was worked out for it."""
        key = (connection.name, viewed_from)
        if key not in self.connections_read:
            self.connections_read[key] = self._connection_case(connection, viewed_from)
        return self.connections_read[key]

    def _connection_case(self, connection: Connection, viewed_from: str) -> ConnectionCase:
        plies = []
        for ply in connection.plies:
            part, standing = self.counting(ply.part, connection)
            plies.append(PlacedPly(ply, part, standing, self.records.interface(part, ply, connection)))
        around, joined = (lambda: self._around(connection)), (lambda: self._joined(connection))
        return self.records.shared(
            ConnectionCase(connection, tuple(plies), viewed_from, around, joined, self.policy.odds)
        )

    def _joined(self, connection: Connection) -> Joined:
        """What is fitted with it, and a ring that it is in; worked out once."""
        if connection.name not in self.joined_read:
            case = self.connection_case(connection, "").shown((), ())
            connections = joined_with(case, self._connections_at)
            ring = ring_through((case, *connections), self.records.bolted) if is_fitted(case) else ()
            self.joined_read[connection.name] = Joined(connections, ring)
        return self.joined_read[connection.name]

    def _connections_at(self, number: str) -> tuple[ConnectionCase, ...]:
        connections = (m for m in self.records.connections_of(number) if m.kind == "bolted")
        return tuple(self.connection_case(m, "").shown((), ()) for m in connections)

    def _around(self, connection: Connection) -> Around:
        """The other connections of its parts, by name, and the key dimensions that are measured on their drawings."""
        others = {m.name: m for ply in connection.plies for m in self.records.connections_of(ply.part)}
        near = tuple(
            self.connection_case(others[n], "").shown((), ()) for n in sorted(others) if n != connection.name
        )
        measured_on = tuple(
            tuple(d for d in self.counting(ply.part, connection)[0].dimensions if d.measured_on)
            for ply in connection.plies
        )
        return Around(near, measured_on)

    def cases(self, number: str) -> tuple[PartCase, tuple[ConnectionCase, ...]]:
        """Everything the checks look at for one part."""
        row = self.records.newest(number)
        connections = tuple(self.connection_case(m, number) for m in self.records.connections_of(number))
        twin = self.part(self.records.newest(row.opposite_of)) if row.opposite_of else None
        names = tuple(m.connection.name for m in connections)
        others, left = self._others(row)
        part, asked = self.part(row), blocking(self.facts, number)
        late = tuple(
            q.needed_by
            for q in (*part.questions, *(q for _, q in asked))
            if q.needed_by and q.needed_by < self.today
        )
        return PartCase(part, names, twin, others, left, self.together, asked, late), connections

    def _others(self, row: PartFact) -> tuple[tuple[Part, ...], int]:
        """The parts that this one could be taken for, and how many were left out. No part of the subject."""
        if row.form != "cut":
            return (), 0
        numbers, left = self.records.neighbours.of(row.number, self.together)
        return tuple(self.part(self.records.newest(n)) for n in numbers), left

    def subject(self, part: PartCase, connections: Iterable[ConnectionCase]) -> str:
        """What a signature of this part names now."""
        digests = [
            self.records.connection_digest(m.connection, tuple(p.interface for p in m.plies))
            for m in connections
        ]
        return digest.subject(part.part, digests, self.policy, part.twin)

    def verdict(self, number: str) -> gate.Verdict:
        """Run every check, or take what is kept of it, and judge."""
        return self.judged(number)[0]

    def judged(self, number: str) -> tuple[gate.Verdict, tuple[gate.Outcome, ...]]:
        """The verdict of a part, and the outcomes that it was given by."""
        part, connections = self.cases(number)
        subject, outcomes = self.subject(part, connections), tuple(self._outcomes(part, connections))
        verdict = gate.judge(
            part=number,
            revision=part.part.revision,
            subject=subject,
            outcomes=outcomes,
            signatures=tuple(self._signatures_of(part.part)),
            permits=tuple(self.permits(part.part)),
            policy=self.policy,
        )
        return verdict, outcomes

    def connection_outcomes(self, case: ConnectionCase) -> Iterator[gate.Outcome]:
        """What becomes of every check of connections on one."""
        keys = Keys(case) if self.kept else None
        for rule in all_checks():
            if rule.on is ConnectionCase:
                yield self._outcome(rule, case, keys, case.connection.name)

    def _outcomes(self, part: PartCase, connections: tuple[ConnectionCase, ...]) -> Iterator[gate.Outcome]:
        own = Keys(part) if self.kept else None
        keys = [Keys(connection) if self.kept else None for connection in connections]
        for rule in all_checks():
            if rule.on is PartCase:
                yield self._outcome(rule, part, own, part.part.number)
                continue
            for connection, key in zip(connections, keys, strict=True):
                yield self._outcome(rule, connection, key, connection.connection.name)

    def _outcome(
        self, rule: Check, case: PartCase | ConnectionCase, keys: Keys | None, subject: str
    ) -> gate.Outcome:
        outcome = self.kept.of(rule, case, keys, subject) if self.kept and keys else rule.run(case, subject)
        return replace(outcome, plies=case.revisions) if isinstance(case, ConnectionCase) else outcome

    def signed_before(self, verdict: gate.Verdict) -> dict[str, str]:
        """Who signed this revision as what before a change that left the role open: {role: person}."""
        open_roles = {s.where for s in verdict.stops if s.code == "role_missing"}
        if not open_roles:
            return {}
        made = self._signatures_of(self.part(self.records.newest(verdict.part)))
        earlier = [s for s in made if s.sound and s.subject != verdict.subject]
        return {r: p for r, p in gate.signed_before(earlier, self.policy).items() if r in open_roles}

    def _signatures_of(self, part: Part) -> Iterator[gate.SignatureMade]:
        for row in self.records.rows(self.facts, SignatureFact, number=part.number, revision=part.revision):
            sound = self.records.vouching.of(row)
            seen = tuple(json.loads(row.acknowledged))
            yield gate.SignatureMade(row.person, row.role, row.subject, sound, row.self_check, seen)

    def permits(self, part: Part) -> Iterator[gate.PermitMade]:
        """What was accepted in writing for this revision, in force or not."""
        for row in self.records.rows(self.facts, PermitFact, number=part.number, revision=part.revision):
            sound, void = self.records.vouching.of(row), self._void(row)
            yield gate.PermitMade(
                row.code,
                row.place,
                row.reason,
                row.person,
                sound,
                not void,
                row.until,
                _decimal(length(row, "up_to")),
                row.above,
                row.connection,
                _parts_of(row),
                row.seq,
                void,
            )

    def _void(self, row: PermitFact) -> str:
        """Why a permit of a part is not in force here; empty where it is."""
        if row.until and row.until < self.today:
            return "expired"
        withdrawn = self.records.vouching.withdrawn(row.seq)
        if withdrawn:
            return f"withdrawn by {withdrawn}"
        if not row.connection:
            return ""
        found = [c for c in self.records.connections_of(row.number) if c.name == row.connection]
        if not found:
            return f"connection {row.connection} is gone"
        if self.connection_case(found[0], row.number).revisions != _parts_of(row):
            return "for other revisions"
        return ""


def _parts_of(row: PermitFact) -> tuple[tuple[str, str], ...]:
    return tuple((number, revision) for number, revision in json.loads(row.parts))


def _decimal(bound: Length | None) -> str:
    return plain(bound.mm) if bound else ""
