"""Holes of a plate that all have a size which takes no fastener of the connection: what is to be read first of them."""

from __future__ import annotations

from ledger.domain.quantity import show_mm
from ledger.domain.shape import Hole
from ledger.fit.case import PatternCase, Ply
from ledger.fit.joint import LARGEST_CLEARANCE, TOUCH_MM, clears


def wrong_sizes(case: PatternCase, names: tuple[str, str], drills: str = "") -> tuple[str, str] | None:
    """The words and the fix where no clearance hole of a plate has a size for the fastener; None otherwise."""
    for side, ply, name in (("a", case.a, names[0]), ("b", case.b, names[1])):
        if not ply.holes or not clears(case.joint, "a" if side == "a" else "b"):
            continue
        small = all(h.diameter_mm < case.fastener_mm - TOUCH_MM for h in ply.holes)
        large = all(h.diameter_mm >= LARGEST_CLEARANCE * case.fastener_mm for h in ply.holes)
        if small or (large and not ply.declared):
            return _told(case, ply, name, "small" if small else "large", drills)
    return None


def _told(case: PatternCase, ply: Ply, name: str, what: str, drills: str) -> tuple[str, str]:
    count = "the only hole" if len(ply.holes) == 1 else f"all {len(ply.holes)} holes"
    make = f"{'drill' if what == 'small' else 'draw'} {drills} in {name}; or else " if drills else ""
    verb = "is" if len(ply.holes) == 1 else "are"
    return (
        f"{count} of {name} {verb} {_sizes(ply.holes)}: too {what} for a fastener of {show_mm(case.fastener_mm, 2)}",
        f"{make}correct the size or the unit in {name}, or the fastener",
    )


def _sizes(holes: tuple[Hole, ...]) -> str:
    low, high = min(h.diameter_mm for h in holes), max(h.diameter_mm for h in holes)
    return show_mm(low, 2) if high - low < TOUCH_MM else f"{show_mm(low, 2)} to {show_mm(high, 2)}"
