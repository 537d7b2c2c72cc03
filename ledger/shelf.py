"""
Records read once: revisions, parts and mates, for judging many parts in one reading.

A *whole* shelf reads each table at once, which pays where most of a shop is judged; else only what is asked for is
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
from ledger.checks._case import MateCase
from ledger.domain import digest
from ledger.domain.errors import Unreadable
from ledger.domain.mated import Mate, Ply
from ledger.domain.record import Part
from ledger.domain.shape import Profile
from ledger.neighbours import Neighbours
from ledger.store import facts as read
from ledger.store.tables import LockFact, MateFact, PartFact, PlyFact, ProfileFact

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
class Shelf:
    """What was read of a shop in one reading; the facts must not change meanwhile."""

    facts: Session
    whole: bool = False
    _parts: dict[Revision, Part] = field(default_factory=dict, repr=False)
    _mates: dict[str, Mate] = field(default_factory=dict, repr=False)
    _tables: dict[tuple[type[SQLModel], tuple[str, ...]], dict[tuple[Any, ...], list[Any]]] = field(
        default_factory=dict, repr=False
    )

    _faces: dict[tuple[str, ...], str] = field(default_factory=dict, repr=False)
    _cases: dict[tuple[Any, ...], MateCase] = field(default_factory=dict, repr=False)
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
        """Whether a revision is locked, and by an entry whose signature counts."""
        locks = (
            self.rows(self.facts, LockFact, number=row.number, revision=row.revision) if row.locked else ()
        )
        return any(self.vouching.of(lock) for lock in locks)

    def part(self, row: PartFact) -> Part:
        """A revision as a record."""
        key = (row.number, row.revision)
        if key not in self._parts:
            self._parts[key] = read.part(self.facts, row, reads_the_same, self.rows)
        return self._parts[key]

    def mates_of(self, number: str) -> list[Mate]:
        """Every mate that the part is a ply of, by name."""
        return [
            self._mate(name) for name in sorted({p.mate for p in self.rows(self.facts, PlyFact, part=number)})
        ]

    @cached_property
    def bolted(self) -> dict[str, tuple[tuple[str, tuple[str, ...]], ...]]:
        """The mates of every part whose bolt holes are made beforehand, by name, with their parts."""
        kinds = {
            row.name
            for row in read.rows(self.facts, MateFact)
            if row.kind == "bolted" and row.joint != "drilled on site"
        }
        parts: dict[str, list[str]] = {}
        for row in read.rows(self.facts, PlyFact):
            if row.mate in kinds:
                parts.setdefault(row.mate, []).append(row.part)
        found: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
        for name in sorted(parts):
            for number in parts[name]:
                found.setdefault(number, []).append((name, tuple(sorted(parts[name]))))
        return {number: tuple(rows) for number, rows in found.items()}

    def face(self, part: Part, ply: Ply, mate: Mate) -> str:
        """The face that a part shows to a mate; worked out once for all mates that read as much of it."""
        made_of = digest.reads_material(part, ply, mate)
        key = (part.number, part.revision, ply.group, ply.face_up, mate.kind, str(made_of), *ply.also)
        if key not in self._faces:
            self._faces[key] = digest.face_shown(part, ply, mate.kind, material=made_of)
        return self._faces[key]

    def mate_digest(self, mate: Mate, faces: tuple[str, ...]) -> str:
        """The digest of a mate with these faces."""
        key = (mate.name, *faces)
        if key not in self._faces:
            self._faces[key] = digest.mate_digest(mate, faces)
        return self._faces[key]

    def shared(self, case: MateCase) -> MateCase:
        """The case with what was worked out of it already, seen from the other side."""
        key = (case.mate.name, *((p.part.number, p.part.revision) for p in case.plies))
        case.shares(self._cases.setdefault(key, case))
        return case

    @cached_property
    def neighbours(self) -> Neighbours:
        """Parts that others could be taken for."""
        return Neighbours(self.facts)

    def rows(self, facts: Session, table: type[T], **where: Any) -> list[T]:
        """The rows of a table with these values, in the order of its key; of a whole shelf out of the whole table."""
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

    def _mate(self, name: str) -> Mate:
        if name not in self._mates:
            (row,) = self.rows(self.facts, MateFact, name=name)
            self._mates[name] = read.mate(self.facts, row, self.rows)
        return self._mates[name]
