"""
What speaks for one unit of a drawing and what for another: its overall size, and the sizes of its holes.

A *reading* is the drawing taken in one unit. Its holes are *on sizes* where drills and clearance holes of that system
have their diameters: metric ones every tenth of a millimetre up to ten and every half above, inch ones every 64th.
Common practice, no source. Readings are shown side by side; who decides is the user.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.domain.plural import counted
from ledger.profile.units import (
    BY_NAME,
    INCH_MM,
    LARGEST_MM,
    LARGEST_SMALL_HOLE_MM,
    LEAST_HOLE_MM,
    SMALLEST_MM,
    Unit,
)

_METRIC_FINE_MM, _METRIC_COARSE_MM, _FINE_UP_TO_MM = 0.1, 0.5, 10.0
_INCH_STEP_MM = INCH_MM / 64
_METRIC_SLACK_MM, _INCH_SLACK_MM = 0.004, 0.015  # written to two places of a mm, to three of an inch
_SAME_SIZE_MM = 0.01
_LARGEST_DRILL_MM = 60.0  # what is larger is bored or cut, to any size
_SHOWN = ("mm", "in", "cm", "m")


@dataclass(frozen=True, slots=True)
class Reading:
    """
    The drawing taken in one unit: overall size, how many different hole sizes it has and how many are usual.

    `on_sizes` counts those of the unit's own system, `explained` those of either.
    """

    unit: Unit
    size_mm: tuple[float, float]
    hole_sizes: int
    on_sizes: int
    smallest_hole_mm: float = 0.0
    explained: int = 0

    @property
    def plausible(self) -> bool:
        """Whether a plate of that size, with holes of that size, is cut at all."""
        return (
            SMALLEST_MM <= max(self.size_mm) <= LARGEST_MM
            and self.smallest_hole_mm <= LARGEST_SMALL_HOLE_MM
            and not 0 < self.smallest_hole_mm < LEAST_HOLE_MM
        )

    @property
    def words(self) -> str:
        """The reading in words."""
        x, y = self.size_mm
        system = "inch" if self.unit.imperial else "metric"
        holes = (
            f" ({system}: {self.on_sizes} of {counted(self.hole_sizes, 'hole size')})"
            if self.hole_sizes
            else ""
        )
        if self.unit.imperial:
            return f"{x / INCH_MM:.3f} × {y / INCH_MM:.3f} in = {x:.1f} × {y:.1f} mm read as {self.unit.name}{holes}"
        return f"{x:.1f} × {y:.1f} mm read as {self.unit.name}{holes}"


def readings(used: Unit, size_mm: tuple[float, float], holes_mm: Iterable[float]) -> tuple[Reading, ...]:
    """
    The drawing in every unit that it may be of; the sizes given are those in `used`.

    Millimetres, inches and `used` always; centimetres and metres only where that gives a plate that can be cut.
    """
    holes = tuple(holes_mm)
    found = []
    for name in dict.fromkeys((used.name, *_SHOWN)):
        unit = BY_NAME[name]
        times = unit.mm / used.mm
        sizes = _different([d * times for d in holes])
        found.append(
            Reading(
                unit,
                (size_mm[0] * times, size_mm[1] * times),
                len(sizes),
                sum(1 for d in sizes if on_size(d, imperial=unit.imperial)),
                min(sizes, default=0.0),
                sum(1 for d in sizes if on_size(d, imperial=True) or on_size(d, imperial=False)),
            )
        )
    return tuple(r for r in found if r.unit.name in (used.name, "mm", "in") or (r.plausible and r.on_sizes))


def on_size(diameter_mm: float, *, imperial: bool) -> bool:
    """Whether drills or clearance holes of that system have this diameter. Common practice, no source."""
    if diameter_mm > _LARGEST_DRILL_MM:
        return False
    if imperial:
        return _near(diameter_mm, _INCH_STEP_MM, _INCH_SLACK_MM)
    step = _METRIC_FINE_MM if diameter_mm <= _FINE_UP_TO_MM else _METRIC_COARSE_MM
    return _near(diameter_mm, step, _METRIC_SLACK_MM)


def speaks_against(found: Sequence[Reading], used: Unit) -> Reading | None:
    """
    The reading that every hole size speaks for while none speaks for the unit that was used, in either system.

    One size is enough where nobody drills it: 81.28 mm, and 3.2 mm is a drill. A single one of 2.25 mm may be meant.
    Both readings must be looked at by the user.
    """
    own = next(r for r in found if r.unit == used)
    usual = own.explained or (own.hole_sizes == 1 and own.smallest_hole_mm <= _LARGEST_DRILL_MM)
    if not own.hole_sizes or (own.plausible and usual):
        return None
    others = [r for r in found if r.unit != used and r.plausible and r.on_sizes == r.hole_sizes]
    return max(others, key=lambda r: r.on_sizes, default=None)


def side_by_side(found: Iterable[Reading]) -> str:
    """The readings in words, the likelier first."""
    ordered = sorted(found, key=lambda r: (not r.plausible, -r.on_sizes))
    return ", or ".join(r.words for r in ordered)


def _near(value: float, step: float, slack: float) -> bool:
    return abs(value - round(value / step) * step) <= slack


def _different(sizes: list[float]) -> list[float]:
    kept: list[float] = []
    for size in sorted(sizes):
        if not kept or size - kept[-1] > max(_SAME_SIZE_MM, 1e-3 * size):
            kept.append(size)
    return kept


def unit_for_bolt(used: Unit, holes_mm: Sequence[float], bolt_mm: float) -> Unit | None:
    """
    The unit, mm or inches, in which half of the holes or more take a bolt, where in the unit used none does.

    A hole takes a bolt from its own size to less than three times that, as where holes are paired.
    """
    if not holes_mm or _taking(holes_mm, bolt_mm):
        return None
    for name in ("mm", "in"):
        unit = BY_NAME[name]
        scaled = [d * unit.mm / used.mm for d in holes_mm]
        if unit != used and 2 * _taking(scaled, bolt_mm) >= len(scaled):
            return unit
    return None


def _taking(holes_mm: Sequence[float], bolt_mm: float) -> int:
    return sum(1 for d in holes_mm if bolt_mm <= d < 3 * bolt_mm)
