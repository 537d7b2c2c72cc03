"""
How near to an edge, and to each other, bolt holes may lie: AISC 360 J3, EN 1993-1-8 table 3.3, aluminium.

Inch bolts are held to AISC, metric ones to the Eurocode; a size that AISC does not list, below 1/2 in, is held to
the Eurocode's factors too. In aluminium the greater distance counts. Distances run from the centre of the hole.
"""

from __future__ import annotations

from dataclasses import dataclass

from ledger.standards.fasteners import Fastener
from ledger.standards.table import source_of, table

_INCH_MM = 25.4
_SAME = 1e-6


@dataclass(frozen=True, slots=True)
class Distances:
    """
    The least distances of one hole, mm, and the source of them.

    `across_mm` is the spacing across the force where the source tells it apart; None where it does not.
    """

    edge_mm: float
    spacing_mm: float
    source: str
    across_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Greatest:
    """The greatest distances by the thickness of a ply that stands in the weather, mm, and their source."""

    edge_mm: float
    spacing_mm: float
    source: str


def greatest_distances(bolt: Fastener, thickness_mm: float) -> Greatest:
    """How far from an edge, and from each other, bolts may lie at most."""
    row = table("edges")["most"]["UN" if bolt.system == "UN" else "EN"]
    edge = min(row["edge_times"] * thickness_mm + row["edge_plus"], row["edge_cap"])
    spacing = min(row["spacing_times"] * thickness_mm, row["spacing_cap"])
    return Greatest(float(edge), float(spacing), source_of("edges", row))


def hole_distances(bolt: Fastener, hole_mm: float, *, aluminium: bool = False) -> Distances:
    """The least edge distance and spacing for a bolt in a hole of that diameter."""
    listed = _aisc(bolt) if bolt.system == "UN" else None
    plain = listed or _en(hole_mm)
    if not aluminium:
        return plain
    row = table("edges")["aluminium"]
    soft = Distances(
        row["edge"] * bolt.diameter_mm, row["spacing"] * bolt.diameter_mm, source_of("edges", row)
    )
    return soft if soft.edge_mm >= plain.edge_mm else plain


def _en(hole_mm: float) -> Distances:
    row = table("edges")["en"]
    across = row["across"] * hole_mm
    return Distances(row["edge"] * hole_mm, row["spacing"] * hole_mm, source_of("edges", row), across)


def _aisc(bolt: Fastener) -> Distances | None:
    """A row of table J3.4, the next larger one for a size between two; 1.25 d above the table."""
    rules = table("edges")["aisc"]
    size = bolt.diameter_mm / _INCH_MM
    rows = rules["edges"]
    if size < rows[0]["bolt"] - _SAME:
        return None
    row = next((r for r in rows if r["bolt"] >= size - _SAME), None)
    edge = row["edge"] if row else rules["over"] * size
    return Distances(edge * _INCH_MM, rules["spacing"] * bolt.diameter_mm, source_of("edges", row or rules))
