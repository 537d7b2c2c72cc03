"""Acts about a part by itself: its record, its profile, its holes and their groups."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field
from sqlmodel import Session, select

from ledger.acts.base import (
    Act,
    Entry,
    Name,
    OptionalName,
    Text,
    newest_part,
    one_of,
    open_part,
    put,
)
from ledger.acts.counts import ordered
from ledger.acts.quantities import (
    OptionalDensity,
    OptionalLength,
    OptionalMasks,
    SignedLengthField,
    fact_fields,
)
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.fields import untyped
from ledger.domain.masks import PLACES, Masks
from ledger.domain.plain_name import require_plain
from ledger.domain.record import FORMS, HANDS, LAYER_ROLES, OPERATIONS, SOURCES
from ledger.standards.letters import letter_order, next_letter
from ledger.store.exact import columns, same_in
from ledger.store.rows import rows_with
from ledger.store.tables import (
    OF_PART,
    OF_REVISION,
    DimensionFact,
    GroupFact,
    MeasuredHoleFact,
    OperationFact,
    PartFact,
    ProfileFact,
)

Digest = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


def _known(said: dict[str, str]) -> dict[str, str]:
    known = untyped()
    for name in said:
        if name not in known:
            raise UnknownName("field of a part", name, sorted(known))
    return {name: words for name, words in said.items() if words}


def with_said(fields: Mapping[str, Any], old: PartFact | None) -> dict[str, Any]:
    """The fields of a part with those that no rule reads put together, as `said`, over what was said before."""
    loose = untyped()
    said = json.loads(old.said) if old else {}
    said |= {name: words for name, words in fields.items() if name in loose}
    return {name: words for name, words in fields.items() if name not in loose} | {"said": said}


class PartFields(Act):
    """What is written of a part; shared by recording it and changing it."""

    number: Name
    title: Text = ""
    form: Annotated[str, AfterValidator(one_of("form", FORMS))] = "cut"
    hand: Annotated[str, AfterValidator(one_of("hand", HANDS))] = "either"
    opposite_of: OptionalName = ""
    material: Text = ""
    thickness: OptionalLength = None
    coating: Text = ""
    coating_thickness: OptionalLength = None
    process: OptionalName = ""
    quantity: int | None = Field(default=None, ge=1, le=1_000_000)
    unconnected: bool = False
    note: Text = ""
    etched: OptionalName = ""
    masked: OptionalMasks = None
    density: OptionalDensity = None
    per_assembly: int | None = Field(default=None, ge=1, le=10_000)
    assemblies: int | None = Field(default=None, ge=1, le=10_000)
    spares: int | None = Field(default=None, ge=0, le=10_000)
    said: Annotated[dict[str, Text], AfterValidator(_known)] = Field(default_factory=dict)

    def check(self, facts: Session) -> None:
        """Its rules, and whether its words are known today."""
        from ledger.standards.processes import process

        if self.process:
            process(self.process)
        self.rules(facts)
        if self.masked:
            self._check_masks(facts, self.masked)

    def _rules_of_fields(self, facts: Session) -> None:
        if (self.hand == "opposite") != bool(self.opposite_of):
            raise BadInput(
                "a part of the opposite hand names the part it is opposite to, and only such a part does"
            )
        if self.opposite_of == self.number:
            raise BadInput(f"{visible(self.number)} cannot be the opposite hand of itself")
        if self.opposite_of:
            newest_part(facts, self.opposite_of)
        self._ordered()

    def _check_masks(self, facts: Session, masks: Masks) -> None:
        """Labels of masked holes are those of the drawing, where there is one."""
        from ledger.store.facts import hole_labels

        query = select(PartFact).where(PartFact.number == self.number).order_by(PartFact.place.desc())  # type: ignore[attr-defined]  # a column at run time
        part = facts.exec(query).first()
        known = hole_labels(facts, part.number, part.revision) if part else ()
        for label in masks.labels if known else ():
            if label not in known:
                raise UnknownName("place to mask", label, (*PLACES, *known))

    def _ordered(self) -> int | None:
        return ordered(self.quantity, self.per_assembly, self.assemblies, self.spares)

    def _row(self, old: PartFact | None, revision: str) -> PartFact:
        fields = fact_fields(PartFact, self)
        fields |= {"quantity": self._ordered(), "said": json.dumps(self.said, sort_keys=True)}
        fields |= {
            "revision": revision,
            "place": old.place if old else 0,
            "reason": old.reason if old else "",
        }
        return PartFact(**fields)


class RecordPart(PartFields):
    """A part that was not known before, at its first revision."""

    concerns = OF_PART
    kind: Literal["record_part"] = "record_part"
    revision: OptionalName = ""  # the first letter where there is none: a part may be older than the job

    def rules(self, facts: Session) -> None:
        if rows_with(facts, PartFact, number=self.number):
            raise BadInput(f"there is a part {visible(self.number)} already; change it instead")
        if self.revision:
            letter_order(self.revision)
        self._rules_of_fields(facts)

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, self._row(None, self.revision or next_letter(None)))


class ChangePart(PartFields):
    """The open revision of a part, replaced."""

    concerns = OF_PART
    kind: Literal["change_part"] = "change_part"

    def rules(self, facts: Session) -> None:
        old = open_part(facts, self.number)
        if old.form != self.form:
            raise BadInput(
                f"{visible(self.number)} is a {old.form} part and stays one; record another part instead"
            )
        self._rules_of_fields(facts)

    def apply(self, facts: Session, entry: Entry) -> None:
        old = open_part(facts, self.number)
        put(facts, self._row(old, old.revision))


class NewRevision(Act):
    """A new open revision that starts from the locked one, with a reason."""

    concerns = OF_PART
    kind: Literal["new_revision"] = "new_revision"
    number: Name
    reason: Text

    def rules(self, facts: Session) -> None:
        part = newest_part(facts, self.number)
        if not part.locked:
            raise BadInput(f"{visible(self.number)} revision {part.revision} is still open: change that one")
        if not self.reason:
            raise BadInput("a new revision needs a reason: say what changes and why")

    def apply(self, facts: Session, entry: Entry) -> None:
        old = newest_part(facts, self.number)
        letter = next_letter(old.revision)
        fresh = {"revision": letter, "place": old.place + 1, "locked": False, "reason": self.reason}
        put(facts, PartFact(**{**old.model_dump(), **fresh}))
        for table in OF_REVISION:
            rows = facts.exec(
                select(table).where(table.number == old.number, table.revision == old.revision)
            ).all()
            for row in rows:
                fields = {**row.model_dump(), "revision": letter}
                if isinstance(row, DimensionFact):
                    fields |= (
                        same_in(row, "nominal", "frozen_value")
                        if row.frozen
                        else columns("frozen_value", None)
                    )
                put(facts, table(**fields))


class TakeProfile(Act):
    """
    The profile of a part, from a file's exact bytes.

    `roles` says what layers are for where it was stated; with a vendor's name it is remembered for that vendor.
    `likeness` are the few figures by which parts that look alike are found (`ledger.fit.likeness`).
    """

    concerns = OF_PART
    kind: Literal["take_profile"] = "take_profile"
    number: Name
    file_name: Text
    dxf: Digest
    geometry_file: Digest
    geometry: Digest
    unit: Name
    unit_stated: bool
    reader: Name
    lost_labels: tuple[Name, ...] = ()
    vendor: OptionalName = ""
    likeness: Text = ""
    roles: dict[str, Annotated[str, AfterValidator(one_of("role of a layer", LAYER_ROLES))]] = Field(
        default_factory=dict
    )

    def rules(self, facts: Session) -> None:
        if self.file_name:
            require_plain(self.file_name)
        if open_part(facts, self.number).form == "site":
            raise BadInput(
                f"{visible(self.number)} is existing structure: record its measured holes, not a drawing"
            )

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        fields = self.model_dump(exclude={"kind", "version", "lost_labels", "roles"})
        put(
            facts,
            ProfileFact(
                revision=part.revision,
                lost_labels=json.dumps(list(self.lost_labels)),
                roles=json.dumps(self.roles, sort_keys=True),
                seq=entry.seq,
                **fields,
            ),
        )


class RecordHole(Act):
    """A hole or stud of a site or bought part, by coordinates measured or given."""

    concerns = OF_PART
    kind: Literal["record_hole"] = "record_hole"
    number: Name
    label: Name
    x: SignedLengthField
    y: SignedLengthField
    diameter: OptionalLength
    uncertainty: OptionalLength = None
    source: Annotated[str, AfterValidator(one_of("source", SOURCES))] = "measured"

    def rules(self, facts: Session) -> None:
        part = open_part(facts, self.number)
        if part.form == "cut":
            raise BadInput(f"{visible(self.number)} is cut from a drawing: its holes come from its DXF")
        if not self.diameter:
            raise BadInput("a hole needs a diameter")
        if self.source == "measured" and not self.uncertainty:
            raise BadInput(
                "a measured hole needs its uncertainty, such as --uncertainty '0.5 mm': studs are never exact"
            )

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        put(facts, MeasuredHoleFact(revision=part.revision, **fact_fields(MeasuredHoleFact, self)))


class RecordOperation(Act):
    """What is done to holes after cutting."""

    concerns = OF_PART
    kind: Literal["record_operation"] = "record_operation"
    number: Name
    labels: tuple[Name, ...] = Field(min_length=1)
    operation: Annotated[str, AfterValidator(one_of("hole operation", OPERATIONS))]
    thread: OptionalName = ""

    def check(self, facts: Session) -> None:
        from ledger.standards.fasteners import fastener

        self.rules(facts)
        labels_known(facts, open_part(facts, self.number), self.labels)
        if self.operation == "tapped" and not self.thread:
            raise BadInput("a tapped hole names its thread, such as --thread M8")
        if self.thread:
            fastener(self.thread)

    def rules(self, facts: Session) -> None:
        open_part(facts, self.number)

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        for label in self.labels:
            row = {"number": self.number, "revision": revision, "label": label}
            put(facts, OperationFact(operation=self.operation, thread=self.thread, **row))


class NameGroup(Act):
    """Holes of one flat face that belong together."""

    concerns = OF_PART
    kind: Literal["name_group"] = "name_group"
    number: Name
    name: Name
    labels: tuple[Name, ...] = Field(min_length=1)

    def check(self, facts: Session) -> None:
        self.rules(facts)
        labels_known(facts, open_part(facts, self.number), self.labels)

    def rules(self, facts: Session) -> None:
        open_part(facts, self.number)
        if len(set(self.labels)) != len(self.labels):
            raise BadInput(f"the group {visible(self.name)} names a hole twice")

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        labels = json.dumps(list(self.labels))
        put(facts, GroupFact(number=self.number, revision=part.revision, name=self.name, labels=labels))


def labels_known(facts: Session, part: PartFact, labels: tuple[str, ...]) -> None:
    """Raise UnknownName unless every label is a hole of the part."""
    from ledger.store.facts import hole_labels

    known = hole_labels(facts, part.number, part.revision)
    for label in labels:
        if label not in known:
            raise UnknownName(f"hole of {part.number}", label, known)
