"""
Lengths at the reference temperature: 20 °C (ISO 1), from where they were read.

Work and instrument both grow with heat: a length L read at t on a scale is L (1 + a_s dT) / (1 + a_w dT) at 20 °C, with
dT = t - 20. Coefficients stand in the tables of materials and instruments, source by source. How well the temperature
is known (± 2 K where it was read) and the coefficients (± 1e-6/K, as in JCGM 100:2008 H.1) adds to the doubt.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from ledger.domain import uncertainty as gum
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.standards.materials import material, materials

REFERENCE_C = 20.0  # ISO 1
KNOWN_TO_K = 2.0  # how well a temperature that was read is that of the work; common practice
COEFFICIENT_PER_K = (
    1e-6  # JCGM 100:2008 H.1.3.4: how well the difference of coefficients is known, either side
)
_COLDEST_C, _HOTTEST_C = -50.0, 90.0
_WRITTEN = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?) ?(?:°|deg)? ?([CF])", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Heat:
    """Work of a material at a temperature; `per_k` is its coefficient of expansion, 1/K."""

    celsius: float
    material: str
    per_k: float
    source: str

    @property
    def above_k(self) -> float:
        """How far above the reference temperature."""
        return self.celsius - REFERENCE_C

    def factor(self, scale_per_k: float) -> float:
        """A length at 20 °C over the length as read on a scale that grows by so much."""
        return (1 + scale_per_k * self.above_k) / (1 + self.per_k * self.above_k)

    def doubt(self, length_mm: float, scale_per_k: float) -> tuple[gum.Contribution, ...]:
        """What the correction itself adds."""
        coefficient = abs(length_mm * self.above_k) * COEFFICIENT_PER_K
        return (
            gum.temperature(length_mm, self.per_k - scale_per_k, KNOWN_TO_K),
            gum.Contribution("the coefficient of expansion", coefficient / math.sqrt(3)),
        )

    @property
    def words(self) -> str:
        """What was corrected, for the record."""
        return f"from {self.celsius:g} to 20 °C (ISO 1) for {self.material}, {self.per_k * 1e6:g}e-6/K: {self.source}"


def heat_of(written: str, name: str) -> Heat | None:
    """The temperature that a person wrote, of work of a material; None for no words. Raises BadInput, UnknownName."""
    if not written.strip():
        return None
    celsius = temperature(written)
    if not name.strip():
        raise BadInput("how much it grows with heat is not known, for it has no material: record that first")
    known = material(name)
    if known is None or known.expansion_per_k is None:
        listed = [m.name for m in materials() if m.expansion_per_k is not None]
        raise UnknownName("material with a coefficient of expansion", name, listed)
    return Heat(celsius, known.name, known.expansion_per_k, known.expansion_source)


def temperature(written: str) -> float:
    """A temperature at which work may be measured, in °C. Raises BadInput."""
    found = _WRITTEN.fullmatch(" ".join(written.split()).replace("−", "-"))
    if not found:
        raise BadInput(f"read {visible(written)!r} as a temperature; expected such as 30C or 86F")
    degrees = float(found[1])
    celsius = degrees if found[2].upper() == "C" else (degrees - 32) * 5 / 9
    if not _COLDEST_C <= celsius <= _HOTTEST_C:
        raise BadInput(f"{visible(written)!r} is no temperature at which work is measured; look again")
    return celsius


def heat_between(written: str, materials: Mapping[str, str]) -> Heat | None:
    """
    The same for the room between parts, given with their materials: it grows as they do, where they all grow alike.

    Raises BadInput where they do not: then it depends on lengths that one reading does not know.
    """
    found = {part: heat_of(written, name) for part, name in materials.items()}
    kinds = {heat.per_k: heat for heat in found.values() if heat}
    if len(kinds) > 1:
        said = ", ".join(
            f"{visible(part)} is {heat.material} ({heat.per_k * 1e6:g}e-6/K)"
            for part, heat in found.items()
            if heat
        )
        raise BadInput(
            f"{said}: how the room between them moves with heat is not in one reading; measure it near 20 °C and "
            "leave the temperature out"
        )
    return next(iter(kinds.values()), None)
