"""The act of a calculated key dimension, and which act what a person wrote of a dimension is."""

from __future__ import annotations

from typing import Any, Literal

from sqlmodel import Session

from ledger.acts.base import Act, Entry, Name, Text, make, newest_part, open_part, put
from ledger.acts.parts import RecordDimension, binding_known
from ledger.domain.amounts import MM, read_amount, unit_of
from ledger.domain.errors import BadInput, FitupError
from ledger.domain.record import Dimension
from ledger.standards.expansion import heat_of
from ledger.standards.instruments import measured
from ledger.standards.size_limits import limits_of
from ledger.store.calculated import Drafts, calculated
from ledger.store.instruments import own_instruments
from ledger.store.tables import DimensionFact

CALCULATED, MEASURED = "calculated", "measured"


class CalculateDimension(Act):
    """A key dimension that follows from others by plain arithmetic, whatever they come to be."""

    kind: Literal["calculate_dimension"] = "calculate_dimension"
    number: Name
    name: Name
    formula: Text
    limits: Text = ""
    bound: Text = ""
    held: bool = False
    critical: bool = False

    def check(self, facts: Session) -> None:
        self.check_with(facts, {})

    def check_with(self, facts: Session, drafts: Drafts) -> None:
        """The same where other dimensions are about to be recorded together with this one."""
        part = open_part(facts, self.number)
        binding_known(facts, part, self.bound)
        known = calculated(facts, self.row(part.revision), drafts)
        if self.limits:
            limits_of(self.limits, known.value)

    def row(self, revision: str) -> DimensionFact:
        """The fact that it makes; its value is no part of it."""
        plain = {"nominal": "", "instrument": "", "uncertainty": "", "source": CALCULATED}
        fields = {**self.model_dump(exclude={"kind", "version"}), **plain}
        return DimensionFact(revision=revision, **fields)

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        old = facts.get(DimensionFact, (self.number, part.revision, self.name))
        row = self.row(part.revision)
        row.held_value = old.held_value if old else ""
        put(facts, row)


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
        spoken = ("number", "name", "limits", "bound", "held", "critical")
        given = {k: fields[k] for k in spoken if k in fields}
        return make(CalculateDimension, formula=fields["nominal"], **given)
    return make(RecordDimension, **fields)


def _measured(facts: Session, at: str, fields: dict[str, Any]) -> Act:
    """A dimension from its readings; an angle or an area states its own uncertainty."""
    nominal, tool, sure = (fields.get(k, "") for k in ("nominal", "instrument", "uncertainty"))
    if _is_plain(nominal) and (not tool or unit_of(read_amount(nominal)) != MM):
        return make(RecordDimension, **fields)
    words = " ".join(filter(None, (nominal, f"±{sure}" if sure else "", tool)))
    heat = heat_of(at, newest_part(facts, fields["number"]).material)
    found = measured(words, own=own_instruments(facts), heat=heat)
    said = {"nominal": found.value.written, "instrument": found.instrument}
    return make(
        RecordDimension, **{**fields, **said, "uncertainty": found.uncertainty.written, "how": found.how}
    )


def written_of(act: Act) -> dict[str, Any]:
    """The fields of a dimension's act by the names that a person uses: a formula is the nominal as written."""
    if isinstance(act, CalculateDimension):
        plain = {"source": CALCULATED, "instrument": "", "uncertainty": ""}
        return {**act.model_dump(exclude={"formula"}), **plain, "nominal": act.formula}
    return act.model_dump()


def nominal_of(dimension: Dimension) -> str:
    """What a person would write as its nominal."""
    return dimension.formula or dimension.nominal.written


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
    return str(read_amount(act.nominal))
