"""
Densities as people write them: 7850 kg/m3, 2.7 g/cm3, 0.284 lb/in3, 490 lb/ft3.

A bare number is refused, and so are zero and what is no material: lighter than cork or heavier than osmium.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.plain_json import finite, words

_DENSITY = re.compile(r"([0-9]+(?:\.[0-9]+)?|\.[0-9]+) ?([a-z]+/[a-z]+)(?:\^?3|³)", re.IGNORECASE)
_POUND_KG, _INCH_M = 0.45359237, 0.0254  # exact by definition
_PER = {
    "kg/m": 1.0,
    "g/cm": 1000.0,
    "kg/dm": 1000.0,
    "lb/in": _POUND_KG / _INCH_M**3,
    "lb/ft": _POUND_KG / (12 * _INCH_M) ** 3,
}
_LEAST, _MOST = 100.0, 23_000.0


@dataclass(frozen=True, slots=True)
class Density:
    """A density as written, and in kg/m3."""

    written: str
    kg_m3: float

    def __str__(self) -> str:
        return self.written

    def to_json(self) -> dict[str, str]:
        """Plain values for JSON, the number as text; `from_json` reads them back."""
        return {"written": self.written, "kg_m3": repr(self.kg_m3)}

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Density:
        """What `to_json` wrote; its text is not read again. Raises ValueError, KeyError or TypeError."""
        return Density(words(data["written"]), finite(data["kg_m3"]))


def read_density(text: str) -> Density:
    """A density. Raises BadInput."""
    found = _DENSITY.fullmatch(text.strip())
    per = _PER.get(found[2].lower()) if found else None
    if found is None or per is None:
        raise BadInput(
            f"read {visible(text)!r} as a density; expected a number and its unit, such as 7850 kg/m3, 2.7 g/cm3 "
            "or 0.284 lb/in3"
        )
    density = float(found[1]) * per
    if not density > 0:
        raise BadInput(
            f"a density of {visible(text)}: nothing weighs nothing; leave it out where it is not known"
        )
    if not _LEAST <= density <= _MOST:
        raise BadInput(
            f"a density of {density:.4g} kg/m3 is no material for parts; expected {_LEAST:.0f} to {_MOST:.0f} kg/m3: "
            "look at the unit"
        )
    return Density(text, density)
