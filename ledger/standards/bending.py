"""
Bending a plate: flat length of a bend, what is assumed where nothing was stated, and what a press brake asks for.

The *allowance* is the flat plate that a bend takes: angle (R + K t), K the share of the thickness t from the inside to
the neutral fibre. The *setback* is from where a bend begins to the outside of the other leg: (R + t) tan(angle/2) to
the corner of both outer faces; beyond 90 degrees R + t, to the outermost tangent, as DIN 6935 measures a leg. The
*deduction* is two setbacks less the allowance: the flat length is the sum of the outside legs less all deductions.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ledger.domain.bend import LARGEST_K, Bend, BendData
from ledger.domain.record import Part
from ledger.standards.materials import material
from ledger.standards.table import plain_name, source_of, table

_SQUARE: Final = 90.0


@dataclass(frozen=True, slots=True)
class Bent:
    """
    A bend in numbers, mm. `assumed` names what was not stated, with its value; `source` says where that is from.

    `vendors` names what was not stated of the bend but of its vendor: it counts as stated.
    """

    angle_deg: float
    radius_mm: float
    k: float
    allowance_mm: float
    setback_mm: float
    off_mm: float
    assumed: tuple[str, ...] = ()
    source: str = ""
    vendors: tuple[str, ...] = ()
    radius_assumed: bool = False

    @property
    def deduction_mm(self) -> float:
        """What both outside legs together have more than the flat plate."""
        return 2 * self.setback_mm - self.allowance_mm

    @property
    def words(self) -> str:
        """The bend in numbers, what is assumed named as such."""
        said = f"R {self.radius_mm:.2f}, K {self.k:.3f}: takes {self.allowance_mm:.3f} mm of the flat, deduction "
        said += f"{self.deduction_mm:.3f} mm" + (f"; {', '.join(self.vendors)}" if self.vendors else "")
        return said + (f"; assumed {', '.join(self.assumed)} ({self.source})" if self.assumed else "")

    @property
    def leg_mm(self) -> float:
        """What an outside leg has more than the flat plate from the bend line to its edge."""
        return self.setback_mm - self.allowance_mm / 2


def allowance_mm(angle_deg: float, radius_mm: float, thickness_mm: float, k: float) -> float:
    """The length of the neutral fibre through the bend."""
    return math.radians(angle_deg) * (radius_mm + k * thickness_mm)


def setback_mm(angle_deg: float, radius_mm: float, thickness_mm: float) -> float:
    """From the beginning of the bend to the outside of the other leg."""
    turned = math.tan(math.radians(angle_deg) / 2) if angle_deg < _SQUARE else 1.0
    return (radius_mm + thickness_mm) * turned


def din_k(radius_mm: float, thickness_mm: float) -> float:
    """The correction k of DIN 6935, twice the K-factor; at most 1, at least 0."""
    ratio = radius_mm / thickness_mm
    return min(max(0.65 + 0.5 * math.log10(ratio), 0.0), 1.0) if ratio > 0 else 0.0


def default_radius_mm(thickness_mm: float) -> float:
    """The inside radius that air bending leaves as a rule."""
    air = table("bending")["air"]
    return float(air["radius"] * air["die"] * thickness_mm)


def default_k(material_name: str, radius_mm: float, thickness_mm: float) -> tuple[float, str]:
    """The K-factor of a material as a rule, with its source."""
    row = _of(material_name, "neutral")
    if row is not None:
        return min(float(row["coefficient"]) / (math.pi / 2), float(LARGEST_K)), source_of("bending", row)
    return din_k(radius_mm, thickness_mm) / 2, str(table("bending")["sources"]["din"])


def sharpest_mm(material_name: str, thickness_mm: float) -> tuple[float, str] | None:
    """The smallest inside radius of a material, with its source; None where no rule is known."""
    row = _of(material_name, "sharpest")
    return None if row is None else (float(row["times"]) * thickness_mm, source_of("bending", row))


def smallest_flange_mm(thickness_mm: float) -> float:
    """The shortest outside leg that the die of an air bend still carries."""
    air = table("bending")["air"]
    return float(air["flange"] * air["die"] * thickness_mm)


def hole_to_bend_mm(thickness_mm: float, radius_mm: float) -> float:
    """From the edge of a hole to the bend line, at least."""
    row = table("bending")["hole"]
    return float(row["thickness"] * thickness_mm + row["radius"] * radius_mm)


def relief_mm(thickness_mm: float, radius_mm: float) -> tuple[float, float]:
    """How wide and how deep a relief is to be, at least."""
    row = table("bending")["relief"]
    deep = row["deep_thickness"] * thickness_mm + row["deep_radius"] * radius_mm
    return float(row["wide"] * thickness_mm), float(deep)


def off_per_bend() -> tuple[float, float, str]:
    """How far a bend may be off, either way, as a rule: mm, degrees, the source."""
    air = table("bending")["air"]
    return float(air["off_mm"]), float(air["off_deg"]), source_of("bending", air)


def bent_in(part: Part, bend: Bend) -> Bent | None:
    """A bend of a part in numbers; None without a thickness to reckon with."""
    if part.thickness is None or not part.thickness.mm > 0:
        return None
    return bent(bend, float(part.thickness.mm), part.material, part.bend_data)


def bent(bend: Bend, thickness_mm: float, material_name: str, bend_data: BendData | None = None) -> Bent:
    """
    A bend in numbers: as stated, else as its vendor bends, else by default; the last two are named.
    """
    angle = float(bend.angle)
    assumed, sources, vendors = [], [], []
    stated = bend.radius or (bend_data.radius if bend_data else None)
    radius = float(stated.mm) if stated else default_radius_mm(thickness_mm)
    if stated and not bend.radius and bend_data:
        vendors.append(f"R {stated} of {bend_data.vendor}")
    if not stated:
        assumed.append(f"R {radius:.2f} mm")
        sources.append(str(table("bending")["sources"]["practice"]))
    setback = setback_mm(angle, radius, thickness_mm)
    if bend.allowance:
        length = float(bend.allowance.mm)
    elif bend.deduction:
        length = 2 * setback - float(bend.deduction.mm)
    else:
        known = bend.k_factor if bend.k_factor is not None else bend_data.k_factor if bend_data else None
        k, source = (
            (float(known), "") if known is not None else default_k(material_name, radius, thickness_mm)
        )
        length = allowance_mm(angle, radius, thickness_mm, k)
        if known is not None and bend.k_factor is None and bend_data:
            vendors.append(f"K {known} of {bend_data.vendor}")
        if known is None:
            assumed.append(f"K {k:.3f}")
            sources.append(source)
    meant = (length / math.radians(angle) - radius) / thickness_mm
    off = float(bend.tolerance.mm) if bend.tolerance else off_per_bend()[0]
    told = "; ".join(dict.fromkeys(sources))
    return Bent(
        angle, radius, meant, length, setback, off, tuple(assumed), told, tuple(vendors), stated is None
    )


def _of(material_name: str, name: str) -> Mapping[str, Any] | None:
    """The first row whose material begins the name of this one."""
    known = material(material_name)
    plain = plain_name(known.name if known else material_name)
    rows: list[Mapping[str, Any]] = table("bending")[name]
    return next((r for r in rows if any(plain.startswith(m) for m in r["materials"])), None)
