"""Acts about a part by itself: its record, its profile, its holes, its dimensions, its questions."""

from __future__ import annotations

import json
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from sqlmodel import Session, select

from ledger.acts.base import (
    Act,
    AmountText,
    Entry,
    LengthText,
    Name,
    OptionalName,
    Text,
    day,
    newest_part,
    one_of,
    open_part,
    positive_amount,
    put,
)
from ledger.acts.counts import ordered
from ledger.domain.amounts import KINDS, read_amount, unit_of
from ledger.domain.binding import Binding, read_binding
from ledger.domain.density import read_density
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.masks import PLACES, read_masks
from ledger.domain.quantity import read_length
from ledger.domain.record import FORMS, HANDS, HOLE_FINISHES, LAYER_ROLES, SOURCES
from ledger.standards.letters import next_letter
from ledger.standards.size_limits import limits_of
from ledger.store.facts import bend_strokes
from ledger.store.tables import (
    BendFact,
    DimensionFact,
    DistanceFact,
    Fact,
    GroupFact,
    GroupReferenceFact,
    HoleFinishFact,
    MeasuredHoleFact,
    PartFact,
    PointFact,
    ProfileFact,
    QuestionFact,
)

Digest = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Day = Annotated[str, AfterValidator(lambda text: text and day(text).isoformat())]
_CHILDREN: tuple[type[Fact], ...] = (
    ProfileFact,
    MeasuredHoleFact,
    PointFact,
    DistanceFact,
    HoleFinishFact,
    BendFact,
    GroupFact,
    GroupReferenceFact,
    DimensionFact,
)


class PartFields(Act):
    """What is written of a part; shared by recording it and changing it."""

    number: Name
    title: Text = ""
    form: Annotated[str, AfterValidator(one_of("form", FORMS))] = "cut"
    hand: Annotated[str, AfterValidator(one_of("hand", HANDS))] = "either"
    opposite_of: OptionalName = ""
    material: Text = ""
    thickness: LengthText = ""
    finish: Text = ""
    finish_thickness: LengthText = ""
    process: OptionalName = ""
    grain: Text = ""
    quantity: int | None = Field(default=None, ge=1, le=1_000_000)
    stands_alone: bool = False
    note: Text = ""
    etched: OptionalName = ""
    masked: Text = ""
    density: Text = ""
    per_assembly: int | None = Field(default=None, ge=1, le=10_000)
    assemblies: int | None = Field(default=None, ge=1, le=10_000)
    spares: int | None = Field(default=None, ge=0, le=10_000)

    def _check_fields(self, facts: Session) -> None:
        from ledger.standards.processes import process

        if self.process:
            process(self.process)
        if (self.hand == "opposite") != bool(self.opposite_of):
            raise BadInput(
                "a part of the opposite hand names the part it is opposite to, and only such a part does"
            )
        if self.opposite_of == self.number:
            raise BadInput(f"{visible(self.number)} cannot be the opposite hand of itself")
        if self.opposite_of:
            newest_part(facts, self.opposite_of)
        if self.density:
            read_density(self.density)
        if self.masked:
            self._check_masks(facts)
        self._ordered()

    def _check_masks(self, facts: Session) -> None:
        """Labels of masked holes are those of the drawing, where there is one."""
        from ledger.store.facts import hole_labels

        query = select(PartFact).where(PartFact.number == self.number).order_by(PartFact.place.desc())  # type: ignore[attr-defined]  # a column at run time
        part = facts.exec(query).first()
        known = hole_labels(facts, part.number, part.revision) if part else ()
        for label in read_masks(self.masked).labels if known else ():
            if label not in known:
                raise UnknownName("place to mask", label, (*PLACES, *known))

    def _ordered(self) -> int | None:
        return ordered(self.quantity, self.per_assembly, self.assemblies, self.spares)

    def _row(self, old: PartFact | None, revision: str) -> PartFact:
        fields = {**self.model_dump(exclude={"kind", "version"}), "quantity": self._ordered()}
        place = old.place if old else 0
        return PartFact(revision=revision, place=place, reason=old.reason if old else "", **fields)


class RecordPart(PartFields):
    """A part that was not known before, at its first revision."""

    kind: Literal["record_part"] = "record_part"

    def check(self, facts: Session) -> None:
        if facts.exec(select(PartFact).where(PartFact.number == self.number)).first():
            raise BadInput(f"there is a part {visible(self.number)} already; change it instead")
        self._check_fields(facts)

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, self._row(None, next_letter(None)))


class ChangePart(PartFields):
    """The open revision of a part, written anew."""

    kind: Literal["change_part"] = "change_part"

    def check(self, facts: Session) -> None:
        old = open_part(facts, self.number)
        if old.form != self.form:
            raise BadInput(
                f"{visible(self.number)} is a {old.form} part and stays one; record another part instead"
            )
        self._check_fields(facts)

    def apply(self, facts: Session, entry: Entry) -> None:
        old = open_part(facts, self.number)
        put(facts, self._row(old, old.revision))


class NewRevision(Act):
    """A new open revision that starts from the locked one, with a reason."""

    kind: Literal["new_revision"] = "new_revision"
    number: Name
    reason: Text

    def check(self, facts: Session) -> None:
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
        for table in _CHILDREN:
            rows = facts.exec(
                select(table).where(table.number == old.number, table.revision == old.revision)  # type: ignore[attr-defined]  # every child has both
            ).all()
            for row in rows:
                fields = {**row.model_dump(), "revision": letter}
                if isinstance(row, DimensionFact) and row.held:
                    fields["held_value"] = row.nominal
                put(facts, table(**fields))


class TakeProfile(Act):
    """
    The profile of a part, from a file's exact bytes.

    `roles` says what layers are for where it was stated; with a vendor's name it is remembered for that vendor.
    `likeness` are the few figures by which parts that look alike are found (`ledger.fit.alike`).
    """

    kind: Literal["take_profile"] = "take_profile"
    number: Name
    file_name: Text
    dxf: Digest
    geometry_blob: Digest
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

    def check(self, facts: Session) -> None:
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

    kind: Literal["record_hole"] = "record_hole"
    number: Name
    label: Name
    x: str
    y: str
    diameter: LengthText
    uncertainty: LengthText = ""
    source: Annotated[str, AfterValidator(one_of("source", SOURCES))] = "measured"

    def check(self, facts: Session) -> None:
        part = open_part(facts, self.number)
        if part.form == "cut":
            raise BadInput(f"{visible(self.number)} is cut from a drawing: its holes come from its DXF")
        read_length(self.x, signed=True)
        read_length(self.y, signed=True)
        if not self.diameter:
            raise BadInput("a hole needs a diameter")
        if self.source == "measured" and not self.uncertainty:
            raise BadInput(
                "a measured hole needs its uncertainty, such as --uncertainty '0.5 mm': studs are never exact"
            )

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        put(facts, MeasuredHoleFact(revision=part.revision, **self.model_dump(exclude={"kind", "version"})))


class FinishHole(Act):
    """What is done to holes after cutting."""

    kind: Literal["finish_hole"] = "finish_hole"
    number: Name
    labels: tuple[Name, ...] = Field(min_length=1)
    finish: Annotated[str, AfterValidator(one_of("hole finish", HOLE_FINISHES))]
    thread: OptionalName = ""

    def check(self, facts: Session) -> None:
        from ledger.standards.fasteners import fastener

        labels_known(facts, open_part(facts, self.number), self.labels)
        if self.finish == "tapped" and not self.thread:
            raise BadInput("a tapped hole names its thread, such as --thread M8")
        if self.thread:
            fastener(self.thread)

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        for label in self.labels:
            row = {"number": self.number, "revision": revision, "label": label}
            put(facts, HoleFinishFact(finish=self.finish, thread=self.thread, **row))


class NameGroup(Act):
    """Holes of one flat face that belong together."""

    kind: Literal["name_group"] = "name_group"
    number: Name
    name: Name
    labels: tuple[Name, ...] = Field(min_length=1)

    def check(self, facts: Session) -> None:
        if len(set(self.labels)) != len(self.labels):
            raise BadInput(f"the group {visible(self.name)} names a hole twice")
        labels_known(facts, open_part(facts, self.number), self.labels)

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        labels = json.dumps(list(self.labels))
        put(facts, GroupFact(number=self.number, revision=part.revision, name=self.name, labels=labels))


class RecordDimension(Act):
    """A key dimension, new or written anew."""

    kind: Literal["record_dimension"] = "record_dimension"
    number: Name
    name: Name
    nominal: AmountText
    limits: Text = ""
    source: Annotated[str, AfterValidator(one_of("source", SOURCES))] = "given"
    instrument: Text = ""
    uncertainty: AmountText = ""
    bound: Text = ""
    held: bool = False
    critical: bool = False
    how: Text = ""

    def check(self, facts: Session) -> None:
        part = open_part(facts, self.number)
        nominal = positive_amount(self.nominal)
        if self.limits:
            limits_of(self.limits, nominal)
        bound = binding_known(facts, part, self.bound)
        if bound and bound.unit != unit_of(nominal):
            raise BadInput(
                f"{visible(self.nominal)!r} is {KINDS[unit_of(nominal)]}, and {self.bound!r} is {KINDS[bound.unit]}"
            )
        if self.uncertainty and unit_of(read_amount(self.uncertainty)) != unit_of(nominal):
            raise BadInput(f"the uncertainty is to be {KINDS[unit_of(nominal)]}, as the nominal is")
        if self.source == "measured" and not (self.instrument and self.uncertainty):
            raise BadInput("a measured dimension names its instrument and its uncertainty")

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        old = facts.get(DimensionFact, (self.number, part.revision, self.name))
        fields = {**self.model_dump(exclude={"kind", "version"}), "day": entry.at[:10]}
        put(facts, DimensionFact(revision=part.revision, held_value=old.held_value if old else "", **fields))


class AskQuestion(Act):
    """Something still to be decided about a part; it stops the part until it is answered."""

    kind: Literal["ask_question"] = "ask_question"
    number: Name
    ident: Name
    text: Text
    blocks: tuple[Name, ...] = ()
    waits: tuple[Name, ...] = ()
    due: Day = ""

    def check(self, facts: Session) -> None:
        from ledger.store.questions import links_known

        open_part(facts, self.number)
        if not self.text:
            raise BadInput("an empty question: say what is to be decided")
        if facts.get(QuestionFact, (self.number, self.ident)):
            raise BadInput(f"{visible(self.number)} has a question {visible(self.ident)} already")
        links_known(facts, self._row())

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, self._row())

    def _row(self) -> QuestionFact:
        linked = {"blocks": json.dumps(list(self.blocks)), "waits": json.dumps(list(self.waits))}
        return QuestionFact(number=self.number, ident=self.ident, text=self.text, due=self.due, **linked)


class AnswerQuestion(Act):
    """The answer to an open question."""

    kind: Literal["answer_question"] = "answer_question"
    number: Name
    ident: Name
    answer: Text

    def check(self, facts: Session) -> None:
        open_part(facts, self.number)
        if not self.answer:
            raise BadInput("an empty answer: say what was decided")
        question_named(facts, self.number, self.ident)

    def apply(self, facts: Session, entry: Entry) -> None:
        old = facts.get_one(QuestionFact, (self.number, self.ident))
        put(facts, QuestionFact(**{**old.model_dump(), "answer": self.answer}))


def question_named(facts: Session, number: str, ident: str) -> QuestionFact:
    """A question of a part. Raises UnknownName."""
    found = facts.get(QuestionFact, (number, ident))
    if found is None:
        known = facts.exec(select(QuestionFact.ident).where(QuestionFact.number == number)).all()
        raise UnknownName("question", ident, known)
    return found


def binding_known(facts: Session, part: PartFact, text: str) -> Binding | None:
    """What a dimension is bound to. Raises BadInput, UnknownName for a hole or group that is not there."""
    bound = read_binding(text)
    if bound:
        if bound.kind.startswith("distance") and part.form != "cut":
            _points_known(facts, part, bound.labels)
        else:
            labels_known(facts, part, bound.labels)
        _group_known(facts, part, bound.group)
        _bends_known(facts, part, bound.bends)
    return bound


def _group_known(facts: Session, part: PartFact, name: str) -> None:
    if name and facts.get(GroupFact, (part.number, part.revision, name)) is None:
        known = facts.exec(select(GroupFact.name).where(GroupFact.number == part.number)).all()
        raise UnknownName("hole group", name, sorted(set(known)))


def _points_known(facts: Session, part: PartFact, labels: tuple[str, ...]) -> None:
    from ledger.store.facts import hole_labels, point_labels

    key = (facts, part.number, part.revision)
    known = tuple(dict.fromkeys((*point_labels(*key), *hole_labels(*key))))
    for label in labels:
        if label not in known:
            raise UnknownName(f"point of {part.number}", label, known)


def _bends_known(facts: Session, part: PartFact, labels: tuple[str, ...]) -> None:
    known = bend_strokes(facts, part.number, part.revision) if labels else {}
    for label in labels:
        if label not in known:
            raise UnknownName(f"bend line of {part.number}", label, known)


def labels_known(facts: Session, part: PartFact, labels: tuple[str, ...]) -> None:
    """Raise UnknownName unless every label is a hole of the part."""
    from ledger.store.facts import hole_labels

    known = hole_labels(facts, part.number, part.revision)
    for label in labels:
        if label not in known:
            raise UnknownName(f"hole of {part.number}", label, known)
