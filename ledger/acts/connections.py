"""Acts about how parts go together: connection, required clearance, what was measured, which interface is frozen."""

from __future__ import annotations

import json
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from sqlmodel import Session, delete, select

from ledger.acts.base import Act, Entry, Name, OptionalName, Text, newest_part, one_of, put
from ledger.acts.quantities import (
    BoundsField,
    OptionalBounds,
    OptionalLength,
    OptionalPosition,
    SignedLengthField,
    fact_fields,
)
from ledger.domain.connection import (
    CONNECTION_KINDS,
    HOLES_MADE,
    JOINTS,
    TURNED_OVER,
    WELD_SIDES,
    WELDED,
    Pins,
    Sides,
)
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.standards.weld_classes import CLASSES
from ledger.store.rows import row_with
from ledger.store.tables import (
    OF_CONNECTION,
    BoltFact,
    ClearanceFact,
    ConnectionFact,
    FrozenInterfaceFact,
    GroupFact,
    PlyFact,
    ReadingFact,
)

_BOTH = 2


class PlyField(BaseModel):
    """One part's place in a connection."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    part: Name
    group: OptionalName = ""
    face_up: Name = "top"  # of a part that is not cut any name of a face: its feet and its flange are two


class AlsoField(BaseModel):
    """A fastener beside the connection's own: its joint and the hole group of each ply."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    fastener: Name
    joint: Annotated[str, AfterValidator(one_of("joint", JOINTS))]
    groups: tuple[Name, ...]


class RecordConnection(Act):
    """How parts go together; declared again, it replaces what was said before."""

    concerns = ("connection", "name")
    kind: Literal["record_connection"] = "record_connection"
    name: Name
    connection_kind: Annotated[str, AfterValidator(one_of("kind of connection", CONNECTION_KINDS))]
    plies: tuple[PlyField, ...]
    joint: str = ""
    fastener: OptionalName = ""
    turned_over: Annotated[str, AfterValidator(one_of("turned_over", TURNED_OVER))] = "no"
    position: OptionalPosition = None
    gap: OptionalBounds = None
    also: tuple[AlsoField, ...] = ()
    weld_side: Annotated[str, AfterValidator(one_of("side of a weld", ("", *WELD_SIDES)))] = ""
    weld_class: Annotated[str, AfterValidator(one_of("class of ISO 13920", ("", *CLASSES)))] = ""
    holes_made: Annotated[str, AfterValidator(one_of("way of making holes", ("", *HOLES_MADE)))] = ""

    def check(self, facts: Session) -> None:
        self.rules(facts)
        for ply in self.plies:
            if newest_part(facts, ply.part).form == "cut":
                one_of("face", ("top", "bottom", "edge"))(ply.face_up)
        for more in self.also:
            self._also_known(facts, more)
        if self.connection_kind == "bolted":
            self._bolted_known()
        elif self.joint or self.fastener or self.also:
            raise BadInput(
                f"a {self.connection_kind} connection has no joint or fastener; "
                "record the bolts as a bolted connection"
            )
        if self.connection_kind not in WELDED and (self.weld_side or self.weld_class or self.holes_made):
            raise BadInput(
                f"a {self.connection_kind} connection has no weld; record the weld as a connection of its own"
            )
        self._position_known()

    def rules(self, facts: Session) -> None:
        if len(self.plies) < _BOTH:
            raise BadInput("a connection needs at least two parts")
        if len({p.part for p in self.plies}) != len(self.plies):
            raise BadInput(
                f"a connection of {visible(self.plies[0].part)} with itself: name two different parts"
            )
        for ply in self.plies:
            _group_known(facts, ply.part, ply.group)

    def _bolted_known(self) -> None:
        from ledger.standards.fasteners import fastener

        if not self.fastener:
            raise BadInput("a bolted connection names its fastener, such as M12 or 1/2-13 UNC")
        if not self.joint:
            raise BadInput(
                f"a bolted connection says how {visible(self.fastener)} holds: {', '.join(JOINTS)}; "
                "'through' is a bolt and nut in clear holes"
            )
        one_of("joint", JOINTS)(self.joint)
        fastener(self.fastener)
        if self.gap:
            raise BadInput(
                "a bolted connection has no drawn gap: record a gap between edges as a clearance connection (beside, "
                "passes, inside); a gap measured between the parts is a required clearance of this connection"
            )

    def _position_known(self) -> None:
        position = self.position.held if self.position else None
        if isinstance(position, Pins) and not any(m.joint == "dowel" for m in self.also):
            raise BadInput(
                "held by pins, but the connection names none: say which, such as 'M6 dowel PINS on PINS'"
            )
        if isinstance(position, Sides) and len(self.plies) != _BOTH and len(position.pairs) != _BOTH:
            raise BadInput(
                "one flush side leaves the parts of a stack free to slide: name two, or enter a position"
            )

    def _also_known(self, facts: Session, more: AlsoField) -> None:
        from ledger.standards.fasteners import fastener

        fastener(more.fastener)
        if len(more.groups) != len(self.plies):
            raise BadInput(
                f"{visible(more.fastener)} {more.joint} names {len(more.groups)} hole groups, and the connection has "
                f"{len(self.plies)} parts: name the group of each, {' on '.join(['GROUP'] * len(self.plies))}"
            )
        for ply, group in zip(self.plies, more.groups, strict=True):
            _group_known(facts, ply.part, group)
            named = [ply.group, *(m.groups[self.plies.index(ply)] for m in self.also)]
            if named.count(group) > 1:
                raise BadInput(f"group {visible(group)} of {ply.part} is named for two fasteners")

    def apply(self, facts: Session, entry: Entry) -> None:
        facts.exec(delete(PlyFact).where(PlyFact.connection == self.name))  # type: ignore[arg-type]  # a column at run time
        also = json.dumps([[m.fastener, m.joint, list(m.groups)] for m in self.also])
        fields = {**fact_fields(ConnectionFact, self), "also": also}
        put(facts, ConnectionFact(kind=self.connection_kind, **fields))
        for place, ply in enumerate(self.plies):
            put(
                facts,
                PlyFact(
                    connection=self.name,
                    place=place,
                    part=ply.part,
                    group_name=ply.group,
                    face_up=ply.face_up,
                ),
            )


class RemoveConnection(Act):
    """A connection that is no longer meant."""

    concerns = ("connection", "name")
    kind: Literal["remove_connection"] = "remove_connection"
    name: Name
    reason: Text

    def rules(self, facts: Session) -> None:
        connection_named(facts, self.name)
        if not self.reason:
            raise BadInput("removing a connection needs a reason")

    def apply(self, facts: Session, entry: Entry) -> None:
        for table, column in (
            (PlyFact, PlyFact.connection),
            (BoltFact, BoltFact.connection),
            (ClearanceFact, ClearanceFact.connection),
            (ReadingFact, ReadingFact.connection),
            (FrozenInterfaceFact, FrozenInterfaceFact.connection),
            (ConnectionFact, ConnectionFact.name),
        ):
            facts.exec(delete(table).where(column == self.name))  # type: ignore[arg-type]  # a column at run time
        facts.flush()


class RecordBolt(Act):
    """How long the bolts of a connection are and how many washers each has; an empty field removes the value."""

    concerns = OF_CONNECTION
    kind: Literal["record_bolt"] = "record_bolt"
    connection: Name
    length: OptionalLength = None
    washers: int | None = Field(default=None, ge=0, le=6)

    def rules(self, facts: Session) -> None:
        connection = connection_named(facts, self.connection)
        if connection.kind != "bolted":
            raise BadInput(f"a {connection.kind} connection has no bolts: record it as a bolted one")

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, BoltFact(**fact_fields(BoltFact, self)))


class RequireClearance(Act):
    """A clearance that the connection must have on the real structure."""

    concerns = OF_CONNECTION
    kind: Literal["require_clearance"] = "require_clearance"
    connection: Name
    name: Name
    required: BoundsField
    critical: bool = False

    def rules(self, facts: Session) -> None:
        connection_named(facts, self.connection)

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, ClearanceFact(**fact_fields(ClearanceFact, self)))


class Against(BaseModel):
    """Which revision and interface of a part was there when it was measured."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    part: Name
    revision: Name
    interface: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class RecordClearance(Act):
    """A reading of a required clearance: value, expanded uncertainty, instrument."""

    concerns = OF_CONNECTION
    kind: Literal["record_clearance"] = "record_clearance"
    connection: Name
    name: Name
    value: SignedLengthField
    uncertainty: OptionalLength
    instrument: Name
    day: Name
    against: tuple[Against, ...]
    how: Text = ""

    def rules(self, facts: Session) -> None:
        connection_named(facts, self.connection)
        if row_with(facts, ClearanceFact, self.connection, self.name) is None:
            known = facts.exec(
                select(ClearanceFact.name).where(ClearanceFact.connection == self.connection)
            ).all()
            raise UnknownName(f"required clearance of {self.connection}", self.name, known)
        if not self.uncertainty:
            raise BadInput("a measured clearance needs its uncertainty: write it as '1.8 ±0.1 mm feeler'")

    def apply(self, facts: Session, entry: Entry) -> None:
        against = json.dumps([[a.part, a.revision, a.interface] for a in self.against])
        fields = {**fact_fields(ReadingFact, self), "against": against}
        put(facts, ReadingFact(seq=entry.seq, person=entry.by, **fields))


class FreezeInterface(Act):
    """The interface of an open part, frozen for one connection: from now on a change of it stops that part."""

    concerns = OF_CONNECTION
    kind: Literal["freeze_interface"] = "freeze_interface"
    connection: Name
    part: Name
    interface: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]

    def rules(self, facts: Session) -> None:
        connection_named(facts, self.connection)
        parts = facts.exec(select(PlyFact.part).where(PlyFact.connection == self.connection)).all()
        if self.part not in parts:
            raise UnknownName(f"ply of {self.connection}", self.part, parts)

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, FrozenInterfaceFact(connection=self.connection, part=self.part, interface=self.interface))


def _group_known(facts: Session, number: str, group: str) -> None:
    part = newest_part(facts, number)
    if group and row_with(facts, GroupFact, part.number, part.revision, group) is None:
        known = select(GroupFact.name).where(
            GroupFact.number == part.number, GroupFact.revision == part.revision
        )
        raise UnknownName(f"hole group of {part.number}", group, facts.exec(known).all())


def connection_named(facts: Session, name: str) -> ConnectionFact:
    """The connection of that name. Raises UnknownName."""
    connection = row_with(facts, ConnectionFact, name)
    if connection is None:
        raise UnknownName("connection", name, facts.exec(select(ConnectionFact.name)).all())
    return connection
