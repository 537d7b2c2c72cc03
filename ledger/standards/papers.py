"""Papers that are printed on at full size: their sides, and how far these may be off."""

from __future__ import annotations

from ledger.standards.table import band, table


def sizes_mm() -> dict[str, tuple[float, float]]:
    """The sheets by name: short side and long side in mm."""
    return {row["name"]: (float(row["mm"][0]), float(row["mm"][1])) for row in table("papers")["paper"]}


def trimming_mm(side_mm: float) -> float:
    """How far a side of a trimmed sheet may be off, plus or minus, mm (ISO 216)."""
    row = table("papers")["trimming"]
    place = band(row["up_to_mm"], side_mm)
    return float(row["off_mm"][-1 if place is None else place])
