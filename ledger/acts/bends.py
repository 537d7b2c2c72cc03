"""Acts about the bends of a bent part."""

from __future__ import annotations

import json
from typing import Annotated, Literal

from pydantic import AfterValidator
from sqlmodel import Session

from ledger.acts.base import Act, Entry, Name, Text, make, one_of, open_part, put
from ledger.acts.quantities import BendAngle, KFactor, OptionalLength, fact_fields
from ledger.domain.bend import DIRECTIONS, ends_of
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.quantity import plain
from ledger.store.facts import bend_strokes, hole_labels, rows
from ledger.store.rows import row_with
from ledger.store.tables import OF_PART, BendDataFact, BendFact, GroupFact, GroupReferenceFact, PartFact


class RecordBend(Act):
    """
    What is done at bend lines of the drawing; recorded again, it replaces what was said before.

    `lines` are the ends of each line in mm, in the order of the labels, so that a bend follows its line from drawing to
    drawing; `Job.bend` reads them from the drawing.
    """

    concerns = OF_PART
    kind: Literal["record_bend"] = "record_bend"
    number: Name
    labels: tuple[Name, ...]
    lines: tuple[tuple[str, str, str, str], ...]
    angle: BendAngle
    direction: Annotated[str, AfterValidator(one_of("direction of a bend", DIRECTIONS))]
    radius: OptionalLength = None
    k_factor: KFactor = ""
    allowance: OptionalLength = None
    deduction: OptionalLength = None
    tolerance: OptionalLength = None

    def check(self, facts: Session) -> None:
        self.rules(facts)
        part = open_part(facts, self.number)
        said = [n for n in ("k_factor", "allowance", "deduction") if getattr(self, n)]
        if len(said) > 1:
            raise BadInput(
                f"{' and '.join(said)} say the same thing twice: enter one of them".replace("_", "-")
            )
        if self.lines != lines_of(facts, part, self.labels):
            raise BadInput(f"the drawing of {visible(self.number)} has changed: look at its bend lines again")

    def rules(self, facts: Session) -> None:
        open_part(facts, self.number)
        if not self.labels or len(set(self.labels)) != len(self.labels):
            raise BadInput("name at least one bend line, each only once")
        if len(self.lines) != len(self.labels):
            raise BadInput("a bend names a line for each of its labels")

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        fields = {**fact_fields(BendFact, self), "angle": plain(self.angle.mm)}
        for label, (ax, ay, bx, by) in zip(self.labels, self.lines, strict=True):
            line = json.dumps([[ax, ay], [bx, by]])
            put(facts, BendFact(revision=revision, label=label, line=line, **fields))


class RemoveBend(Act):
    """What was said of a bend is not to count any more."""

    concerns = OF_PART
    kind: Literal["remove_bend"] = "remove_bend"
    number: Name
    label: Name
    reason: Text

    def rules(self, facts: Session) -> None:
        part = open_part(facts, self.number)
        if not self.reason:
            raise BadInput("removing a bend needs a reason")
        if row_with(facts, BendFact, self.number, part.revision, self.label) is None:
            known = rows(facts, BendFact, number=self.number, revision=part.revision)
            raise UnknownName(f"bend of {self.number}", self.label, [b.label for b in known])

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        facts.delete(facts.get_one(BendFact, (self.number, revision, self.label)))
        facts.flush()


class RecordBendData(Act):
    """
    What a vendor bends a material of a thickness with; it counts for parts whose drawing was taken for that vendor.

    Stated again, it replaces what was said before. A bend's own radius and K-factor go before it.
    """

    concerns = ("vendor", "vendor")
    kind: Literal["record_bend_data"] = "record_bend_data"
    vendor: Name
    material: Name
    thickness: OptionalLength
    radius: OptionalLength = None
    k_factor: KFactor = ""

    def rules(self, facts: Session) -> None:
        if not self.thickness:
            raise BadInput("bend data is entered for one thickness, such as --thickness '3 mm'")
        if not (self.radius or self.k_factor):
            raise BadInput("enter the inside radius, the K-factor, or both")

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, BendDataFact(seq=entry.seq, **fact_fields(BendDataFact, self)))


class ReferGroup(Act):
    """What a hole group is placed from: another group or a hole. Each bend between them lets it stray further."""

    concerns = OF_PART
    kind: Literal["refer_group"] = "refer_group"
    number: Name
    name: Name
    reference: Name

    def check(self, facts: Session) -> None:
        self.rules(facts)
        part = open_part(facts, self.number)
        groups = [g.name for g in rows(facts, GroupFact, number=self.number, revision=part.revision)]
        known = [*(g for g in groups if g != self.name), *hole_labels(facts, self.number, part.revision)]
        if self.reference not in known:
            raise UnknownName(f"hole group or hole of {self.number}", self.reference, known)

    def rules(self, facts: Session) -> None:
        part = open_part(facts, self.number)
        if row_with(facts, GroupFact, self.number, part.revision, self.name) is None:
            groups = rows(facts, GroupFact, number=self.number, revision=part.revision)
            raise UnknownName(f"hole group of {self.number}", self.name, [g.name for g in groups])

    def apply(self, facts: Session, entry: Entry) -> None:
        revision = open_part(facts, self.number).revision
        put(facts, GroupReferenceFact(revision=revision, **self.model_dump(exclude={"kind", "version"})))


def lines_of(
    facts: Session, part: PartFact, labels: tuple[str, ...]
) -> tuple[tuple[str, str, str, str], ...]:
    """The ends of bend lines as they are drawn. Raises UnknownName, or BadInput for one that is not straight."""
    strokes = bend_strokes(facts, part.number, part.revision)
    found = []
    for label in labels:
        if label not in strokes:
            raise UnknownName(f"bend line of {part.number}", label, strokes)
        ends = ends_of(strokes[label])
        if ends is None:
            raise BadInput(
                f"{label} of {visible(part.number)} is not straight: a bend line runs from end to end"
            )
        (ax, ay), (bx, by) = ends
        found.append((f"{ax:.6f}", f"{ay:.6f}", f"{bx:.6f}", f"{by:.6f}"))
    return tuple(found)


def bend_act(facts: Session, number: str, labels: tuple[str, ...], **fields: str) -> RecordBend:
    """The act that says what is done at these bend lines, as they are drawn now. Raises UnknownName, BadInput."""
    lines = lines_of(facts, open_part(facts, number), labels)
    return make(RecordBend, number=number, labels=labels, lines=lines, **fields)
