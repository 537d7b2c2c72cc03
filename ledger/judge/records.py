"""
Records read once: revisions, parts and connections, for judging many parts in one reading.

A *whole* records reads each table at once, which pays where most of a job is judged; else only what is asked for is
read.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

from sqlmodel import Session, SQLModel

from ledger.acts.base import newest_part
from ledger.acts.vouching import Vouching
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.rings import blocks
from ledger.domain import digest
from ledger.domain.connection import Connection, Ply
from ledger.domain.errors import Unreadable
from ledger.domain.record import Part
from ledger.domain.shape import Profile
from ledger.judge.case_digests import Digests
from ledger.judge.lock_proof import LockProofs
from ledger.judge.look_alikes import Neighbours
from ledger.store import facts as read
from ledger.store.tables import ConnectionFact, LockFact, PartFact, PlyFact, ProfileFact

T = TypeVar("T", bound=SQLModel)
Revision = tuple[str, str]


def reads_the_same(taken: ProfileFact, profile: Profile, dxf: bytes) -> bool:
    """Whether this program's reader still reads those bytes as they were taken: the same shapes, and no new stop."""
    from ledger.profile.read import READER_VERSION, geometry_digest, read_profile

    if taken.reader == READER_VERSION:
        return True
    try:
        seen = read_profile(
            dxf, unit=taken.unit if taken.unit_stated else None, roles=json.loads(taken.roles)
        )
    except Unreadable:
        return False
    return geometry_digest(seen) == taken.geometry and _stops(seen) <= _stops(profile)


def _stops(profile: Profile) -> set[str]:
    return {f.code for f in profile.findings if f.severity == "stop"}


@dataclass
class Records:
    """What was read of a job in one reading; the facts must not change meanwhile."""

    facts: Session
    whole: bool = False
    _parts: dict[Revision, Part] = field(default_factory=dict, repr=False)
    _connections: dict[str, Connection] = field(default_factory=dict, repr=False)
    _tables: dict[tuple[type[SQLModel], tuple[str, ...]], dict[tuple[Any, ...], list[Any]]] = field(
        default_factory=dict, repr=False
    )

    digests: Digests = field(default_factory=Digests, repr=False)
    _faces: dict[tuple[str, ...], str] = field(default_factory=dict, repr=False)
    _cases: dict[tuple[Any, ...], ConnectionCase] = field(default_factory=dict, repr=False)
    _asked: dict[tuple[Any, ...], list[Any]] = field(default_factory=dict, repr=False)

    def revisions(self, number: str) -> list[PartFact]:
        """Every revision of a part, oldest first; empty for a number that there is not."""
        return sorted(self.rows(self.facts, PartFact, number=number), key=lambda r: r.place)

    def newest(self, number: str) -> PartFact:
        """The newest revision of a part. Raises UnknownName."""
        found = self.revisions(number)
        return found[-1] if found else newest_part(self.facts, number)

    @cached_property
    def vouching(self) -> Vouching:
        """What somebody signed, as far as it counts."""
        return Vouching(self.facts)

    def is_locked(self, row: PartFact) -> bool:
        """Whether a revision is locked, by an entry that counts; where something goes out by it, that proves itself."""
        if self.proves:
            locks = self.lock_proofs.locks_of(row.number, row.revision)
            return row.locked and bool(locks) and all(map(self.lock_proofs.of, locks))
        locks = (
            self.rows(self.facts, LockFact, number=row.number, revision=row.revision) if row.locked else []
        )
        return any(map(self.vouching.of, locks))

    def is_doubtful(self, row: PartFact) -> bool:
        """Whether a revision was locked by an entry whose signature counts, and which does not prove itself."""
        locked = self.proves and bool(self.lock_proofs.locks_of(row.number, row.revision))
        return locked and not self.is_locked(row)

    @property
    def proves(self) -> bool:
        """Whether these facts were replayed, to let something out by them: then locks must prove themselves."""
        return "latest" in self.facts.info

    @cached_property
    def lock_proofs(self) -> LockProofs:
        """The locks of the job, as far as they prove themselves."""
        return LockProofs(self.facts, self.vouching)

    def part(self, row: PartFact) -> Part:
        """A revision as a record."""
        key = (row.number, row.revision)
        if key not in self._parts:
            self._parts[key] = read.part(self.facts, row, reads_the_same, self.rows)
        return self._parts[key]

    def stand_in(self, part: Part) -> None:
        """Look at a revision as it would be, in place of how it is recorded; before anything of it was looked at."""
        self._parts[(part.number, part.revision)] = part

    def connections_of(self, number: str) -> list[Connection]:
        """Every connection that the part is a ply of, by name."""
        return [
            self.connection(name)
            for name in sorted({p.connection for p in self.rows(self.facts, PlyFact, part=number)})
        ]

    @cached_property
    def bolted(self) -> dict[str, tuple[tuple[str, tuple[str, ...]], ...]]:
        """The connections of every part whose bolt holes are made beforehand, by name, with their parts."""
        kinds = {
            row.name
            for row in read.rows(self.facts, ConnectionFact)
            if row.kind == "bolted" and row.joint != "drilled on site"
        }
        parts: dict[str, list[str]] = {}
        for row in read.rows(self.facts, PlyFact):
            if row.connection in kinds:
                parts.setdefault(row.connection, []).append(row.part)
        found: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
        for name in sorted(parts):
            for number in parts[name]:
                found.setdefault(number, []).append((name, tuple(sorted(parts[name]))))
        return {number: tuple(rows) for number, rows in found.items()}

    @cached_property
    def rings(self) -> tuple[frozenset[str], ...]:
        """The bolted connections that lie on rings, those that share one together, by name."""
        return blocks(self.bolted)

    def rings_of(self, number: str) -> tuple[frozenset[str], ...]:
        """The rings that a part is in, in a steady order."""
        own = {name for name, _ in self.bolted.get(number, ())}
        return tuple(sorted((ring for ring in self.rings if ring & own), key=sorted))

    def interface(self, part: Part, ply: Ply, connection: Connection) -> str:
        """The interface that a part shows to a connection; worked out once for connections that read as much of it."""
        made_of = digest.reads_material(part, ply, connection)
        key = (part.number, part.revision, ply.group, ply.face_up, connection.kind, str(made_of), *ply.also)
        if key not in self._faces:
            self._faces[key] = digest.interface_shown(part, ply, connection.kind, material=made_of)
        return self._faces[key]

    def connection_digest(self, connection: Connection, interfaces: tuple[str, ...]) -> str:
        """The digest of a connection with these interfaces."""
        key = (connection.name, *interfaces)
        if key not in self._faces:
            self._faces[key] = digest.connection_digest(connection, interfaces)
        return self._faces[key]

    def case(self, connection: Connection, parts: tuple[Part, ...], odds: str) -> ConnectionCase:
        """A connection with its parts at these revisions; always the same one, with what was worked out of it."""
        key = (connection.name, odds, *((p.number, p.revision) for p in parts))
        if key not in self._cases:
            plies = tuple(
                PlacedPly(ply, part, self.interface(part, ply, connection))
                for ply, part in zip(connection.plies, parts, strict=True)
            )
            self._cases[key] = ConnectionCase(connection, plies, odds)
        return self._cases[key]

    @cached_property
    def neighbours(self) -> Neighbours:
        """Parts that others could be taken for."""
        return Neighbours(self.facts)

    def rows(self, facts: Session, table: type[T], **where: Any) -> list[T]:
        """The rows of a table with these values, in the order of its key; of a whole records out of the whole table."""
        if not self.whole:
            asked = (table, *where.items())
            if asked not in self._asked:
                self._asked[asked] = read.rows(facts, table, **where)
            return self._asked[asked]
        by = (table, tuple(where))
        if by not in self._tables:
            grouped: dict[tuple[Any, ...], list[Any]] = {}
            for row in read.rows(facts, table):
                grouped.setdefault(tuple(getattr(row, name) for name in where), []).append(row)
            self._tables[by] = grouped
        return self._tables[by].get(tuple(where.values()), [])

    def connection(self, name: str) -> Connection:
        """A connection by its name, read once."""
        if name not in self._connections:
            (row,) = self.rows(self.facts, ConnectionFact, name=name)
            self._connections[name] = read.connection(self.facts, row, self.rows)
        return self._connections[name]
