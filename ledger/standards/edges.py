"""
How near to an edge, and to each other, bolt holes may lie: AISC 360 J3, EN 1993-1-8 table 3.3, aluminium.

Inch bolts, and metric ones to ASTM, are held to AISC, the other metric ones to the Eurocode; a size that AISC does not
list, below its least, is held to the Eurocode's factors too. In aluminium the greater distance counts. Distances run
from the centre of the hole, at a slot from the middle of its nearer end.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ledger.standards.fasteners import Fastener
from ledger.standards.table import band_value, source_of, table

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
    row = table("edges")["most"][_rules(bolt)]
    edge = min(row["edge_times"] * thickness_mm + row["edge_plus"], row["edge_cap"])
    spacing = min(row["spacing_times"] * thickness_mm, row["spacing_cap"])
    return Greatest(float(edge), float(spacing), source_of("edges", row))


def hole_distances(
    bolt: Fastener, hole_mm: float, *, slot_mm: float = 0.0, aluminium: bool = False, sheared: bool = False
) -> Distances:
    """
    The least edge distance and spacing for a bolt in a hole of that diameter.

    `slot_mm` is how far apart the middles of the ends of a slot are, 0 of a round hole; `hole_mm` is its width then.
    """
    listed = None if _rules(bolt) == "EN" else _aisc(bolt, hole_mm, slot_mm, sheared=sheared)
    plain = listed or _en(hole_mm, slotted=slot_mm > 0)
    if not aluminium:
        return plain
    row = table("edges")["aluminium"]
    soft = Distances(
        row["edge"] * bolt.diameter_mm, row["spacing"] * bolt.diameter_mm, source_of("edges", row)
    )
    return soft if soft.edge_mm >= plain.edge_mm else plain


def _rules(bolt: Fastener) -> str:
    """UN for AISC in inches, UNM for AISC in mm, EN for the Eurocode."""
    if bolt.system == "UN":
        return "UN"
    return "UNM" if bolt.make.standard.startswith("ASTM") else "EN"


def _en(hole_mm: float, *, slotted: bool) -> Distances:
    row = table("edges")["en"]
    across = row["across"] * hole_mm
    edge = row["slot_edge" if slotted else "edge"] * hole_mm
    return Distances(edge, row["spacing"] * hole_mm, source_of("edges", row), across)


def _aisc(bolt: Fastener, hole_mm: float, slot_mm: float, *, sheared: bool) -> Distances | None:
    """A row of table J3.4, the next larger one for a size between two; 1.25 d (sheared 1.75 d) above the table."""
    rules = table("edges")["aisc"]
    rows = rules["inch" if bolt.system == "UN" else "metric"]
    unit = float(rows["unit_mm"])
    size = round(bolt.diameter_mm / unit, 6)
    if size < rows["bolt"][0] - _SAME:
        return None
    place = next((k for k, listed in enumerate(rows["bolt"]) if listed >= size - _SAME), None)
    column, over = ("sheared", "over_sheared") if sheared else ("edge", "over")
    edge = rules[over] * size if place is None else rows[column][place]
    standard = math.inf if place is None else rows["standard_hole"][place]
    if slot_mm > _SAME:
        edge += _slot_increment(rules, rows, size, slot_mm / unit)
    elif hole_mm / unit > standard + _SAME:
        edge += band_value(rows["up_to"], rows["oversize"], size)
    spacing = rules["spacing"] * bolt.diameter_mm
    return Distances(
        edge * unit, spacing, source_of("edges", rows if sheared or bolt.system != "UN" else rules)
    )


def _slot_increment(rules: Mapping[str, Any], rows: Mapping[str, Any], size: float, slot: float) -> float:
    """
    C2 of table J3.5 for a slot square to the edge, in the units of the row.

    It runs from the middle of the slot; half of the slot lies between there and its end, from where is measured.
    """
    short = slot <= rules["short_up_to"] * size
    more = band_value(rows["up_to"], rows["short_slot"], size) if short else float(rules["long"]) * size
    return max(0.0, more - slot / 2)
