"""
Quantities of the journal whose text and whose exact value are not the same.

The exact value counts and the text is what people see, so whoever altered one of them could make a signer believe the
other. What today's grammar cannot read any more is not compared: that a spelling was given up proves nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from ledger.domain.amounts import read_amount
from ledger.domain.density import read_density
from ledger.domain.errors import FitupError
from ledger.domain.formula import formula_of
from ledger.domain.kept import Quantity, to_kept
from ledger.domain.masks import read_masks
from ledger.domain.measured_on import read_measured_on
from ledger.domain.position import position_of
from ledger.domain.quantity import read_bounds, read_length
from ledger.domain.side import read_side
from ledger.standards.size_limits import limits_of
from ledger.store.exact import EXACT

_BY_NAME: Mapping[str, Callable[[str], Quantity | None]] = {
    "kind": read_measured_on,
    "places": read_masks,
    "kg_m3": read_density,
    "hand": read_side,
}


def misread(act: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Text, value that stands beside it, value that it reads as, of each quantity of an act where they differ."""
    for value, beside in _quantities(act):
        kept = {name: number for name, number in value.items() if name != "written"}
        read = _read_again(str(value["written"]), kept, beside)
        if read is not None and read != kept:
            yield str(value["written"]), json.dumps(kept), json.dumps(read)


def _quantities(value: Any) -> Iterator[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Every quantity within, and the fields that it stands among."""
    if isinstance(value, list):
        value = dict(enumerate(value))
    if not isinstance(value, dict):
        return
    for name, inner in value.items():
        if isinstance(inner, dict) and isinstance(inner.get("written"), str):
            yield inner, value
        else:
            yield from _quantities(inner)
        exact = value.get(f"{name}{EXACT}")
        if isinstance(exact, str) and isinstance(kept := _json(exact), dict):
            yield {"written": inner, **kept}, value


def _read_again(text: str, kept: Mapping[str, Any], beside: Mapping[str, Any]) -> dict[str, Any] | None:
    """What the text reads as now, as it would be kept; None where it reads as nothing."""
    for read in _readers(kept, beside):
        try:
            made = to_kept(read(text))
        except (FitupError, ValueError, ArithmeticError, KeyError, TypeError, AttributeError):
            continue
        return {name: number for name, number in (made or {}).items() if name != "written"}
    return None


def _readers(
    kept: Mapping[str, Any], beside: Mapping[str, Any]
) -> tuple[Callable[[str], Quantity | None], ...]:
    if "least_mm" in kept:
        return (read_bounds,)
    if "lower_mm" in kept:
        return (lambda text: limits_of(text, read_amount(_nominal(beside))),)
    if "tree" in kept:
        return (formula_of,)
    for name, read in _BY_NAME.items():
        if name in kept:
            return (read,)
    if kept.keys() & {"x_mm", "pins", "sides"}:
        return (position_of,)
    return read_amount, lambda text: read_length(text, signed=True)


def _nominal(beside: Mapping[str, Any]) -> str:
    nominal = beside.get("nominal")
    return str(nominal["written"] if isinstance(nominal, dict) else nominal)


def _json(text: str) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None
