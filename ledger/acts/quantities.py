"""
Quantities in acts: read once, when somebody makes the act, and kept from then on as written and exactly.

A field takes what a person wrote, or the value itself. In the body of an entry it is
{"written": "1/2 in", "mm": "12.7"} (deg or mm2 for an angle or an area), null where nothing was entered.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, InstanceOf, PlainSerializer
from sqlmodel import SQLModel

from ledger.domain.amounts import DEGREES, Amount, read_amount
from ledger.domain.bend import read_bend_angle, read_k_factor
from ledger.domain.density import Density, read_density
from ledger.domain.errors import BadInput, visible
from ledger.domain.formula import Formula, formula_of
from ledger.domain.kept import to_kept
from ledger.domain.masks import Masks, read_masks
from ledger.domain.measured_on import MeasuredOn, read_measured_on
from ledger.domain.names import prose
from ledger.domain.position import Position, position_of
from ledger.domain.quantity import Bounds, Length, Limits, plain, read_bounds, read_length
from ledger.domain.side import PointSide, read_side
from ledger.store.exact import columns, has_exact

V = TypeVar("V")


def positive_length(value: str | Length) -> Length:
    """A length above zero. Raises BadInput."""
    length = value if isinstance(value, Length) else read_length(value)
    if length.mm <= 0:
        raise BadInput(f"read {visible(length.written)!r}; expected a length above zero")
    return length


def positive_amount(value: str | Length) -> Length:
    """A length, an angle or an area above zero. Raises BadInput."""
    amount = value if isinstance(value, Length) else read_amount(value)
    if amount.mm <= 0:
        raise BadInput(f"read {visible(amount.written)!r}; expected a value above zero")
    return amount


def any_length(value: str | Length) -> Length:
    """A length of either sign. Raises BadInput."""
    return value if isinstance(value, Length) else read_length(value, signed=True)


def fact_fields(table: type[SQLModel], model: BaseModel) -> dict[str, Any]:
    """The columns of a fact table that repeat fields of an act, quantities as written and exactly."""
    plain_ones, quantities = _shared(table, type(model))
    found: dict[str, Any] = {name: getattr(model, name) for name in plain_ones}
    for name in quantities:
        found |= columns(name, getattr(model, name))
    return found


@cache
def _shared(table: type[SQLModel], model: type[BaseModel]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The names of fields that are columns, and of those that are quantities."""
    both = [n for n in model.model_fields if n in table.model_fields]
    quantities = tuple(n for n in both if has_exact(table, n))
    return tuple(n for n in both if n not in (*quantities, "kind", "version")), quantities


def _bend_angle(value: str | Length) -> Length:
    if isinstance(value, Length):
        return value
    return Amount(" ".join(value.split()), read_bend_angle(value), DEGREES)


def _unsigned(value: str | Length) -> Length:
    return value if isinstance(value, Length) else read_length(value)


def _bounds(value: str | Bounds) -> Bounds:
    return value if isinstance(value, Bounds) else read_bounds(value)


def _position(value: str | Position) -> Position:
    return value if isinstance(value, Position) else position_of(prose(value))


def _formula(value: str | Formula) -> Formula:
    return value if isinstance(value, Formula) else formula_of(prose(value))


def _measured_on(value: str | MeasuredOn) -> MeasuredOn | None:
    return value if isinstance(value, MeasuredOn) else read_measured_on(prose(value))


def _masks(value: str | Masks) -> Masks:
    return value if isinstance(value, Masks) else read_masks(prose(value))


def _density(value: str | Density) -> Density:
    return value if isinstance(value, Density) else read_density(prose(value))


def _side(value: str | PointSide) -> PointSide:
    return value if isinstance(value, PointSide) else read_side(prose(value))


def _or_none(read: Callable[[Any], V]) -> BeforeValidator:
    """A validator that takes an empty text for nothing."""
    return BeforeValidator(lambda value: None if value in ("", None) else read(value))


_KEPT = PlainSerializer(to_kept)
LengthField = Annotated[InstanceOf[Length], BeforeValidator(positive_length), _KEPT]
SignedLengthField = Annotated[InstanceOf[Length], BeforeValidator(any_length), _KEPT]
UnsignedLengthField = Annotated[InstanceOf[Length], BeforeValidator(_unsigned), _KEPT]
AmountField = Annotated[InstanceOf[Length], BeforeValidator(positive_amount), _KEPT]
OptionalSigned = Annotated[InstanceOf[Length] | None, _or_none(any_length), _KEPT]
OptionalLength = Annotated[InstanceOf[Length] | None, _or_none(positive_length), _KEPT]
OptionalAmount = Annotated[InstanceOf[Length] | None, _or_none(positive_amount), _KEPT]
BoundsField = Annotated[InstanceOf[Bounds], BeforeValidator(_bounds), _KEPT]
OptionalBounds = Annotated[InstanceOf[Bounds] | None, _or_none(_bounds), _KEPT]
OptionalLimits = Annotated[InstanceOf[Limits] | None, _KEPT]
OptionalPosition = Annotated[InstanceOf[Position] | None, _or_none(_position), _KEPT]
FormulaField = Annotated[InstanceOf[Formula], BeforeValidator(_formula), _KEPT]
OptionalMeasuredOn = Annotated[InstanceOf[MeasuredOn] | None, _or_none(_measured_on), _KEPT]
OptionalMasks = Annotated[InstanceOf[Masks] | None, _or_none(_masks), _KEPT]
OptionalDensity = Annotated[InstanceOf[Density] | None, _or_none(_density), _KEPT]
OptionalSide = Annotated[InstanceOf[PointSide] | None, _or_none(_side), _KEPT]
BendAngle = Annotated[InstanceOf[Length], BeforeValidator(_bend_angle), _KEPT]
KFactor = Annotated[str, AfterValidator(lambda text: plain(read_k_factor(text)) if text else "")]
