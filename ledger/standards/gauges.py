"""
Sheet gauges: 16 ga is one thickness in steel, another in galvanized, stainless, and in aluminium.

A gauge number is turned into inches when it is written, so that the record holds a thickness and never a number
whose meaning depends on a table.
"""

from __future__ import annotations

import re

from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.standards.materials import material
from ledger.standards.table import table

_GAUGE = re.compile(r"(?:#|no\.?\s*)?([0-9]{1,2})\s*-?\s*(?:ga|gauge|gage)\.?", re.IGNORECASE)
_METALS = {
    "steel galvanized": "galvanized",
    "mild": "steel",
    "steel": "steel",
    "stainless": "stainless",
    "aluminium": "aluminium",
}


def thickness_text(text: str, material_name: str) -> str:
    """A thickness as it is kept: a gauge as a length, anything else as it is. Raises like `gauge_thickness`."""
    return gauge_thickness(text, material_name) if is_gauge(text) else text


def is_gauge(text: str) -> bool:
    """Whether this is a gauge number such as 16 ga."""
    return _GAUGE.fullmatch(text.strip()) is not None


def gauge_thickness(text: str, material_name: str) -> str:
    """
    The thickness of a gauge in a material, as a length in inches such as 0.0598 in.

    Raises BadInput without a material whose gauge is known, UnknownName for a number that its table has not.
    """
    found = _GAUGE.fullmatch(text.strip())
    if found is None:
        raise BadInput(f"read {visible(text)!r}; expected a gauge such as 16 ga")
    known = material(material_name)
    metal = (_METALS.get(known.name) or _METALS.get(known.name.split()[0])) if known else None
    if metal is None:
        other = (
            f"the gauge of {visible(material_name)!r} is not known" if material_name else "no material yet"
        )
        raise BadInput(
            f"{visible(text)} is another thickness in steel, stainless and aluminium; {other}: "
            "write the material first, or the thickness with its unit"
        )
    row = next(r for r in table("gauges")["metal"] if r["name"] == metal)
    number = str(int(found[1]))
    if number not in row["inches"]:
        near = sorted(row["inches"], key=lambda n: (abs(int(n) - int(number)), int(n)))[:3]
        raise UnknownName(f"gauge of {metal}", number, row["inches"], near)
    return f"{row['inches'][number]:.4f} in"
