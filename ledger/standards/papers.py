"""Papers that are printed on, by their sides."""

from __future__ import annotations

from ledger.standards.table import table


def sizes_mm() -> dict[str, tuple[float, float]]:
    """The sheets by name: short side and long side in mm."""
    return {row["name"]: (float(row["mm"][0]), float(row["mm"][1])) for row in table("papers")["paper"]}
