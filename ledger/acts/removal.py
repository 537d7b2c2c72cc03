"""Acts that take out of the record what was recorded by mistake: of an open part, and a clearance of a connection."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Annotated, Final, Literal

from pydantic import AfterValidator
from sqlmodel import Session, delete, select

from ledger.acts.base import Act, Entry, Name, Text, one_of, open_part
from ledger.acts.connections import connection_named
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.formula import names_in
from ledger.domain.measured_on import MeasuredOn
from ledger.domain.side import PointSide
from ledger.store.exact import formula, value
from ledger.store.facts import rows
from ledger.store.rows import row_with, the_row
from ledger.store.tables import (
    OF_CONNECTION,
    OF_PART,
    ClearanceFact,
    ConnectionFact,
    DimensionFact,
    DistanceFact,
    Fact,
    GroupFact,
    GroupReferenceFact,
    MeasuredHoleFact,
    OperationFact,
    PartFact,
    PlyFact,
    PointFact,
    ReadingFact,
)

_KEPT: Final[dict[str, tuple[type[Fact], str]]] = {
    "dimension": (DimensionFact, "name"),
    "group": (GroupFact, "name"),
    "operation": (OperationFact, "label"),
    "hole": (MeasuredHoleFact, "label"),
    "point": (PointFact, "label"),
}
DROPPED: Final = tuple(_KEPT)


class RemoveOfPart(Act):
    """A key dimension, hole group, hole operation, measured hole or point that is not meant any more."""

    concerns = OF_PART
    kind: Literal["remove_of_part"] = "remove_of_part"
    number: Name
    what: Annotated[str, AfterValidator(one_of("thing of a part", DROPPED))]
    name: Name
    reason: Text

    def check(self, facts: Session) -> None:
        self.rules(facts)
        users = tuple(dict.fromkeys(_users(facts, open_part(facts, self.number), self.what, self.name)))
        if users:
            raise BadInput(
                f"{visible(self.name)} of {visible(self.number)} is named by {', '.join(users)}: change that first"
            )

    def rules(self, facts: Session) -> None:
        part = open_part(facts, self.number)
        if not self.reason:
            raise BadInput(f"removing a {visible(self.what)} needs a reason")
        if self.what not in _KEPT:
            raise UnknownName("thing of a part", self.what, DROPPED)
        table, column = _KEPT[self.what]
        if row_with(facts, table, self.number, part.revision, self.name) is None:
            known = rows(facts, table, number=self.number, revision=part.revision)
            what = "measured hole" if self.what == "hole" else self.what
            raise UnknownName(f"{what} of {self.number}", self.name, [getattr(r, column) for r in known])
        if self.what == "dimension":
            self._not_held(facts, part)

    def _not_held(self, facts: Session, part: PartFact) -> None:
        row = the_row(facts, DimensionFact, self.number, part.revision, self.name)
        if row.frozen_value:
            raise BadInput(
                f"{visible(self.name)} was frozen at {row.frozen_value} when it was locked and stays in this revision; "
                f"release it (--no-frozen) and remove it in the next"
            )

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        key = (self.number, revision, self.name)
        facts.delete(facts.get_one(_KEPT[self.what][0], key))
        placed_from = facts.get(GroupReferenceFact, key) if self.what == "group" else None
        if placed_from:
            facts.delete(placed_from)
        facts.flush()


class RemoveClearance(Act):
    """A required clearance that is not meant any more; its readings stay in the journal."""

    concerns = OF_CONNECTION
    kind: Literal["remove_clearance"] = "remove_clearance"
    connection: Name
    name: Name
    reason: Text

    def rules(self, facts: Session) -> None:
        connection_named(facts, self.connection)
        if not self.reason:
            raise BadInput("removing a required clearance needs a reason")
        if row_with(facts, ClearanceFact, self.connection, self.name) is None:
            known = rows(facts, ClearanceFact, connection=self.connection)
            raise UnknownName(f"required clearance of {self.connection}", self.name, [c.name for c in known])

    def apply(self, facts: Session, entry: Entry) -> None:
        facts.delete(facts.get_one(ClearanceFact, (self.connection, self.name)))
        mine = (ReadingFact.connection == self.connection, ReadingFact.name == self.name)
        facts.exec(delete(ReadingFact).where(*mine))  # type: ignore[arg-type]  # columns at run time
        facts.flush()


def _users(facts: Session, part: PartFact, what: str, name: str) -> Iterator[str]:
    """Who speaks of it, in words."""
    if what == "dimension":
        yield from _formulas(facts, part.number, name)
    elif what == "group":
        yield from _connections(facts, part.number, name)
        yield from _bound(facts, part, name)
    elif what in ("hole", "point"):
        yield from _bound(facts, part, name)
        yield from _labelled(facts, part, name)


def _bound(facts: Session, part: PartFact, name: str) -> Iterator[str]:
    """Dimensions that are measured on a hole, point or group, and groups that are placed from it."""
    key = {"number": part.number, "revision": part.revision}
    for d in rows(facts, DimensionFact, **key):
        measured_on = value(MeasuredOn, d, "measured_on")
        if measured_on and name in (*measured_on.labels, measured_on.group):
            yield f"dimension {d.name}"
    yield from (f"group {r.name}" for r in rows(facts, GroupReferenceFact, **key) if r.reference == name)


def _labelled(facts: Session, part: PartFact, label: str) -> Iterator[str]:
    """Groups, operations, distances and sides that name a hole or point."""
    key = {"number": part.number, "revision": part.revision}
    yield from (f"group {g.name}" for g in rows(facts, GroupFact, **key) if label in json.loads(g.labels))
    yield from (f"the operation of {f.label}" for f in rows(facts, OperationFact, **key) if f.label == label)
    yield from (f"distance {d.a} {d.b}" for d in rows(facts, DistanceFact, **key) if label in (d.a, d.b))
    for p in rows(facts, PointFact, **key):
        side = value(PointSide, p, "side")
        if side and label in side.of:
            yield f"the side of {p.label}"


def _formulas(facts: Session, number: str, name: str) -> Iterator[str]:
    newest = {p.number: p for p in sorted(rows(facts, PartFact), key=lambda p: p.place)}
    for d in facts.exec(select(DimensionFact).where(DimensionFact.formula != "")):
        if newest[d.number].revision == d.revision and not newest[d.number].locked:
            named = {(ref.part or d.number, ref.name) for ref in names_in(formula(d, "formula").tree)}
            if (number, name) in named:
                yield f"dimension {d.name} of {d.number}"


def _connections(facts: Session, number: str, group: str) -> Iterator[str]:
    for ply in rows(facts, PlyFact, part=number):
        also = json.loads(facts.get_one(ConnectionFact, ply.connection).also)
        if group in (ply.group_name, *(groups[ply.place] for _fastener, _joint, groups in also)):
            yield f"connection {ply.connection}"
