"""
The sum behind the margin of a pair of holes: what each has, less what the fastener and the tolerances take.

Source: the floating and fixed fastener formulas of ASME Y14.5 appendix B, as `ledger.fit.joint` has them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, Ply
from ledger.fit.joint import charge_mm, clears

Both: TypeAlias = tuple[float, float]  # of A and of B


@dataclass(frozen=True, slots=True)
class Term:
    """One line of a sum, in mm; a total has all terms above it."""

    words: str
    mm: float
    total: bool = False

    @property
    def text(self) -> str:
        """The term as a line, its number first."""
        return f"{'=' if self.total else ' '} {self.mm:+9.3f} mm  {self.words}"


def pair_sum(case: Fastening, a: Hole, b: Hole, offset_mm: float, names: tuple[str, str]) -> tuple[Term, ...]:
    """The terms from the holes as drawn to the nominal margin, and on to that of the worst case; `names` of plies."""
    terms = [*_nominal(case, a, b, names), Term(f"{a.label} off {b.label}", -offset_mm)]
    nominal = sum(t.mm for t in terms)
    less = [t for t in _less(case, names) if t.mm]
    worst = nominal + sum(t.mm for t in less)
    return (
        *terms,
        Term("margin of these two, nominal", nominal, total=True),
        *less,
        Term("margin of these two, worst case", worst, total=True),
    )


def _nominal(case: Fastening, a: Hole, b: Hole, names: tuple[str, str]) -> Iterator[Term]:
    sides = ((a, names[0], clears(case.joint, "a")), (b, names[1], clears(case.joint, "b")))
    if case.joint in ("countersunk", "countersunk tapped"):
        sides = ((a, names[0], False), sides[1])
    counted = [(hole, name) for hole, name, counts in sides if counts]
    for hole, name in counted:
        yield Term(
            f"half of {hole.label} of {name}, {hole.diameter_mm:.3f} mm as drawn", hole.diameter_mm / 2
        )
    if counted:
        share = len(counted) / 2
        yield Term("the fastener" if share == 1 else "half of the fastener", -share * case.fastener_mm)


def _less(case: Fastening, names: tuple[str, str]) -> Iterator[Term]:
    """What the worst case takes, one reason after the other."""

    def charge(shrink: Both = (0, 0), position: Both = (0, 0), thicker: float = 0) -> float:
        return -charge_mm(case.joint, shrink_mm=shrink, position_mm=position, thicker_mm=thicker)

    def each(what: str, of: Ply, name: str, mm: float, term: float) -> Term:
        coat = f", {of.coat_mm:.3f} mm of it coating" if what == "smaller" and of.coat_mm else ""
        return Term(f"holes of {name} {what}: {mm:.3f} mm{coat}", term)

    yield each("smaller", case.a, names[0], case.a.shrink_mm, charge((case.a.shrink_mm, 0)))
    yield each("smaller", case.b, names[1], case.b.shrink_mm, charge((0, case.b.shrink_mm)))
    yield Term(f"largest fastener thicker: {case.thicker_mm:.3f} mm", charge(thicker=case.thicker_mm))
    yield each(
        "out of position", case.a, names[0], case.a.position_mm, charge(position=(case.a.position_mm, 0))
    )
    yield each(
        "out of position", case.b, names[1], case.b.position_mm, charge(position=(0, case.b.position_mm))
    )
