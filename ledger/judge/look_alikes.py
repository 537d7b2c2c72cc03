"""
Which other parts a part could be taken for: cut parts, still open, with the same etched number or none either.

Of the parts that go out together every one counts; of the rest those of the same vendor and material. They are found
by their *likeness* (`ledger.fit.likeness`), which is kept with each drawing, so that no other drawing has to be read.
"""

from __future__ import annotations

import json
from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from sqlmodel import Session, select

from ledger.checks.tell_apart import ALIKE_MM
from ledger.domain.shape import profile_from_json
from ledger.fit.likeness import Likeness, likeness_of, read_likeness
from ledger.standards.table import plain_name
from ledger.store import facts as read
from ledger.store.tables import PartFact, ProfileFact

_REACH_MM = ALIKE_MM + 1.0  # farther apart than any two that look alike
MOST = 24  # held against a part by their geometry; the nearest ones


@dataclass(frozen=True, slots=True)
class Near:
    """An open cut part as far as it takes to find it."""

    number: str
    vendor: str
    material: str
    geometry: str
    likeness: Likeness


@dataclass
class Neighbours:
    """The open cut parts of a job, by etched number, holes and openings; read once, when first asked for."""

    facts: Session
    _known: dict[str, tuple[str, Near]] | None = field(default=None, repr=False)
    _alike: dict[tuple[str, int, int], list[Near]] = field(default_factory=dict, repr=False)

    def of(self, number: str, together: Collection[str]) -> tuple[tuple[str, ...], int]:
        """The numbers of the parts that it could be taken for, nearest first, and how many were left out."""
        if self._known is None:
            self._known = dict(self._read())
            for listed in self._alike.values():
                listed.sort(key=_reach)
        if number not in self._known:
            return (), 0
        etched, own = self._known[number]
        found = [
            near
            for near in self._about_as_large(etched, own)
            if near.number != number
            and (near.number in together or (near.vendor, near.material) == (own.vendor, own.material))
            and near.likeness.may_be_within(own.likeness, ALIKE_MM)
        ]
        found.sort(key=lambda near: self._order(near, own, together))
        return tuple(near.number for near in found[:MOST]), max(0, len(found) - MOST)

    def _about_as_large(self, etched: str, own: Near) -> list[Near]:
        """Those whose reach is near enough, out of a list in the order of their reaches."""
        listed = self._alike[etched, own.likeness.holes, own.likeness.openings]
        low = bisect_left(listed, own.likeness.reach_mm - _REACH_MM, key=_reach)
        return listed[low : bisect_right(listed, own.likeness.reach_mm + _REACH_MM, key=_reach)]

    @staticmethod
    def _order(near: Near, own: Near, together: Collection[str]) -> tuple[bool, bool, float, str]:
        """Those that go out together first, then the same drawing, then the nearest in size."""
        apart = abs(near.likeness.reach_mm - own.likeness.reach_mm)
        return (near.number not in together, near.geometry != own.geometry, apart, near.number)

    def _read(self) -> Iterator[tuple[str, tuple[str, Near]]]:
        p, d = PartFact, ProfileFact
        query = (
            select(p.number, p.etched, p.material, d.vendor, d.geometry, d.geometry_file, d.likeness)  # type: ignore[call-overload]  # seven columns
            .where(p.number == d.number, p.revision == d.revision, p.form == "cut", p.locked.is_(False))  # type: ignore[attr-defined]  # a column at run time
            .order_by(p.number)
        )
        for number, etched, material, vendor, geometry, kept_file, written in self.facts.exec(query):
            likeness = read_likeness(written) or _from_drawing(self.facts, kept_file)
            if likeness is None:
                continue
            near = Near(number, vendor, plain_name(material), geometry, likeness)
            self._alike.setdefault((etched, likeness.holes, likeness.openings), []).append(near)
            yield number, (etched, near)


def _reach(near: Near) -> float:
    return near.likeness.reach_mm


def _from_drawing(facts: Session, kept_file: str) -> Likeness | None:
    """The likeness of a drawing that an older program took, worked out once in a sitting."""
    if kept_file not in _WORKED_OUT:
        _WORKED_OUT[kept_file] = likeness_of(profile_from_json(json.loads(read.kept_file(facts, kept_file))))
    return _WORKED_OUT[kept_file]


_WORKED_OUT: dict[str, Likeness | None] = {}
