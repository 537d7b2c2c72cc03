"""How much thread must bite in a tapped hole, by the material that is tapped, as multiples of the diameter."""

from __future__ import annotations

from ledger.standards.fasteners import Fastener
from ledger.standards.materials import material
from ledger.standards.table import plain_name, source_of, table


def engagement_mm(bolt: Fastener, material_name: str) -> tuple[float, str] | None:
    """The least engagement and its source; None for a material of which nothing is known."""
    known = material(material_name)
    plain = plain_name(known.name if known else material_name)
    for row in table("engagement")["material"]:
        if any(plain.startswith(name) for name in row["names"]):
            return float(row["times"]) * bolt.diameter_mm, source_of("engagement", row)
    return None
