"""
What a table needs so that a calculated dimension may name the rows beside it: drafts of them, and an order.

A *draft* is a dimension as it will be, which counts before what stands. Rows that cannot be read are no drafts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sqlmodel import Session

from ledger.acts.base import Act, newest_part
from ledger.acts.dimensions import CalculateDimension, RecordDimension, dimension_act
from ledger.domain.errors import FitupError
from ledger.domain.formula import names_in
from ledger.store.formula_values import Key
from ledger.store.tables import DimensionFact

DIMENSION_VALUES = (
    "nominal",
    "limits",
    "source",
    "instrument",
    "uncertainty",
    "measured_on",
    "frozen",
    "critical",
)


def standing(old: DimensionFact) -> dict[str, Any]:
    """What a dimension is by its columns; of a calculated one its formula."""
    return {**{c: getattr(old, c) for c in DIMENSION_VALUES}, "nominal": old.formula or old.nominal}


def drafts_of(facts: Session, rows: Iterable[Mapping[str, str]]) -> dict[Key, DimensionFact]:
    """What the table's dimensions will be where they can be read, so that a formula may name a row beside it."""
    found: dict[Key, DimensionFact] = {}
    for cells in rows:
        number, name, nominal = (cells.get(c, "") for c in ("part", "name", "nominal"))
        if not (number and name and nominal):
            continue
        try:
            measured_on = {"measured_on": cells.get("measured_on", "")}
            act = dimension_act(
                facts,
                "",
                number=number,
                name=name,
                nominal=nominal,
                source=cells.get("source") or "given",
                **measured_on,
            )
            revision = newest_part(facts, number).revision
        except FitupError:
            continue
        if isinstance(act, CalculateDimension | RecordDimension):
            found[number, name] = act.row(revision)
    return found


def in_order(acts: Iterable[Act]) -> tuple[Act, ...]:
    """Calculated dimensions behind all others, and each behind those of the same table that it names."""
    acts = tuple(acts)
    waiting = {(a.number, a.name): a for a in acts if isinstance(a, CalculateDimension)}
    placed: list[Act] = [a for a in acts if not isinstance(a, CalculateDimension)]
    while waiting:
        ready = [key for key, a in waiting.items() if not waiting.keys() & _named(a)] or list(
            waiting
        )  # a ring is refused when its first is recorded
        placed.extend(waiting.pop(key) for key in ready)
    return tuple(placed)


def _named(act: CalculateDimension) -> set[Key]:
    return {(ref.part or act.number, ref.name) for ref in names_in(act.formula.tree)}
