"""The act by which features of a piece that came back are recorded."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from ledger.acts.base import Act, Entry, Name, Text, put
from ledger.acts.quantities import LengthField, OptionalAmount, OptionalSigned, fact_fields
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.plural import counted
from ledger.store.exact import length
from ledger.store.facts import hole_labels
from ledger.store.pieces import drawn_hole
from ledger.store.rows import row_with, rows_with
from ledger.store.tables import DimensionFact, FeatureFact, ReceiptFact

_INCH = 25.4
_NEAR = 0.05


class MeasuredFeature(BaseModel):
    """One feature: a hole with its diameter, its place or both, or a key dimension with its value."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    name: Name
    value: OptionalAmount = None
    x: OptionalSigned = None
    y: OptionalSigned = None


class MeasurePiece(Act):
    """
    What was read of a piece; what is read again of a feature replaces what was read before, with how sure it is.

    `coated`: the piece had its coating already; else the coating that its part gets still makes its holes smaller.
    """

    concerns = ("piece", "part")
    kind: Literal["measure_piece"] = "measure_piece"
    part: Name
    piece: int = Field(ge=1)
    uncertainty: LengthField
    instrument: Text
    coated: bool = False
    features: tuple[MeasuredFeature, ...] = Field(min_length=1)

    def check(self, facts: Session) -> None:
        self.rules(facts)
        revision = self._revision(facts)
        labels = hole_labels(facts, self.part, revision)
        names = [d.name for d in rows_with(facts, DimensionFact, number=self.part, revision=revision)]
        for one in self.features:
            if one.name not in labels and one.name not in names:
                raise UnknownName(f"hole or dimension of {self.part} {revision}", one.name, [*labels, *names])
            if one.x is not None and one.name not in labels:
                raise BadInput(f"{visible(one.name)} is no hole: it has a value and no place")
            self._same_unit(facts, revision, one)

    def rules(self, facts: Session) -> None:
        self._revision(facts)
        if not self.instrument:
            raise BadInput("measured with what? expected an instrument, such as ±0.05 mm caliper")
        if len({f.name for f in self.features}) != len(self.features):
            raise BadInput("a feature is named twice; expected each once")
        for one in self.features:
            if (one.x is None) != (one.y is None) or (one.value is None and one.x is None):
                raise BadInput(f"{visible(one.name)}: expected a value, a place x y, or both")

    def apply(self, facts: Session, entry: Entry) -> None:
        for one in self.features:
            whole = {**fact_fields(FeatureFact, self), **fact_fields(FeatureFact, one)}
            old = row_with(facts, FeatureFact, self.part, self.piece, one.name)
            if old is not None:
                whole |= _kept(old, one)
            put(facts, FeatureFact(by=entry.by, day=entry.at[:10], **whole))

    def _revision(self, facts: Session) -> str:
        """The revision of the piece. Raises BadInput where no such piece came back."""
        came = rows_with(facts, ReceiptFact, by="first", part=self.part)
        for row in came:
            if row.first <= self.piece < row.first + row.count:
                return row.part_revision
        count = sum(row.count for row in came)
        told = f"{counted(count, 'piece')} came back" if count else "no piece came back yet: fitup receive"
        raise BadInput(f"there is no {visible(self.part)}#{self.piece}: {told}")

    def _same_unit(self, facts: Session, revision: str, one: MeasuredFeature) -> None:
        """A value that is 25.4 times off was read in the other unit."""
        drawn = drawn_hole(facts, self.part, revision, one.name)
        row = row_with(facts, DimensionFact, self.part, revision, one.name)
        nominal = length(row, "nominal") if row else None
        expected = drawn.diameter_mm if drawn else float(nominal.mm) if nominal else 0.0
        if one.value is None or not expected > 0:
            return
        for ratio, unit in (
            (float(one.value.mm) / expected, "inches"),
            (expected / float(one.value.mm), "mm"),
        ):
            if abs(ratio / _INCH - 1) < _NEAR:
                raise BadInput(
                    f"{visible(one.name)} reads {one.value.written}, drawn {expected:g} mm: 25.4 times off; "
                    f"was it read in {'mm' if unit == 'inches' else 'inches'}?"
                )


def _kept(old: FeatureFact, new: MeasuredFeature) -> dict[str, str]:
    """What was read before and not again: a size, or a place."""
    names = [] if new.value is not None else ["value"]
    names += [] if new.x is not None else ["x", "y"]
    return {n: getattr(old, n) for name in names for n in (name, f"{name}_exact")}
