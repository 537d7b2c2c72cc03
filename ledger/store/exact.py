"""
Quantities in the columns of fact tables: as written in one, and exactly, as JSON, in the one beside it (`NAME_exact`).

Reading a fact asks no grammar: the value is what the act was read as when it was made.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from functools import lru_cache
from typing import Any, TypeVar

from sqlmodel import SQLModel

from ledger.domain.density import Density
from ledger.domain.errors import BadInput, visible
from ledger.domain.formula import Formula
from ledger.domain.kept import Quantity, from_kept, to_kept
from ledger.domain.masks import Masks
from ledger.domain.measured_on import MeasuredOn
from ledger.domain.position import Position
from ledger.domain.quantity import Bounds, Length, Limits
from ledger.domain.side import PointSide

Q = TypeVar("Q", Length, Bounds, Limits, Position, Formula, MeasuredOn, Masks, Density, PointSide)
EXACT = "_exact"
_SORTED = json.JSONEncoder(sort_keys=True)


def has_exact(table: type[SQLModel], name: str) -> bool:
    """Whether a column of a table is a quantity as written."""
    return name + EXACT in table.model_fields


def columns(name: str, value: Quantity | None) -> dict[str, str]:
    """Both columns of a quantity, empty for nothing."""
    written, exact = _length(value) if isinstance(value, Length) else _both(value)
    return {name: written, name + EXACT: exact}


def _both(value: Quantity | None) -> tuple[str, str]:
    kept = to_kept(value)
    return (kept.pop("written"), _SORTED.encode(kept)) if kept else ("", "")


@lru_cache(4096)
def _length(value: Length) -> tuple[str, str]:
    """The same, remembered: a job has the same few lengths thousands of times. Equal ones are written alike."""
    return _both(value)


def same_in(row: SQLModel, name: str, to: str) -> dict[str, str]:
    """Both columns of a quantity under another name."""
    return {to: getattr(row, name), to + EXACT: getattr(row, name + EXACT)}


def as_written(row: SQLModel) -> dict[str, Any]:
    """A row by its columns, quantities only as written."""
    return {name: value for name, value in row.model_dump().items() if not name.endswith(EXACT)}


def length(row: SQLModel, name: str) -> Length | None:
    """A length, an angle or an area of a row; None where none was entered. Raises BadInput."""
    return value(Length, row, name)


def some_length(row: SQLModel, name: str) -> Length:
    """The same where there always is one."""
    found = length(row, name)
    if found is None:
        raise BadInput(f"{visible(str(row.__tablename__))} holds no {name}: verify the job")
    return found


def bounds(row: SQLModel, name: str) -> Bounds | None:
    """What a row requires; None for nothing. Raises BadInput."""
    return value(Bounds, row, name)


def limits(row: SQLModel, name: str) -> Limits | None:
    """Deviations of a row; None where none were entered. Raises BadInput."""
    return value(Limits, row, name)


def position(row: SQLModel, name: str) -> Position | None:
    """Where a row says that a part lies; None for nothing. Raises BadInput."""
    return value(Position, row, name)


def formula(row: SQLModel, name: str) -> Formula:
    """What a calculated dimension follows from. Raises BadInput, also for nothing."""
    found = value(Formula, row, name)
    if found is None:
        raise BadInput(f"{visible(str(row.__tablename__))} holds no {name}: verify the job")
    return found


def list_of(values: Iterable[Length]) -> str:
    """Several lengths as the JSON of one column."""
    return json.dumps([to_kept(value) for value in values])


def lengths(text: str) -> tuple[Length, ...]:
    """The lengths that `list_of` wrote. Raises BadInput."""
    return tuple(from_kept(Length, one) for one in _json(text))


def value(kind: type[Q], row: SQLModel, name: str) -> Q | None:
    """A value of this kind of a row; None where nothing was entered. Raises BadInput."""
    written, exact = getattr(row, name), getattr(row, name + EXACT)
    if not written and not exact:
        return None
    kept = _json(exact)
    if not isinstance(kept, dict):
        raise BadInput(
            f"{visible(str(exact))!r} is no exact value of {visible(str(written))!r}: verify the job"
        )
    found: Q = from_kept(kind, {"written": written, **kept})
    return found


def _json(text: object) -> Any:
    try:
        return json.loads(text)  # type: ignore[arg-type]  # whatever stands in a column that somebody changed
    except (TypeError, ValueError, RecursionError) as fault:
        raise BadInput(
            f"{visible(str(text))!r} is no exact value: the job was changed outside fitup"
        ) from fault
