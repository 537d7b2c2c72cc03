"""
From facts to one verdict: which revision of every ply counts, the cases, the checks, the signatures.

The other ply of a connection is taken from the set judged together, else its newest locked revision, else its open one;
the last stands as *open*, or *frozen* where its interface was frozen for this connection.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from threading import Lock

from sqlmodel import Session

from ledger.cases.build import Build
from ledger.cases.connections import ConnectionCase
from ledger.cases.parts import PartCase, SurroundedPart
from ledger.cases.rings import Leg, joined_with
from ledger.cases.surroundings import (
    OF_CONNECTIONS,
    OF_PARTS,
    AssembledPart,
    BuiltPart,
    CountedConnection,
    JoinedConnection,
    OfConnection,
    OfPart,
    SurroundedConnection,
)
from ledger.checks import all_checks
from ledger.checks._frame import Check
from ledger.domain import digest, gate
from ledger.domain.connection import Connection
from ledger.domain.errors import BadInput
from ledger.domain.quantity import Length, plain
from ledger.domain.record import Part, Standing
from ledger.domain.verdict import Outcome, PermitMade, Policy, SignatureMade, Verdict
from ledger.judge.outcomes import Outcomes
from ledger.judge.records import Records
from ledger.store import facts as read
from ledger.store.exact import length
from ledger.store.questions import blocking
from ledger.store.tables import PartFact, PermitFact, SignatureFact


class _Builds:
    """The builds that were looked at last in this process, by the digest of everything in them."""

    def __init__(self, most: int) -> None:
        self._most, self._known, self._one = most, dict[str, Build](), Lock()

    def once(self, digest: str, made: Build) -> Build:
        """The build of this content that is known, else this one, from now on."""
        with self._one:
            known = self._known.pop(digest, made)
            self._known[digest] = known  # the newest stands last
            while len(self._known) > self._most:
                del self._known[next(iter(self._known))]
            return known


_BUILDS = _Builds(3)


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
    _cases: dict[str, ConnectionCase] = field(default_factory=dict, init=False, repr=False, compare=False)
    _builds: dict[str, Build] = field(default_factory=dict, init=False, repr=False, compare=False)
    _seen: dict[tuple[type, str, str], OfConnection] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

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
        return replace(self, together=tuple(sorted(still_open | {number})))

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
        return replace(self, together=together)

    @cached_property
    def policy(self) -> Policy:
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
        revisions = self.records.revisions(number)
        locked = [r for r in revisions if self.records.is_locked(r)]
        doubtful = [r for r in revisions if self.records.is_doubtful(r)]
        if doubtful and (not locked or doubtful[-1].place > locked[-1].place):
            return self.part(doubtful[-1]), "lock unsigned"
        if locked:
            return self.part(max(locked, key=lambda r: r.place)), "locked"
        if newest.locked:
            return self.part(newest), "lock unsigned"
        frozen = any(number == part for part, _ in connection.frozen_interfaces)
        return self.part(newest), "frozen" if frozen else "open"

    def connection_case(self, connection: Connection) -> ConnectionCase:
        """A connection with its plies placed; each time the same one, with what was worked out of it."""
        if connection.name not in self._cases:
            parts = tuple(self.counting(ply.part, connection)[0] for ply in connection.plies)
            self._cases[connection.name] = self.records.case(connection, parts, self.policy.odds)
        return self._cases[connection.name]

    def seen(self, on: type, connection: Connection, viewed_from: str = "") -> OfConnection:
        """A connection as a check is given it whose argument is of this type; laid out once."""
        key = (on, connection.name, viewed_from if on is CountedConnection else "")
        if key not in self._seen:
            self._seen[key] = self._lay_out(on, connection, viewed_from)
        return self._seen[key]

    def _lay_out(self, on: type, connection: Connection, viewed_from: str) -> OfConnection:
        if on is SurroundedConnection:
            return self.surrounded(connection)
        if on is JoinedConnection:
            return self._joined(connection)
        if on is CountedConnection:
            return self._counted(connection, viewed_from)
        return self.connection_case(connection)

    def surrounded(self, connection: Connection) -> SurroundedConnection:
        """A connection with the other connections of its parts, by name."""
        others = {m.name: m for ply in connection.plies for m in self.records.connections_of(ply.part)}
        near = tuple(self.connection_case(others[n]) for n in sorted(others) if n != connection.name)
        return SurroundedConnection(self.connection_case(connection), near)

    def _joined(self, connection: Connection) -> JoinedConnection:
        """A connection with what is fitted with it."""
        case = self.connection_case(connection)
        return JoinedConnection(case, joined_with(case, self._bolted_at))

    def assembled(self, number: str) -> AssembledPart:
        """A part with the rings of bolted connections that it is in; what hangs on their bolts is of them."""
        return AssembledPart(number, tuple(self.ring(names) for names in self.records.rings_of(number)))

    def build(self, number: str) -> Build:
        """Everything that hangs together with a part by bolts, with all connections of those parts, by name."""
        bolted, parts, left = self.records.bolted, {number}, [number]
        while left:
            more = {p for _, of in bolted.get(left.pop(), ()) for p in of} - parts
            parts |= more
            left += sorted(more)
        key = min(parts)
        if key not in self._builds:
            every = (
                {c.name: c for n in sorted(parts) for c in self.records.connections_of(n)}
                if len(parts) > 1
                else {}
            )
            made = Build(tuple(self.connection_case(every[n]) for n in sorted(every)))
            if made.is_more_than_pairs:  # what one of the same content has worked out, this one need not
                made = _BUILDS.once(self.records.digests.of(made), made)
            self._builds[key] = made
        return self._builds[key]

    def ring(self, names: Iterable[str]) -> tuple[ConnectionCase, ...]:
        """These bolted connections with those that are one question with them, by name."""
        found: dict[str, ConnectionCase] = {}
        for name in sorted(names):
            case = self.connection_case(self.records.connection(name))
            found[name] = case
            found.update({c.connection.name: c for c in joined_with(case, self._bolted_at)})
        return tuple(found[name] for name in sorted(found))

    def _bolted_at(self, number: str) -> tuple[ConnectionCase, ...]:
        connections = (m for m in self.records.connections_of(number) if m.kind == "bolted")
        return tuple(self.connection_case(m) for m in connections)

    def _counted(self, connection: Connection, viewed_from: str) -> CountedConnection:
        """A connection with why its revisions count, and the key dimensions measured on their drawings."""
        counting = [self.counting(ply.part, connection) for ply in connection.plies]
        return CountedConnection(
            self.connection_case(connection),
            tuple(standing for _, standing in counting),
            viewed_from,
            tuple(tuple(d for d in part.dimensions if d.measured_on) for part, _ in counting),
            self.surrounded(connection).around,
        )

    def way(self, start: str, end: str) -> tuple[Leg, ...]:
        """The shortest way from part to part over bolted connections. Raises BadInput where there is none."""
        came: dict[str, tuple[str, str]] = {start: ("", "")}
        queue = deque([start])
        while queue and end not in came:
            at = queue.popleft()
            for name, parts in self.records.bolted.get(at, ()):
                for following in parts:
                    if following not in came:
                        came[following] = name, at
                        queue.append(following)
        if end not in came:
            raise BadInput(f"{start} and {end} are not bolted to each other, directly or over other parts")
        legs = []
        while end != start:
            name, before = came[end]
            legs.append(Leg(self.connection_case(self.records.connection(name)), before, end))
            end = before
        return tuple(reversed(legs))

    def rings_on(self, legs: Iterable[Leg]) -> tuple[tuple[ConnectionCase, ...], ...]:
        """The connections of a way, each alone or with its whole ring."""
        groups: dict[tuple[str, ...], tuple[ConnectionCase, ...]] = {}
        for leg in legs:
            name = leg.case.connection.name
            cases = self.ring(next((ring for ring in self.records.rings if name in ring), frozenset((name,))))
            groups[tuple(c.connection.name for c in cases)] = cases
        return tuple(groups.values())

    def cases(self, number: str) -> tuple[PartCase, tuple[ConnectionCase, ...]]:
        """A part and its connections, which a signature of it names."""
        row = self.records.newest(number)
        connections = tuple(self.connection_case(m) for m in self.records.connections_of(number))
        twin = self.part(self.records.newest(row.opposite_of)) if row.opposite_of else None
        return PartCase(self.part(row), tuple(m.connection.name for m in connections), twin), connections

    def surrounded_part(self, case: PartCase) -> SurroundedPart:
        """A part with what it could be taken for, the set it is judged in, and the questions that block it."""
        number = case.part.number
        others, left = self._others(self.records.newest(number))
        asked = blocking(self.facts, number)
        late = tuple(
            q.needed_by
            for q in (*case.part.questions, *(q for _, q in asked))
            if q.needed_by and q.needed_by < self.today
        )
        return SurroundedPart(case, others, left, self.together, asked, late, self.policy.raised)

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

    def verdict(self, number: str) -> Verdict:
        """Run every check, or take what is kept of it, and judge."""
        return self.judged(number)[0]

    def judged(self, number: str) -> tuple[Verdict, tuple[Outcome, ...]]:
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

    def connection_outcomes(self, connection: Connection, viewed_from: str = "") -> Iterator[Outcome]:
        """What becomes of every check of connections on one."""
        for rule in all_checks():
            if rule.on in OF_CONNECTIONS:
                yield self._of_connection(rule, connection, viewed_from)

    def _outcomes(self, part: PartCase, connections: tuple[ConnectionCase, ...]) -> Iterator[Outcome]:
        number = part.part.number
        seen: dict[type, OfPart] = {
            PartCase: part,
            SurroundedPart: self.surrounded_part(part),
            AssembledPart: self.assembled(number),
            BuiltPart: BuiltPart(number, self.build(number)),
        }
        for rule in all_checks():
            if rule.on in OF_PARTS:
                yield self._outcome(rule, seen[rule.on], number)
                continue
            for case in connections:
                yield self._of_connection(rule, case.connection, number)

    def _of_connection(self, rule: Check, connection: Connection, viewed_from: str) -> Outcome:
        outcome = self._outcome(rule, self.seen(rule.on, connection, viewed_from), connection.name)
        return replace(outcome, plies=self.connection_case(connection).revisions)

    def _outcome(self, rule: Check, argument: OfPart | OfConnection, subject: str) -> Outcome:
        if self.kept is None:
            return rule.run(argument, subject)
        return self.kept.of(rule, argument, self.records.digests.of(argument), subject)

    def signed_before(self, verdict: Verdict) -> dict[str, str]:
        """Who signed this revision as what before a change that left the role open: {role: person}."""
        open_roles = {s.where for s in verdict.stops if s.code == "role_missing"}
        if not open_roles:
            return {}
        made = self._signatures_of(self.part(self.records.newest(verdict.part)))
        earlier = [s for s in made if s.sound and s.subject != verdict.subject]
        return {r: p for r, p in gate.signed_before(earlier, self.policy).items() if r in open_roles}

    def _signatures_of(self, part: Part) -> Iterator[SignatureMade]:
        for row in self.records.rows(self.facts, SignatureFact, number=part.number, revision=part.revision):
            sound = self.records.vouching.of(row)
            seen = tuple(json.loads(row.acknowledged))
            yield SignatureMade(row.person, row.role, row.subject, sound, row.self_check, seen)

    def permits(self, part: Part) -> Iterator[PermitMade]:
        """What was accepted in writing for this revision, in force or not."""
        for row in self.records.rows(self.facts, PermitFact, number=part.number, revision=part.revision):
            sound, void = self.records.vouching.of(row), self._void(row)
            yield PermitMade(
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
        if self.connection_case(found[0]).revisions != _parts_of(row):
            return "for other revisions"
        return ""


def _parts_of(row: PermitFact) -> tuple[tuple[str, str], ...]:
    return tuple((number, revision) for number, revision in json.loads(row.parts))


def _decimal(bound: Length | None) -> str:
    return plain(bound.mm) if bound else ""
