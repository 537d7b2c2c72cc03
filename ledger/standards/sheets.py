"""How much thicker than ordered a sheet may be delivered; the steel figures stand for every metal here."""

from __future__ import annotations

from ledger.standards.table import table


def thicker_mm(thickness_mm: float) -> float:
    """How much thicker a sheet of a nominal thickness may be; beyond the table its last figure."""
    row = table("sheets")["sheet"][0]
    place = next((k for k, most in enumerate(row["up_to"]) if thickness_mm <= most), -1)
    return float(row["plus"][place])
