"""Acts about key dimensions, recorded and calculated, and which act what a person wrote of a dimension is."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, ValidationInfo, field_validator
from sqlmodel import Session, select

from ledger.acts.base import (
    Act,
    Entry,
    Name,
    Text,
    make,
    newest_part,
    one_of,
    open_part,
    put,
)
from ledger.acts.parts import labels_known
from ledger.acts.quantities import (
    AmountField,
    FormulaField,
    OptionalAmount,
    OptionalLimits,
    OptionalMeasuredOn,
    fact_fields,
)
from ledger.domain.amounts import KINDS, MM, read_amount, unit_of
from ledger.domain.errors import BadInput, FitupError, UnknownName, visible
from ledger.domain.measured_on import MeasuredOn
from ledger.domain.names import prose
from ledger.domain.quantity import Length, Limits
from ledger.domain.record import SOURCES
from ledger.standards.expansion import heat_of
from ledger.standards.instruments import measured
from ledger.standards.size_limits import limits_of, sized_class
from ledger.store.exact import columns, same_in, value
from ledger.store.facts import bend_strokes
from ledger.store.formula_values import Drafts, calculated
from ledger.store.instruments import own_instruments
from ledger.store.rows import row_with
from ledger.store.tables import (
    OF_PART,
    DimensionFact,
    GroupFact,
    PartFact,
)

CALCULATED, MEASURED = "calculated", "measured"
_STAYS = {"limits": "", "measured_on": "", "frozen": False, "critical": False}


class RecordDimension(Act):
    """A key dimension, new or replaced."""

    concerns = OF_PART
    kind: Literal["record_dimension"] = "record_dimension"
    number: Name
    name: Name
    nominal: AmountField
    limits: OptionalLimits = None
    source: Annotated[str, AfterValidator(one_of("source", SOURCES))] = "given"
    instrument: Text = ""
    uncertainty: OptionalAmount = None
    measured_on: OptionalMeasuredOn = None
    frozen: bool = False
    critical: bool = False
    how: Text = ""

    @field_validator("limits", mode="before")
    @classmethod
    def _read(cls, limits: str | Limits | None, made: ValidationInfo) -> Limits | None:
        """Limits by class or by numbers are those of this nominal."""
        if isinstance(limits, str):
            return limits_of(text, made.data["nominal"]) if (text := prose(limits)) else None
        return limits

    def check(self, facts: Session) -> None:
        self.rules(facts)
        part = open_part(facts, self.number)
        nominal = self.nominal
        measured_on = self.measured_on
        measured_on_known(facts, part, measured_on)
        if measured_on and measured_on.unit != unit_of(nominal):
            raise BadInput(
                f"{visible(nominal.written)!r} is {KINDS[unit_of(nominal)]}, "
                f"and {str(measured_on)!r} is {KINDS[measured_on.unit]}"
            )
        if self.uncertainty and unit_of(self.uncertainty) != unit_of(nominal):
            raise BadInput(f"the uncertainty is to be {KINDS[unit_of(nominal)]}, as the nominal is")

    def rules(self, facts: Session) -> None:
        open_part(facts, self.number)
        if self.source == "measured" and not (self.instrument and self.uncertainty):
            raise BadInput("a measured dimension names its instrument and its uncertainty")

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        old = row_with(facts, DimensionFact, self.number, part.revision, self.name)
        row = self.row(part.revision, entry.at[:10])
        put(facts, _as_frozen(row, old))

    def row(self, revision: str, day: str = "") -> DimensionFact:
        """The fact that it makes."""
        return DimensionFact(revision=revision, day=day, **fact_fields(DimensionFact, self))


def _as_frozen(row: DimensionFact, old: DimensionFact | None) -> DimensionFact:
    """The row with the value that an earlier revision froze."""
    if old is None:
        return row
    return DimensionFact(**{**row.model_dump(), **same_in(old, "frozen_value", "frozen_value")})


def measured_on_known(facts: Session, part: PartFact, measured_on: MeasuredOn | None) -> None:
    """Raise UnknownName where a dimension is measured on a hole, group, bend or point that is not there."""
    if measured_on:
        if measured_on.kind.startswith("distance") and part.form != "cut":
            _points_known(facts, part, measured_on.labels)
        else:
            labels_known(facts, part, measured_on.labels)
        _group_known(facts, part, measured_on.group)
        _bends_known(facts, part, measured_on.bends)


def _group_known(facts: Session, part: PartFact, name: str) -> None:
    if name and row_with(facts, GroupFact, part.number, part.revision, name) is None:
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


class CalculateDimension(Act):
    """A key dimension that follows from others by plain arithmetic, whatever they come to be."""

    concerns = OF_PART
    kind: Literal["calculate_dimension"] = "calculate_dimension"
    number: Name
    name: Name
    formula: FormulaField
    limits: Text = ""
    measured_on: OptionalMeasuredOn = None
    frozen: bool = False
    critical: bool = False

    def check(self, facts: Session) -> None:
        self.check_with(facts, {})

    def rules(self, facts: Session) -> None:
        open_part(facts, self.number)

    def check_with(self, facts: Session, drafts: Drafts) -> None:
        """The same where other dimensions are about to be recorded together with this one."""
        part = open_part(facts, self.number)
        measured_on_known(facts, part, self.measured_on)
        known = calculated(facts, self.row(part.revision), drafts)
        if self.limits:
            limits_of(self.limits, known.value)

    def row(self, revision: str) -> DimensionFact:
        """The fact that it makes; its value is no part of it."""
        named = ("number", "name", "frozen", "critical")
        plain: dict[str, Any] = {"nominal": "", "instrument": "", "uncertainty": "", "source": CALCULATED}
        said = {name: getattr(self, name) for name in named} | columns("formula", self.formula)
        said |= columns("measured_on", self.measured_on)
        return DimensionFact(revision=revision, limits=self.limits, **plain, **said)

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        old = row_with(facts, DimensionFact, self.number, part.revision, self.name)
        put(facts, _as_frozen(self.row(part.revision), old))


def dimension_act(facts: Session, _today: str, at: str = "", **fields: Any) -> Act:
    """
    The act of what was written of a dimension.

    With the source *calculated* a nominal may be a formula; with *measured* it may be a line of readings, and where no
    uncertainty is stated the instrument gives it. `at` is how warm the work was. Raises BadInput, UnknownName.
    """
    if at and fields.get("source") != MEASURED:
        raise BadInput("a temperature belongs to a measured dimension: say so with its source")
    if fields.get("source") == MEASURED and (at or not fields.get("uncertainty")):
        return _measured(facts, at, fields)
    if fields.get("source") == CALCULATED and not _is_plain(fields["nominal"]):
        spoken = ("number", "name", "limits", "measured_on", "frozen", "critical")
        given = {k: fields[k] for k in spoken if k in fields}
        return make(CalculateDimension, formula=fields["nominal"], **given)
    if not fields.get("limits") and (sized := sized_class(fields.get("nominal", ""))):
        fields["nominal"], fields["limits"] = sized
    return make(RecordDimension, **fields)


def dimension_edited(facts: Session, today: str, **fields: Any) -> Act:
    """The same where limits, binding, *frozen* and *critical* stay as they were if they are None. Raises BadInput."""
    part = newest_part(facts, fields["number"])
    old = row_with(facts, DimensionFact, part.number, part.revision, fields["name"])
    sized = sized_class(fields["nominal"])
    for name, blank in _STAYS.items():
        if fields[name] is None:
            fields[name] = _stands(old, name) if old and not (sized and name == "limits") else blank
            if name == "limits" and ".." in fields[name] and old and fields["nominal"] != old.nominal:
                raise BadInput(
                    f"the limits of {visible(old.name)} were two sizes, {old.limits}: say --limits for the new nominal"
                )
    return dimension_act(facts, today, **fields)


def _stands(old: DimensionFact, name: str) -> Any:
    """What was recorded of it; of what it is measured on the value, so that its text is not read again."""
    return value(MeasuredOn, old, name) if name == "measured_on" else getattr(old, name)


def _measured(facts: Session, at: str, fields: dict[str, Any]) -> Act:
    """A dimension from its readings; an angle or an area states its own uncertainty."""
    nominal, tool, sure = (fields.get(k, "") for k in ("nominal", "instrument", "uncertainty"))
    if _is_plain(nominal) and (not tool or unit_of(read_amount(nominal)) != MM):
        return make(RecordDimension, **fields)
    words = " ".join(filter(None, (nominal, f"±{sure}" if sure else "", tool)))
    heat = heat_of(at, newest_part(facts, fields["number"]).material)
    found = measured(words, own=own_instruments(facts), heat=heat)
    said = {"nominal": found.value, "instrument": found.instrument, "uncertainty": found.uncertainty}
    return make(RecordDimension, **{**fields, **said, "how": found.how})


def written_of(act: Act) -> dict[str, Any]:
    """The fields of a dimension's act by the names that a person uses: a formula is the nominal as written."""
    if isinstance(act, CalculateDimension):
        plain = {"source": CALCULATED, "instrument": "", "uncertainty": ""}
        return {name: _written(said) for name, said in act} | {**plain, "nominal": act.formula.written}
    return {name: _written(said) for name, said in act}


def _written(value: object) -> object:
    if isinstance(value, Length | Limits | MeasuredOn):
        return value.written
    return "" if value is None else value


def _is_plain(nominal: str) -> bool:
    try:
        read_amount(nominal)
    except FitupError:
        return False
    return True


def shown_value(facts: Session, act: Act, drafts: Drafts | None = None) -> str:
    """What a dimension's act comes to, in words. Raises BadInput."""
    if isinstance(act, CalculateDimension):
        part = open_part(facts, act.number)
        return f"{act.formula} = {calculated(facts, act.row(part.revision), drafts).value}"
    if not isinstance(act, RecordDimension):
        raise BadInput("no dimension is recorded by this")
    return str(act.nominal)
