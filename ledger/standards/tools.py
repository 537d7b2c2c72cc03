"""Room for tightening: the outside of a socket over a hexagon, and how far apart bolts lie for an open spanner."""

from __future__ import annotations

from ledger.standards.hardware import Hardware
from ledger.standards.table import source_of, table


def socket_mm(parts: Hardware) -> tuple[float, str]:
    """The outside diameter of the socket for a hexagon, and the source."""
    row = table("tools")["socket"]
    return row["times"] * parts.across_flats_mm + row["plus"], source_of("tools", row)


def spanner_pitch_mm(size: str) -> tuple[float, str] | None:
    """The least pitch between bolts for an open spanner, and the source; None for a size that is not listed."""
    row = table("tools")["spanner"]
    return (float(row["pitch"][size]), source_of("tools", row)) if size in row["pitch"] else None
