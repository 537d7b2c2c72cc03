"""
Reads a table of this room once, with each row's source spelled out.

A *table* is a TOML file of this package: lists of rows, and `[sources]`, a short name for each source text.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any

from ledger.domain.errors import BadInput


@cache
def table(name: str) -> Mapping[str, Any]:
    """The table of that name. Shared by all callers: not to be changed."""
    return tomllib.loads(resources.files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8"))


def source_of(name: str, row: Mapping[str, Any]) -> str:
    """The source of a row, in full. Raises KeyError for a row without one, so that none goes without."""
    return str(table(name)["sources"][row["source"]])


def band(bounds: Sequence[float], value: float | Decimal, *, edge_above: bool = False) -> int | None:
    """
    Which range of a table a value is in; None past the last, and for what is no number or not above zero.

    A bound belongs to the range below it ("over 6 up to 30"), as in ISO 2768-1, ISO 286, ISO 13920 and EN 10051; with
    `edge_above` to the one above ("from 10 to below 35"), as the sizes of ISO 9013.
    """
    if not value > 0:
        return None
    below = (k for k, bound in enumerate(bounds) if value < bound or (value == bound and not edge_above))
    return next(below, None)


def band_value(bounds: Sequence[float], values: Sequence[float], value: float) -> float:
    """What a table gives for the range that a value is in. Raises BadInput past the table."""
    place = band(bounds, value)
    if place is None:
        raise BadInput(f"{value:g} mm is in no range of the table; expected above 0, up to {bounds[-1]:g} mm")
    return float(values[place])


def plain_name(text: str) -> str:
    """A name as tables are searched by: lower case, single spaces."""
    return " ".join(text.lower().split())
