"""
How much thicker than ordered a sheet or plate may be delivered; the steel figures stand for every metal here.

Thin metal is taken as sheet from coil (EN 10051, with the category of the grade), thick metal as plate (EN 10029).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ledger.standards.materials import material
from ledger.standards.table import band, table

_HUNDREDTHS = 100


def thicker_mm(thickness_mm: float, material_name: str = "") -> float:
    """How much thicker than nominal a sheet or plate of a material may be, mm; beyond the tables their last figure."""
    data = table("sheets")
    sheet, plate = data["sheet"], data["plate"]
    if thickness_mm > sheet["sheet_up_to"]:
        place = band(plate["below"], thickness_mm, edge_above=True)
        return float(plate["plus"][-1 if place is None else place])
    place = band(sheet["up_to"], thickness_mm)
    plus = float(sheet["plus"][-1 if place is None else place]) * _category(data["category"], material_name)
    return math.ceil(plus * _HUNDREDTHS - 1e-9) / _HUNDREDTHS


def _category(row: Mapping[str, Any], material_name: str) -> float:
    """What the category of EN 10051 multiplies by: the harder to roll, the wider. A for what has no known strength."""
    known = material(material_name)
    if known is None:
        return 1.0
    family, _, grade = known.name.partition(" ")
    if family == "stainless":
        return float(row["molybdenum"] if grade in row["molybdenum_grades"] else row["stainless"])
    if known.strength is None or not known.name.startswith("steel"):
        return 1.0
    place = band(row["yield_up_to"], known.strength.yields[0][1])
    return float(row["times"][-1 if place is None else place])
