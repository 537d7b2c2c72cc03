"""
Densities, strengths and heat expansion of materials and grades, for weights and what the papers say of a grade.

The ledger keeps a material as the user wrote it; one that is not in the table is allowed and has no weight. Strengths
are the least values of the grade, for information: what a structure carries is an engineer's to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from ledger.domain.errors import BadInput
from ledger.standards.table import band, plain_name, source_of, table


@dataclass(frozen=True, slots=True)
class Strength:
    """Least yield (by thickness up to so many mm) and tensile strength, MPa; `most_mpa` None where none is set."""

    yields: tuple[tuple[float, float], ...]
    least_mpa: float
    most_mpa: float | None
    source: str

    def yield_mpa(self, thickness_mm: float) -> float | None:
        """The least yield or proof stress of that thickness; None beyond what the table has."""
        place = band([up_to for up_to, _ in self.yields], thickness_mm)
        return None if place is None else self.yields[place][1]


@dataclass(frozen=True, slots=True)
class Material:
    """A material of the table. `name` is the row's: a record keeps the user's own words. Strength: of a grade only."""

    name: str
    density_kg_m3: float
    source: str
    strength: Strength | None = None
    expansion_per_k: float | None = None
    expansion_source: str = ""


def material(name: str) -> Material | None:
    """The row for a name or grade (A36, 6061-T6), or None where the table has none."""
    return _by_name().get(plain_name(name))


def same_material(one: str, other: str) -> bool:
    """Whether two names mean the same row, or are the same words where the table has none."""
    rows = material(one), material(other)
    return rows[0] is rows[1] if all(rows) else plain_name(one) == plain_name(other)


def materials() -> tuple[Material, ...]:
    """Every material of the table, in its order."""
    return tuple(dict.fromkeys(_by_name().values()))


def row_material(row: Mapping[str, Any]) -> Material:
    """A row of the table as a value. Raises BadInput for a density or strength that is not above zero."""
    density = float(row["density"])
    _above_zero(row["name"], "density", density)
    strong = next((r for r in table("materials")["strength"] if r["of"] == row["name"]), None)
    strength = row_strength(strong) if strong else None
    grows = (
        (float(row["expansion"]) * 1e-6, str(table("materials")["sources"][row["expansion_source"]]))
        if "expansion" in row
        else (None, "")
    )
    return Material(row["name"], density, source_of("materials", row), strength, *grows)


def row_strength(row: Mapping[str, Any]) -> Strength:
    """A row of strengths as a value. Raises BadInput for one that is not above zero."""
    least, most = (float(mpa) for mpa in row["tensile"])
    yields = tuple((float(up_to), float(mpa)) for up_to, mpa in row["yield"])
    _above_zero(row["of"], "strength", least, *(n for pair in yields for n in pair))
    return Strength(yields, least, most or None, source_of("materials", row))


def _above_zero(name: str, what: str, *values: float) -> None:
    if not all(value > 0 for value in values):
        raise BadInput(f"the table gives {name} a {what} of {min(values)}; expected one above zero")


@cache
def _by_name() -> Mapping[str, Material]:
    known: dict[str, Material] = {}
    for row in table("materials")["material"]:
        made = row_material(row)
        known |= {plain_name(spelling): made for spelling in (row["name"], *row["also"])}
    return known
