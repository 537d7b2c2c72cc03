"""
Units of a drawing: what the file's header says, what the user says, and what one unit is in millimetres.

*Declared* is the unit that `$INSUNITS` names; code 0 and an absent code declare nothing. `$MEASUREMENT` only
says metric or imperial. The inch is 25.4 mm exactly (international inch, 1959); the US survey foot is
1200/3937 m. Factors are our own, because general libraries carry a rounded inch and lack mils.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ledger.domain.errors import BadInput, visible
from ledger.domain.finding import Finding

INCH_MM = 25.4
# Common practice: sheets go to about 3 m (10 ft), and nobody sends out a plate of less than 5 mm, or one whose
# smallest hole is 100 mm. Outside these a wrong unit is likelier than such a part.
LARGEST_MM, SMALLEST_MM, LARGEST_SMALL_HOLE_MM, LEAST_HOLE_MM = 3100.0, 5.0, 100.0, 0.5
_SURVEY_FOOT_MM = 1_200_000 / 3937


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of length: its name, its millimetres, and whether it is imperial."""

    name: str
    mm: float
    imperial: bool = False


@dataclass(frozen=True, slots=True)
class Reckoning:
    """The unit a drawing is read in, what its header declared, whether that is sure, and what to say of it."""

    used: Unit
    declared: Unit | None
    sure: bool
    findings: tuple[Finding, ...] = ()


MM = Unit("mm", 1.0)

# $INSUNITS codes 1 to 24 of the DXF reference.
BY_CODE: dict[int, Unit] = {
    1: Unit("in", INCH_MM, imperial=True),
    2: Unit("ft", 12 * INCH_MM, imperial=True),
    3: Unit("mi", 63360 * INCH_MM, imperial=True),
    4: MM,
    5: Unit("cm", 10.0),
    6: Unit("m", 1000.0),
    7: Unit("km", 1e6),
    8: Unit("uin", INCH_MM / 1e6, imperial=True),
    9: Unit("mil", INCH_MM / 1000, imperial=True),
    10: Unit("yd", 36 * INCH_MM, imperial=True),
    11: Unit("angstrom", 1e-7),
    12: Unit("nm", 1e-6),
    13: Unit("um", 1e-3),
    14: Unit("dm", 100.0),
    15: Unit("dam", 1e4),
    16: Unit("hm", 1e5),
    17: Unit("Gm", 1e12),
    18: Unit("au", 1.495978707e14),
    19: Unit("ly", 9.4607304725808e18),
    20: Unit("pc", 3.0856775814913674e19),
    21: Unit("survey ft", _SURVEY_FOOT_MM, imperial=True),
    22: Unit("survey in", _SURVEY_FOOT_MM / 12, imperial=True),
    23: Unit("survey yd", 3 * _SURVEY_FOOT_MM, imperial=True),
    24: Unit("survey mi", 5280 * _SURVEY_FOOT_MM, imperial=True),
}
BY_NAME: dict[str, Unit] = {unit.name: unit for unit in BY_CODE.values()}
CODE_OF: dict[str, int] = {unit.name: code for code, unit in BY_CODE.items()}

# What a person may write; the astronomical ones are no units for a plate.
_WRITTEN: dict[str, tuple[str, ...]] = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "dm": ("dm",),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "um": ("um", "µm", "μm", "micron", "microns"),
    "in": ("in", "in.", "inch", "inches", '"', "″"),
    "ft": ("ft", "ft.", "foot", "feet", "'", "′"),
    "yd": ("yd", "yard", "yards"),
    "mil": ("mil", "mils", "thou"),
    "survey ft": ("survey ft", "survey foot", "survey feet"),
    "survey in": ("survey in", "survey inch"),
}
_ALIASES: dict[str, str] = {alias: name for name, aliases in _WRITTEN.items() for alias in aliases}


def read_unit(text: str) -> Unit:
    """The unit that a person wrote. Raises BadInput, naming the known ones."""
    name = _ALIASES.get(text.strip().casefold())
    if name is None:
        raise BadInput(f"{visible(text)!r} is not a unit of length; known ones: {', '.join(_WRITTEN)}")
    return BY_NAME[name]


def reckon(insunits: int | None, measurement: int | None, stated: str | None) -> Reckoning:
    """
    Settle the unit from the header's codes and what the user stated.

    The user's word wins over the header. Without either, millimetres are read and it is a stop.
    """
    declared = BY_CODE.get(insunits or 0)
    if stated is not None:
        used = read_unit(stated)
        return Reckoning(used, declared, sure=True, findings=_differs(used, declared))
    if declared is None:
        return Reckoning(MM, None, sure=False, findings=(_missing(insunits),))
    if measurement in (0, 1) and declared.imperial == bool(measurement):
        return Reckoning(declared, declared, sure=True, findings=(_contradicted(declared, measurement),))
    return Reckoning(declared, declared, sure=True)


def doubtful(size_mm: tuple[float, float], holes_mm: Sequence[float]) -> bool:
    """Whether the size of the plate, or of its several holes, speaks against the unit that the header says."""
    odd = not SMALLEST_MM <= max(size_mm) <= LARGEST_MM or min(holes_mm, default=1.0) < LEAST_HOLE_MM
    return odd or (len(holes_mm) > 1 and min(holes_mm) > LARGEST_SMALL_HOLE_MM)


def doubt(
    used: Unit,
    size_mm: tuple[float, float],
    holes_mm: Sequence[float],
    *,
    says: str = "the file says its unit is",
) -> Finding:
    """The stop for a unit that the drawing speaks against, and who `says` it."""
    hole = f", its smallest hole {min(holes_mm):.1f} mm" if holes_mm else ""
    return Finding(
        "unit_doubtful",
        f"{says} {used.name}; the plate is then {size_mm[0]:.1f} × {size_mm[1]:.1f} mm{hole}",
        where="header, $INSUNITS",
        fix="measure one known length in the drawing, then enter the unit (--unit)",
        measured=f"{max(size_mm):.1f} mm",
        limit=f"{SMALLEST_MM:g} to {LARGEST_MM:g} mm",
    )


def _missing(insunits: int | None) -> Finding:
    says = "says no unit" if not insunits else f"names unit code {insunits}, which is not known"
    return Finding(
        "unit_missing",
        f"the file {says}; it was read as mm",
        where="header, $INSUNITS",
        fix="enter the unit the drawing was made in (--unit), or save the file again with its unit set",
    )


def _contradicted(declared: Unit, measurement: int) -> Finding:
    """
    A note: `$MEASUREMENT` only chooses the patterns of hatches and broken lines (DXF reference, HEADER).

    Of 18 real files at odds with themselves 17 were drawn in the unit of `$INSUNITS`.
    """
    system = "metric" if measurement else "imperial"
    return Finding(
        "unit_contradicted",
        f"the file says its unit is {declared.name} ($INSUNITS); its hatch patterns are {system} ($MEASUREMENT)",
        severity="note",
        where="header, $INSUNITS and $MEASUREMENT",
        fix="nothing to do if the overall size is right; a clean copy sets both",
    )


def _differs(used: Unit, declared: Unit | None) -> tuple[Finding, ...]:
    if declared is None or declared == used:
        return ()
    return (
        Finding(
            "unit_differs",
            f"the file says its unit is {declared.name}; it was read in {used.name}, as entered",
            severity="warning",
            where="header, $INSUNITS",
            fix="tell the vendor the unit, or write a clean copy whose header says it",
        ),
    )
