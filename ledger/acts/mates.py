"""Acts about how parts go together: the mate, what clearance it needs, what was measured, which face is frozen."""

from __future__ import annotations

import json
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from sqlmodel import Session, delete, select

from ledger.acts.base import Act, Entry, LengthText, Name, OptionalName, Text, newest_part, one_of, put
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.located import read_located
from ledger.domain.mated import FLIPS, HOLES_MADE, JOINTS, MATE_KINDS, WELD_SIDES, WELDED, Pins, Sides
from ledger.domain.quantity import read_bounds, read_length
from ledger.standards.weldments import CLASSES
from ledger.store.tables import (
    BoltFact,
    ClearanceFact,
    FrozenFaceFact,
    GroupFact,
    MateFact,
    PlyFact,
    ReadingFact,
)

_BOTH = 2


class PlyField(BaseModel):
    """One part's place in a mate."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    part: Name
    group: OptionalName = ""
    face_up: Name = "top"  # of a part that is not cut any name of a face: its feet and its flange are two


class AlsoField(BaseModel):
    """A fastener beside the mate's own: its joint and the hole group of each ply."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    fastener: Name
    joint: Annotated[str, AfterValidator(one_of("joint", JOINTS))]
    groups: tuple[Name, ...]


class DeclareMate(Act):
    """How parts go together; declared again, it replaces what was said before."""

    kind: Literal["declare_mate"] = "declare_mate"
    name: Name
    mate_kind: Annotated[str, AfterValidator(one_of("kind of mate", MATE_KINDS))]
    plies: tuple[PlyField, ...]
    joint: str = ""
    fastener: OptionalName = ""
    flip: Annotated[str, AfterValidator(one_of("flip", FLIPS))] = "no"
    located: Text = ""
    gap: Text = ""
    also: tuple[AlsoField, ...] = ()
    weld_side: Annotated[str, AfterValidator(one_of("side of a weld", ("", *WELD_SIDES)))] = ""
    weldment: Annotated[str, AfterValidator(one_of("class of ISO 13920", ("", *CLASSES)))] = ""
    holes_made: Annotated[str, AfterValidator(one_of("way of making holes", ("", *HOLES_MADE)))] = ""

    def check(self, facts: Session) -> None:
        if len(self.plies) < _BOTH:
            raise BadInput("a mate needs two parts at least")
        if len({p.part for p in self.plies}) != len(self.plies):
            raise BadInput(f"a mate of {visible(self.plies[0].part)} with itself: name two different parts")
        for ply in self.plies:
            _group_known(facts, ply.part, ply.group)
            if newest_part(facts, ply.part).form == "cut":
                one_of("face", ("top", "bottom", "edge"))(ply.face_up)
        for more in self.also:
            self._also_known(facts, more)
        if self.mate_kind == "bolted":
            self._bolted_known()
        elif self.joint or self.fastener or self.also:
            raise BadInput(
                f"a {self.mate_kind} mate has no joint or fastener; declare the bolts as a bolted mate"
            )
        if self.mate_kind not in WELDED and (self.weld_side or self.weldment or self.holes_made):
            raise BadInput(f"a {self.mate_kind} mate has no weld; declare the weld as a mate of its own")
        self._located_known()
        if self.gap:
            read_bounds(self.gap)

    def _bolted_known(self) -> None:
        from ledger.standards.fasteners import fastener

        if not self.fastener:
            raise BadInput("a bolted mate names its fastener, such as M12 or 1/2-13 UNC")
        if not self.joint:
            raise BadInput(
                f"a bolted mate says how {visible(self.fastener)} holds: {', '.join(JOINTS)}; 'through' is a bolt and "
                f"nut in clear holes"
            )
        one_of("joint", JOINTS)(self.joint)
        fastener(self.fastener)
        if self.gap:
            raise BadInput(
                "a bolted mate has no drawn gap: declare it between the edges, as a mate beside, passes or inside; "
                "one that is measured between the parts is a required clearance of this mate"
            )

    def _located_known(self) -> None:
        located = read_located(self.located) if self.located else None
        if isinstance(located, Pins) and not any(m.joint == "dowel" for m in self.also):
            raise BadInput(
                "held by pins, but the mate names none: say which, such as 'M6 dowel PINS on PINS'"
            )
        if isinstance(located, Sides) and len(self.plies) != _BOTH and len(located.pairs) != _BOTH:
            raise BadInput(
                "one flush side leaves the parts of a stack free to slide: name two, or state a position"
            )

    def _also_known(self, facts: Session, more: AlsoField) -> None:
        from ledger.standards.fasteners import fastener

        fastener(more.fastener)
        if len(more.groups) != len(self.plies):
            raise BadInput(
                f"{visible(more.fastener)} {more.joint} names {len(more.groups)} hole groups, and the mate has "
                f"{len(self.plies)} parts: name the group of each, {' on '.join(['GROUP'] * len(self.plies))}"
            )
        for ply, group in zip(self.plies, more.groups, strict=True):
            _group_known(facts, ply.part, group)
            named = [ply.group, *(m.groups[self.plies.index(ply)] for m in self.also)]
            if named.count(group) > 1:
                raise BadInput(f"group {visible(group)} of {ply.part} is named for two fasteners")

    def apply(self, facts: Session, entry: Entry) -> None:
        facts.exec(delete(PlyFact).where(PlyFact.mate == self.name))  # type: ignore[arg-type]  # a column at run time
        fields = self.model_dump(exclude={"kind", "version", "mate_kind", "plies", "also"})
        also = json.dumps([[m.fastener, m.joint, list(m.groups)] for m in self.also])
        put(facts, MateFact(kind=self.mate_kind, also=also, **fields))
        for place, ply in enumerate(self.plies):
            put(
                facts,
                PlyFact(
                    mate=self.name, place=place, part=ply.part, group_name=ply.group, face_up=ply.face_up
                ),
            )


class DropMate(Act):
    """A mate that is no longer meant."""

    kind: Literal["drop_mate"] = "drop_mate"
    name: Name
    reason: Text

    def check(self, facts: Session) -> None:
        mate_named(facts, self.name)
        if not self.reason:
            raise BadInput("dropping a mate needs a reason")

    def apply(self, facts: Session, entry: Entry) -> None:
        for table, column in (
            (PlyFact, PlyFact.mate),
            (BoltFact, BoltFact.mate),
            (ClearanceFact, ClearanceFact.mate),
            (ReadingFact, ReadingFact.mate),
            (FrozenFaceFact, FrozenFaceFact.mate),
            (MateFact, MateFact.name),
        ):
            facts.exec(delete(table).where(column == self.name))  # type: ignore[arg-type]  # a column at run time
        facts.flush()


class StateBolt(Act):
    """How long the bolts of a mate are and how many washers each has; what is left empty is not stated any more."""

    kind: Literal["state_bolt"] = "state_bolt"
    mate: Name
    length: LengthText = ""
    washers: int | None = Field(default=None, ge=0, le=6)

    def check(self, facts: Session) -> None:
        mate = mate_named(facts, self.mate)
        if mate.kind != "bolted":
            raise BadInput(f"a {mate.kind} mate has no bolts: declare it as a bolted one")

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, BoltFact(**self.model_dump(exclude={"kind", "version"})))


class RequireClearance(Act):
    """A clearance that the mate must have on the real structure."""

    kind: Literal["require_clearance"] = "require_clearance"
    mate: Name
    name: Name
    required: Text
    critical: bool = False

    def check(self, facts: Session) -> None:
        mate_named(facts, self.mate)
        read_bounds(self.required)

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, ClearanceFact(**self.model_dump(exclude={"kind", "version"})))


class Against(BaseModel):
    """Which revision and face of a part was there when it was measured."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    part: Name
    revision: Name
    face: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class RecordClearance(Act):
    """A reading of a required clearance: value, expanded uncertainty, instrument."""

    kind: Literal["record_clearance"] = "record_clearance"
    mate: Name
    name: Name
    value: str
    uncertainty: LengthText
    instrument: Name
    day: Name
    against: tuple[Against, ...]
    how: Text = ""

    def check(self, facts: Session) -> None:
        mate_named(facts, self.mate)
        if facts.get(ClearanceFact, (self.mate, self.name)) is None:
            known = facts.exec(select(ClearanceFact.name).where(ClearanceFact.mate == self.mate)).all()
            raise UnknownName(f"required clearance of {self.mate}", self.name, known)
        read_length(self.value, signed=True)
        if not self.uncertainty:
            raise BadInput("a measured clearance needs its uncertainty: write it as '1.8 ±0.1 mm feeler'")

    def apply(self, facts: Session, entry: Entry) -> None:
        fields = self.model_dump(include={"mate", "name", "value", "uncertainty", "instrument", "day", "how"})
        against = json.dumps([[a.part, a.revision, a.face] for a in self.against])
        put(facts, ReadingFact(seq=entry.seq, person=entry.by, against=against, **fields))


class FreezeFace(Act):
    """The face of an open part, frozen for one mate: from now on a change of it stops that part."""

    kind: Literal["freeze_face"] = "freeze_face"
    mate: Name
    part: Name
    face: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]

    def check(self, facts: Session) -> None:
        mate_named(facts, self.mate)
        parts = facts.exec(select(PlyFact.part).where(PlyFact.mate == self.mate)).all()
        if self.part not in parts:
            raise UnknownName(f"ply of {self.mate}", self.part, parts)

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, FrozenFaceFact(mate=self.mate, part=self.part, face=self.face))


def _group_known(facts: Session, number: str, group: str) -> None:
    part = newest_part(facts, number)
    if group and facts.get(GroupFact, (part.number, part.revision, group)) is None:
        known = select(GroupFact.name).where(
            GroupFact.number == part.number, GroupFact.revision == part.revision
        )
        raise UnknownName(f"hole group of {part.number}", group, facts.exec(known).all())


def mate_named(facts: Session, name: str) -> MateFact:
    """The mate of that name. Raises UnknownName."""
    mate = facts.get(MateFact, name)
    if mate is None:
        raise UnknownName("mate", name, facts.exec(select(MateFact.name)).all())
    return mate
