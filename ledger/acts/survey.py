"""Acts about points of an existing structure and the distances measured between them."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field
from sqlmodel import Session

from ledger.acts.base import (
    Act,
    Entry,
    Name,
    OptionalName,
    Text,
    make,
    newest_part,
    open_part,
    put,
)
from ledger.acts.quantities import (
    LengthField,
    OptionalLength,
    OptionalSide,
    SignedLengthField,
    UnsignedLengthField,
    any_length,
    fact_fields,
)
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.side import PointSide
from ledger.domain.uncertainty import combined
from ledger.standards.expansion import heat_of
from ledger.standards.instruments import instrument, measured, rounded_up
from ledger.store.exact import length, lengths, list_of, value
from ledger.store.facts import point_labels, rows
from ledger.store.instruments import own_instruments
from ledger.store.rows import row_with
from ledger.store.tables import OF_PART, DistanceFact, MeasuredHoleFact, PartFact, PointFact

_FLAT, _SPACE = 2, 3


class RecordPoint(Act):
    """A named point of a site or bought part: plain, or with a diameter the centre of a hole or stud."""

    concerns = OF_PART
    kind: Literal["record_point"] = "record_point"
    number: Name
    label: Name
    diameter: OptionalLength = None
    at: tuple[SignedLengthField, ...] = ()
    uncertainty: OptionalLength = None
    side: OptionalSide = None
    instrument: OptionalName = ""

    def check(self, facts: Session) -> None:
        self.rules(facts)
        part = open_part(facts, self.number)
        if any(c.isspace() for c in self.label):
            raise BadInput(f"the point {visible(self.label)!r} has a space in its name: leave it out")
        if self.at and len(self.at) not in (_FLAT, _SPACE):
            raise BadInput("coordinates of a point are two, or three in space")
        if bool(self.at) != bool(self.uncertainty):
            raise BadInput(
                "measured coordinates come with their uncertainty, such as ±0.5 mm, and only they do"
            )
        if self.side:
            known = point_labels(facts, self.number, part.revision)
            if self.label in self.side.of:
                raise BadInput(f"the side of {visible(self.label)} is of itself: name other points")
            for label in self.side.of:
                if label not in known:
                    raise UnknownName(f"point of {self.number}", label, known)

    def rules(self, facts: Session) -> None:
        part = _surveyed_part(facts, self.number)
        if row_with(facts, MeasuredHoleFact, self.number, part.revision, self.label):
            raise BadInput(f"{visible(self.label)} is a hole of {visible(self.number)} already")

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        old = row_with(facts, PointFact, self.number, revision, self.label)
        every = rows(facts, PointFact, number=self.number, revision=revision)
        place = old.place if old else 1 + max((p.place for p in every), default=0)
        fields = {**fact_fields(PointFact, self), "at": list_of(self.at), "day": entry.at[:10]}
        put(facts, PointFact(revision=revision, place=place, **fields))


class RecordDistance(Act):
    """A measured distance between two points; recorded again, it replaces what was read before."""

    concerns = OF_PART
    kind: Literal["record_distance"] = "record_distance"
    number: Name
    a: Name
    b: Name
    value: LengthField
    standard: LengthField
    uncertainty: LengthField
    instrument: Name
    readings: tuple[UnsignedLengthField, ...] = Field(min_length=1)
    how: Text = ""

    def check(self, facts: Session) -> None:
        self.rules(facts)
        part = open_part(facts, self.number)
        known = point_labels(facts, self.number, part.revision)
        for label in (self.a, self.b):
            if label not in known:
                raise UnknownName(f"point of {self.number}", label, known)

    def rules(self, facts: Session) -> None:
        _surveyed_part(facts, self.number)
        if self.a == self.b:
            raise BadInput(f"a distance from {visible(self.a)} to itself: name two different points")

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        a, b = sorted((self.a, self.b))
        fields = {**fact_fields(DistanceFact, self), "a": a, "b": b, "day": entry.at[:10]}
        put(facts, DistanceFact(revision=revision, **{**fields, "readings": list_of(self.readings)}))


class RemoveDistance(Act):
    """A distance that was read wrongly and is not to count."""

    concerns = OF_PART
    kind: Literal["remove_distance"] = "remove_distance"
    number: Name
    a: Name
    b: Name
    reason: Text

    def rules(self, facts: Session) -> None:
        part = open_part(facts, self.number)
        if not self.reason:
            raise BadInput("removing a distance needs a reason")
        a, b = sorted((self.a, self.b))
        if row_with(facts, DistanceFact, self.number, part.revision, a, b) is None:
            known = rows(facts, DistanceFact, number=self.number, revision=part.revision)
            raise UnknownName(f"distance of {self.number}", f"{a} {b}", [f"{d.a} {d.b}" for d in known])

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        a, b = sorted((self.a, self.b))
        facts.delete(facts.get_one(DistanceFact, (self.number, revision, a, b)))
        facts.flush()


def _surveyed_part(facts: Session, number: str) -> PartFact:
    part = open_part(facts, number)
    if part.form == "cut":
        raise BadInput(f"{visible(number)} is cut from a drawing: its points come from its DXF")
    return part


def distance_act(facts: Session, _today: str, *, reading: str, at: str = "", **named: str) -> Act:
    """
    The act of a line of readings between two points: `1532 1533 mm tape`, at a temperature where it was read.

    Raises BadInput, UnknownName.
    """
    heat = heat_of(at, newest_part(facts, named["number"]).material)
    found = measured(reading, own=own_instruments(facts), heat=heat)
    return make(
        RecordDistance,
        value=found.value,
        standard=found.standard,
        uncertainty=found.uncertainty,
        instrument=found.instrument,
        readings=found.readings,
        how=found.how,
        **named,
    )


def point_act(facts: Session, _today: str, **fields: Any) -> Act:
    """
    The act of a point; what is not named stays as it was: coordinates, uncertainty and instrument all or none of them.

    Where coordinates state no uncertainty the instrument gives it. Raises BadInput.
    """
    revision = newest_part(facts, fields["number"]).revision
    old = row_with(facts, PointFact, fields["number"], revision, fields["label"])
    if old:
        kept: dict[str, Any] = {"diameter": length(old, "diameter"), "side": value(PointSide, old, "side")}
        if not fields.keys() & {"at", "uncertainty", "instrument"}:
            kept |= {
                "at": lengths(old.at),
                "uncertainty": length(old, "uncertainty"),
                "instrument": old.instrument,
            }
        fields = {**kept, **fields}
    at, tool = fields.get("at", ()), fields.get("instrument", "")
    if at and tool and not fields.get("uncertainty"):
        farthest = max(abs(float(any_length(c).mm)) for c in at)
        total = combined(instrument(tool, own_instruments(facts)).contributions(farthest))
        fields = {**fields, "uncertainty": rounded_up(total.expanded)}
    return make(RecordPoint, **fields)
