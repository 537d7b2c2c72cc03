"""
Densities as people write them: 7850 kg/m3, 2.7 g/cm3, 0.284 lb/in3, 490 lb/ft3.

A bare number is refused, and so are zero and what is no material: lighter than cork or heavier than osmium.
"""

from __future__ import annotations

import re

from ledger.domain.errors import BadInput, visible

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


def read_density(text: str) -> float:
    """A density in kg/m3. Raises BadInput."""
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
    return density
