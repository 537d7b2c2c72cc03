"""
The holes to draw for a fastener to pass: ISO 273 for metric sizes, ASME B18.2.8 for inch sizes.

Three *fits*: fine (close), medium (normal) and coarse (loose). They are the sizes to draw, not a rule:
whether a pattern goes together is judged from the holes that are drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from ledger.domain.errors import UnknownName
from ledger.standards.fasteners import fastener
from ledger.standards.table import band_value, plain_name, source_of, table

_INCH_MM = 25.4
_SAME_MM = 1e-6
_LEAST_STRUCTURAL_MM = 12.0
_STRUCTURAL = ("EN 14399", "ASTM", "DIN 7990")
_CLASSES = ("normal", "oversize")
_FITS = {"fine": 0, "close": 0, "medium": 1, "normal": 1, "coarse": 2, "loose": 2}


@dataclass(frozen=True, slots=True)
class ClearanceHole:
    """The three hole diameters of one fastener size, mm. `drills` are the shop's names of inch drills."""

    size: str
    standard: str
    fine_mm: float
    medium_mm: float
    coarse_mm: float
    drills: tuple[str, ...]
    source: str

    def diameter_mm(self, fit: str = "medium") -> float:
        """The diameter for a fit: fine or close, medium or normal, coarse or loose. Raises UnknownName."""
        place = _FITS.get(plain_name(fit))
        if place is None:
            raise UnknownName("clearance fit", fit, _FITS)
        return (self.fine_mm, self.medium_mm, self.coarse_mm)[place]


def clearance_hole(designation: str) -> ClearanceHole:
    """The clearance holes of a fastener, by any spelling. Raises UnknownName where no table has its size."""
    size = fastener(designation).size
    found = clearance_holes().get(size)
    if found is None:
        raise UnknownName("clearance hole for", size, clearance_holes())
    return found


def hole_classes(designation: str) -> Mapping[str, float]:
    """
    The holes to draw for a bolt by their class, mm: of its structural standard, else of the common one.

    Only those that its thickest shank passes; empty for a size of no table, and for a fit bolt.
    """
    bolt = fastener(designation)
    if bolt.make.standard.startswith(_STRUCTURAL) and (found := structural_holes(designation)):
        return found
    hole = clearance_holes().get(bolt.size)
    if hole is None or bolt.make.drawn_mm:
        return {}
    classes = {"fine": hole.fine_mm, "medium": hole.medium_mm, "coarse": hole.coarse_mm}
    return {name: mm for name, mm in classes.items() if mm >= bolt.largest_mm}


def drill_words(designation: str) -> str:
    """What to drill for a bolt: "13.5 mm (medium, ISO 273; fine 13 mm)". Empty for a size of no table."""
    try:
        classes = hole_classes(designation)
    except UnknownName:
        return ""
    usual = "medium" if "medium" in classes else next(iter(classes), "")
    if not usual:
        return ""
    source = f", {clearance_hole(designation).standard}" if usual == "medium" else ""
    fine = f"; fine {_drilled(designation, 'fine', classes['fine'])}" if "fine" in classes else ""
    return f"{_drilled(designation, usual, classes[usual])} ({usual}{source}{fine})"


def next_hole_words(designation: str, least_mm: float) -> str:
    """The smallest hole of a class that is no smaller than that: "14.5 mm (coarse)". Empty where there is none."""
    try:
        classes = hole_classes(designation)
    except UnknownName:
        return ""
    enough = sorted((mm, name) for name, mm in classes.items() if mm >= least_mm - _SAME_MM)
    return f"{_drilled(designation, enough[0][1], enough[0][0])} ({enough[0][1]})" if enough else ""


def _drilled(designation: str, named: str, mm: float) -> str:
    """A hole in mm, by the name of its drill, too, where that is an inch drill."""
    hole = clearance_holes().get(fastener(designation).size)
    drill = hole.drills[_FITS[named]] if hole and hole.drills and named in _FITS else ""
    return f"{drill} ({mm:.2f} mm)" if drill else f"{mm:g} mm"


def structural_holes(designation: str) -> Mapping[str, float]:
    """
    Holes of a structural bolt by class, mm: EN 1090-2, or AISC 360 J3.3M for a bolt to ASTM.

    Empty below M12, for inch bolts (ASME B18.2.8 has them) and for fit bolts, which are drilled to their shank.
    """
    bolt = fastener(designation)
    if bolt.system == "UN" or bolt.diameter_mm < _LEAST_STRUCTURAL_MM or bolt.make.drawn_mm:
        return {}
    rows = table("clearance_holes")["structural"]
    if bolt.make.standard.startswith("ASTM"):
        row = rows["AISC"]
        return {f"{row['standard']} {k}": float(row[k][bolt.size]) for k in _CLASSES if bolt.size in row[k]}
    row = rows["EN"]
    wider = {
        "normal": band_value(row["up_to"], row["normal"], bolt.diameter_mm),
        "oversize": band_value(row["oversize_up_to"], row["oversize"], bolt.diameter_mm),
    }
    return {f"{row['standard']} {k}": bolt.diameter_mm + wider[k] for k in _CLASSES}


@cache
def clearance_holes() -> Mapping[str, ClearanceHole]:
    """Every row of both standards, by fastener size."""
    data = table("clearance_holes")
    rows = [(data[system]["standard"], row) for system in ("iso", "asme") for row in data[system]["holes"]]
    return {row["size"]: _hole(standard, row) for standard, row in rows}


def _hole(standard: str, row: Mapping[str, Any]) -> ClearanceHole:
    drills = tuple(row.get("drills", ()))
    sizes = [_drill_mm(d) for d in drills] or [float(s) for s in row["sizes"]]
    fine, medium, coarse = sizes
    return ClearanceHole(
        row["size"], standard, fine, medium, coarse, drills, source_of("clearance_holes", row)
    )


def _drill_mm(name: str) -> float:
    """A drill by number, letter, or fraction of an inch such as 1-1/32."""
    named = table("clearance_holes")["drills"]
    if name in named:
        return round(float(named[name]) * _INCH_MM, 6)
    whole, _, part = name.rpartition("-")
    top, bottom = part.split("/")
    return round((int(whole or 0) + int(top) / int(bottom)) * _INCH_MM, 6)
