"""
What follows from a part's drawing and record: mass, net area, cut length, pierces, strength of its grade.

*Pierces* are the rings that are cut, one each: outline, openings, holes and slots. Area and length are exact for lines
and arcs. The mass is that of one flat piece as drawn, without coating, threads or what is welded on; a material that
no table has and whose density was not entered gives none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ledger.domain.record import Part
from ledger.standards.materials import Strength, material

_MM3_PER_M3 = 1e9


@dataclass(frozen=True, slots=True)
class Figures:
    """Worked out figures of one piece; None where something to work them out from is not known."""

    area_mm2: float | None = None
    cut_length_mm: float | None = None
    pierces: int | None = None
    mass_kg: float | None = None
    density_kg_m3: float | None = None
    density_source: str = ""
    yield_mpa: float | None = None
    strength: Strength | None = None

    @property
    def mass_text(self) -> str:
        """The mass of one piece, to three figures."""
        return "" if self.mass_kg is None else f"{self.mass_kg:.3g} kg"

    @property
    def cutting_text(self) -> str:
        """Net area, cut length and pierces."""
        if self.area_mm2 is None or self.cut_length_mm is None:
            return ""
        pierces = f"{self.pierces} {'pierce' if self.pierces == 1 else 'pierces'}"
        return f"net {self.area_mm2:.0f} mm2, cut {self.cut_length_mm:.0f} mm, {pierces}"

    @property
    def strength_text(self) -> str:
        """What the grade gives, for information."""
        if self.strength is None:
            return ""
        most = f" to {self.strength.most_mpa:.0f}" if self.strength.most_mpa else ""
        tensile = f"tensile {self.strength.least_mpa:.0f}{most} MPa"
        return tensile if self.yield_mpa is None else f"yield {self.yield_mpa:.0f} MPa, {tensile}"

    @property
    def rows(self) -> tuple[tuple[str, str], ...]:
        """What there is to say, as (caption, words)."""
        found = (
            ("mass, one piece", self.mass_text),
            ("cutting", self.cutting_text),
            ("grade, minimum", self.strength_text),
        )
        return tuple((caption, words) for caption, words in found if words)

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "mass_kg": self.mass_kg,
            "net_area_mm2": self.area_mm2,
            "cut_length_mm": self.cut_length_mm,
            "pierces": self.pierces,
            "density_kg_m3": self.density_kg_m3,
            "density_source": self.density_source,
            "yield_mpa": self.yield_mpa,
            "tensile_mpa": self.strength.least_mpa if self.strength else None,
            "strength_source": self.strength.source if self.strength else "",
        }


def figures(part: Part) -> Figures:
    """The figures of one piece, as drawn."""
    known = material(part.material)
    thickness = float(part.thickness.mm) if part.thickness else 0.0
    density, source = (known.density_kg_m3, known.source) if known else (None, "")
    if part.density:
        density, source = part.density.kg_m3, "as entered"
    strength = known.strength if known else None
    grade = Figures(
        density_kg_m3=density,
        density_source=source,
        yield_mpa=strength.yield_mpa(thickness) if strength else None,
        strength=strength,
    )
    profile = part.profile
    if profile is None or not profile.outlines:
        return grade
    area = profile.area_mm2
    mass = area * thickness / _MM3_PER_M3 * density if density and thickness > 0 and area > 0 else None
    return Figures(
        area,
        profile.cut_length_mm,
        len(profile.outlines) + len(profile.openings) + len(profile.holes),
        mass,
        grade.density_kg_m3,
        grade.density_source,
        grade.yield_mpa,
        strength,
    )
