"""
How far sizes of a welded assembly stray: ISO 13920, classes A to D, linear dimensions.

A size of a welded assembly is one that runs across a weld; within one plate the cut decides.
"""

from __future__ import annotations

from ledger.domain.errors import BadInput, UnknownName
from ledger.standards.table import band, table

CLASSES = ("A", "B", "C", "D")


def weld_class_deviation_mm(name: str, size_mm: float) -> float:
    """What a class allows either way for a size. Raises UnknownName, or BadInput for a size that is none."""
    row = next((r for r in table("weld_classes")["class"] if r["name"] == name), None)
    if row is None:
        raise UnknownName("class of ISO 13920", name, CLASSES)
    up_to = table("weld_classes")["sizes"]["up_to"]
    place = band(up_to, size_mm)
    if place is None:
        raise BadInput(f"a size of {size_mm} mm has no tolerance in ISO 13920; expected one above zero")
    return float(row["deviations"][place])
