"""
Key dimensions as records; those that are calculated get their value here, from the facts as they stand.

Nothing is stored of a calculated value while its part is open, so it is never out of date; a lock writes it down. Of
another part the newest revision counts. *Drafts* are dimensions about to be recorded, which count before those that
stand. The uncertainty follows by the law of propagation (JCGM 100:2008, 5.1.2): what was recorded is taken as
independent, and what rests on the same record twice counts it twice, with its sign (5.2).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from sqlmodel import Session, col, select

from ledger.domain.amounts import KINDS, MM, MM2, Amount, amount, unit_of
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.formula import Ref, Value, evaluate, kind_words, names_in, of_unit
from ledger.domain.measured_on import MeasuredOn
from ledger.domain.quantity import Length, Limits
from ledger.domain.record import Dimension, Input
from ledger.standards.instruments import rounded_up
from ledger.standards.size_limits import limits_of
from ledger.store.exact import formula as exact_formula
from ledger.store.exact import length, some_length
from ledger.store.exact import limits as exact_limits
from ledger.store.exact import value as exact_value
from ledger.store.instruments import Calibrated
from ledger.store.tables import DimensionFact, PartFact

Key = tuple[str, str]  # part, name
Drafts = Mapping[Key, DimensionFact]
_NOTHING = Length("no value", Decimal(0))
_DEEPEST = 50


@dataclass(frozen=True, slots=True)
class Known:
    """
    What a dimension is worth: its value, its U where it has one, and what it rests on.

    `shares` is how far each recorded dimension moves it within its own U, with the sign.
    """

    value: Length
    uncertainty: Length | None
    inputs: tuple[Input, ...]
    shares: Mapping[Key, float] = field(default_factory=dict)


def dimensions_of(facts: Session, part: PartFact, since: Calibrated) -> tuple[Dimension, ...]:
    """The key dimensions of a revision by name; a formula that fails is told in the dimension, never raised."""
    rows = facts.exec(
        select(DimensionFact).where(
            DimensionFact.number == part.number, DimensionFact.revision == part.revision
        )
    ).all()
    reckoning, before = Reckoning(facts), _frozen_before(facts, part, rows)
    return tuple(
        _dimension(reckoning, row, since.overdue(row.instrument, row.day), tuple(before[row.name]))
        for row in sorted(rows, key=lambda r: r.name)
    )


def _frozen_before(
    facts: Session, part: PartFact, rows: Iterable[DimensionFact]
) -> Mapping[str, Sequence[tuple[str, str]]]:
    """Revision and value of the dimensions that earlier revisions frozen, oldest first, by name."""
    found: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    if part.place and any(row.frozen or row.frozen_value for row in rows):
        earlier = (
            select(DimensionFact)
            .join(
                PartFact,
                (col(PartFact.number) == DimensionFact.number)
                & (col(PartFact.revision) == DimensionFact.revision),
            )
            .where(DimensionFact.number == part.number, PartFact.place < part.place, DimensionFact.frozen)
            .order_by(col(PartFact.place))
        )
        for row in facts.exec(earlier):
            found[row.name].append((row.revision, str(some_length(row, "nominal"))))
    return found


def calculated(facts: Session, row: DimensionFact, drafts: Drafts | None = None) -> Known:
    """What a formula about to be recorded comes to. Raises BadInput: a cycle, a unit, a name that is not there."""
    return Reckoning(facts, {**(drafts or {}), (row.number, row.name): row}).known(row.number, row.name, ())


class Reckoning:
    """Formulas followed through the dimensions they name."""

    def __init__(self, facts: Session, drafts: Drafts | None = None) -> None:
        self.facts = facts
        self.drafts = drafts or {}
        self._parts: dict[str, PartFact] = {}
        self._known: dict[Key, Known] = {}

    def known(self, number: str, name: str, trail: tuple[Key, ...]) -> Known:
        """The value of a dimension of a part's newest revision. Raises BadInput."""
        key = (number, name)
        if key in trail:
            ring = " -> ".join(_words(k, number) for k in (*trail[trail.index(key) :], key))
            raise BadInput(f"{_words(key, number)} would be calculated from itself: {ring}")
        if len(trail) > _DEEPEST:
            raise BadInput(f"{visible(name)} rests on more than {_DEEPEST} others, one behind the other")
        if key not in self._known:
            row = self._row(number, name)
            self._known[key] = self.of_row(row, trail) if row.formula else _plain(row)
        return self._known[key]

    def of_row(self, row: DimensionFact, trail: tuple[Key, ...]) -> Known:
        """The value of a dimension: as stored where its part is locked, else by its formula."""
        part = self.newest(row.number)
        if row.nominal and (part.revision != row.revision or part.locked):
            return _plain(row)
        formula = exact_formula(row, "formula").tree
        behind = (*trail, (row.number, row.name))
        found: dict[Ref, Known] = {}
        inputs: dict[Input, None] = {}
        for ref in names_in(formula):
            number = ref.part or row.number
            found[ref] = self.known(number, ref.name, behind)
            inputs.update(dict.fromkeys((self._input(number, ref.name), *found[ref].inputs)))

        def lookup(ref: Ref) -> Value:
            known = found[ref].value
            return of_unit(Fraction(known.mm), unit_of(known), ref)

        value = evaluate(formula, lookup)
        unit = _expected(row, value)
        made = amount(value.number, unit, f"{visible(row.name)} = {row.formula}")
        if not made.mm > 0:
            raise BadInput(f"{visible(row.name)} = {row.formula} comes to {made}: a dimension is above zero")
        shares = _shares(value, found)
        return Known(made, _spread(shares, unit), tuple(inputs), shares)

    def newest(self, number: str) -> PartFact:
        """The newest revision of a part. Raises UnknownName."""
        if number not in self._parts:
            found = self.facts.exec(select(PartFact).where(PartFact.number == number)).all()
            if not found:
                known = sorted(set(self.facts.exec(select(PartFact.number)).all()))
                raise UnknownName("part", number, known)
            self._parts[number] = max(found, key=lambda p: p.place)
        return self._parts[number]

    def _row(self, number: str, name: str) -> DimensionFact:
        part = self.newest(number)
        row = self.drafts.get((number, name)) or self.facts.get(DimensionFact, (number, part.revision, name))
        if row is None:
            where = DimensionFact.number == number, DimensionFact.revision == part.revision
            known = self.facts.exec(select(DimensionFact.name).where(*where)).all()
            raise UnknownName(f"dimension of {number}", name, known)
        return row

    def _input(self, number: str, name: str) -> Input:
        part = self.newest(number)
        row = self._row(number, name)
        source = "calculated" if row.formula else row.source
        return Input(number, part.revision, name, source, part.locked)


def _dimension(
    reckoning: Reckoning, row: DimensionFact, overdue: str, before: tuple[tuple[str, str], ...]
) -> Dimension:
    nominal, limits, uncertainty, fault = _NOTHING, None, None, ""
    inputs: tuple[Input, ...] = ()
    try:
        known = reckoning.of_row(row, ()) if row.formula else _plain(row)
        nominal, uncertainty, inputs = known.value, known.uncertainty, known.inputs
        limits = _limits(row, nominal)
    except BadInput as reason:
        if not row.formula:
            raise
        nominal, fault = _NOTHING, str(reason)
    frozen = length(row, "frozen_value")
    return Dimension(
        name=row.name,
        nominal=nominal,
        limits=limits,
        source=row.source,
        instrument=row.instrument,
        uncertainty=uncertainty,
        measured_on=exact_value(MeasuredOn, row, "measured_on"),
        frozen=row.frozen,
        critical=row.critical,
        frozen_mm=frozen.mm if frozen else None,
        formula=row.formula,
        fault=fault,
        inputs=inputs,
        how=row.how,
        overdue=overdue,
        frozen_before=before if row.frozen or row.frozen_value else (),
    )


def _limits(row: DimensionFact, nominal: Length) -> Limits | None:
    """The limits as they were read; those of a calculated one follow its value."""
    if row.formula and row.limits:
        return limits_of(row.limits, nominal)
    return exact_limits(row, "limits")


def _plain(row: DimensionFact) -> Known:
    uncertainty = length(row, "uncertainty")
    shares = {(row.number, row.name): float(uncertainty.mm)} if uncertainty else {}
    return Known(some_length(row, "nominal"), uncertainty, (), shares)


def _expected(row: DimensionFact, value: Value) -> str:
    """The unit that the dimension is in: its binding's; without one an area is taken for a slip. Raises BadInput."""
    measured_on = exact_value(MeasuredOn, row, "measured_on")
    expected = measured_on.unit if measured_on else value.unit if value.unit != MM2 else MM
    if value.unit != expected or expected is None:
        want = KINDS[expected or MM]
        hint = (
            f"measured on {row.measured_on} it is {want}"
            if measured_on
            else f"a dimension that is not measured on the drawing is {want}"
        )
        raise BadInput(f"{visible(row.name)} = {row.formula} comes to {kind_words(value)}; {hint}")
    return expected


def _shares(value: Value, found: Mapping[Ref, Known]) -> dict[Key, float]:
    """How far each recorded dimension behind the names of a formula moves its value."""
    shares: dict[Key, float] = {}
    for ref, known in found.items():
        slope = float(value.slopes.get(ref, Fraction(0)))
        for key, moved in known.shares.items():
            shares[key] = shares.get(key, 0.0) + slope * moved
    return shares


def _spread(shares: Mapping[Key, float], unit: str) -> Length | None:
    """U of the result, two figures rounded up; None where nothing that it rests on has one."""
    total = math.hypot(*shares.values())
    if not total > 0:
        return None
    sure = rounded_up(total)
    return sure if unit == MM else Amount(f"{sure.written.removesuffix(' mm')} {unit}", sure.mm, unit)


def _words(key: Key, own: str) -> str:
    return str(Ref(key[1], "" if key[0] == own else key[0]))


def fixed(dimensions: tuple[Dimension, ...]) -> Iterator[tuple[str, Length, Length | None]]:
    """What a lock writes down of the calculated ones: name, value, U."""
    for d in dimensions:
        if d.formula and not d.fault:
            yield d.name, d.nominal, d.uncertainty
