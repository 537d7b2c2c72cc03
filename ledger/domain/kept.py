"""
Quantities as the journal keeps them: the text as written, and beside it the exact value that it was read as.

What is kept is never read by a grammar again, so any spelling, and any table that a text was looked up in, may change
without a word of an older journal meaning something else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

from ledger.domain.amounts import amount_from_json, amount_to_json
from ledger.domain.density import Density
from ledger.domain.errors import BadInput, visible
from ledger.domain.formula import Formula
from ledger.domain.masks import Masks
from ledger.domain.measured_on import MeasuredOn
from ledger.domain.position import Position
from ledger.domain.quantity import Bounds, Length, Limits
from ledger.domain.side import PointSide

Quantity: TypeAlias = Length | Bounds | Limits | Position | Formula | MeasuredOn | Masks | Density | PointSide
READERS: Mapping[Any, Callable[[Any], Quantity]] = {
    Length: amount_from_json,
    Bounds: Bounds.from_json,
    Limits: Limits.from_json,
    Position: Position.from_json,
    Formula: Formula.from_json,
    MeasuredOn: MeasuredOn.from_json,
    Masks: Masks.from_json,
    Density: Density.from_json,
    PointSide: PointSide.from_json,
}


def to_kept(value: Quantity | None) -> dict[str, Any] | None:
    """A quantity as plain JSON: its text under "written", its exact value beside it; None for nothing."""
    if value is None:
        return None
    return amount_to_json(value) if isinstance(value, Length) else value.to_json()


def from_kept(kind: type[Quantity], data: object) -> Any:
    """The quantity of a kind that `to_kept` wrote. Raises BadInput for anything else."""
    try:
        return READERS[kind](data)
    except (KeyError, TypeError, ValueError, ArithmeticError, AttributeError) as fault:
        raise BadInput(
            f"{visible(str(data))!r} is no {kind.__name__.lower()} as it is kept: the job was changed outside fitup"
        ) from fault
