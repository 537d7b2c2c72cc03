"""
Densities of materials for weights on the vendor sheet, and how they grow with heat.

The ledger keeps a material as the user wrote it; one that is not in the table is allowed and has no weight.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from ledger.standards.table import plain_name, source_of, table


@dataclass(frozen=True, slots=True)
class Material:
    """A material of the table. `name` is the row's: a record keeps the user's own words."""

    name: str
    density_kg_m3: float
    source: str
    expansion_per_k: float | None = None
    expansion_source: str = ""


def material(name: str) -> Material | None:
    """The row for a name or grade (A36, 6061-T6), or None where the table has none."""
    return _by_name().get(plain_name(name))


def materials() -> tuple[Material, ...]:
    """Every material of the table, in its order."""
    return tuple(dict.fromkeys(_by_name().values()))


@cache
def _by_name() -> Mapping[str, Material]:
    known: dict[str, Material] = {}
    for row in table("materials")["material"]:
        grows = (
            (float(row["expansion"]) * 1e-6, table("materials")["sources"][row["expansion_source"]])
            if "expansion" in row
            else (None, "")
        )
        made = Material(row["name"], float(row["density"]), source_of("materials", row), *grows)
        known |= {plain_name(spelling): made for spelling in (row["name"], *row["also"])}
    return known
