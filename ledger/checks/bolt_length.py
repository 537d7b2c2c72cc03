"""
Bolts are as long as the stack asks for, and not so long that the nut runs onto the shank.

Needed is the grip (plies with their coats, washers at their thickest), the nut at its highest and two threads standing
out; into a thread, the grip and the engagement. Of a stud it is what stands out of the ply that holds it.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._case import MateCase
from ledger.checks._frame import DoesNotApply, NotChecked, check
from ledger.checks._seats import clamped, plies_mm, washers
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding
from ledger.domain.mated import JOINTS
from ledger.domain.quantity import show_mm
from ledger.standards.engagement import engagement_mm
from ledger.standards.fasteners import Fastener, fastener
from ledger.standards.hardware import hardware
from ledger.standards.lengths import Stack, is_sold, length_source, next_length, shank_mm

_LEEWAY_MM = 1e-6
_INTO_THREAD = ("tapped", "countersunk tapped")


@check(
    on=MateCase,
    source="bolt length = grip + washers + nut + 2 threads; nuts ISO 4032, washers ISO 7089; lengths sold and threaded "
    "ISO 4014, ASME B18.2.1, in part from memory",
    codes=("bolt_short", "bolt_long", "bolt_odd_length", "bolt_wanted"),
    severity="warning",
    not_checked="lock washers, nuts of another height, and the bolt's grade and preload",
)
def bolt_length(case: MateCase) -> Iterator[Finding | NotChecked]:
    """
    A bolt that is too short leaves the nut half empty, one with too long a shank never clamps.

    Which length to order follows from the stack; nobody has to add it up at the bench.
    """
    mate = case.mate
    if (
        mate.kind != "bolted"
        or mate.joint not in JOINTS
        or mate.joint == "dowel"
        or not mate.fastener.strip()
    ):
        raise DoesNotApply
    bolt = fastener(mate.fastener)
    try:
        stack = _stack(case)
    except UnknownName as unknown:
        yield NotChecked(str(unknown))
        return
    if stack is None:
        unknown_of = [p.part.number for p in clamped(case) if p.part.thickness is None]
        yield NotChecked(
            f"length of the bolts of {mate.name}: thickness of {', '.join(unknown_of)} is not known"
        )
        return
    needed = _needed(case, bolt, stack)
    if needed is None:
        yield NotChecked(
            f"length of the bolts of {mate.name}: how much thread {case.plies[-1].part.material} wants"
        )
        return
    yield from _judged(case, bolt, stack, needed)


def _stack(case: MateCase) -> Stack | None:
    plies = plies_mm(clamped(case))
    if plies is None:
        return None
    parts = hardware(case.mate.fastener)
    nut = 0.0 if case.mate.joint in _INTO_THREAD else parts.nut_height_mm
    return Stack(plies, washers(case) * parts.washer_thickness_mm, nut)


def _needed(case: MateCase, bolt: Fastener, stack: Stack) -> float | None:
    if case.mate.joint not in _INTO_THREAD:
        return stack.needed_mm(bolt.pitch_mm)
    bite = engagement_mm(bolt, case.plies[-1].part.material)
    return None if bite is None else stack.grip_mm + bite[0]


def _judged(case: MateCase, bolt: Fastener, stack: Stack, needed: float) -> Iterator[Finding]:
    mate = case.mate
    sold = next_length(bolt, needed)
    said = f"{mate.fastener} x {sold:g} mm is the next one sold" if sold else "longer than any in the table"
    where = f"{mate.name}/bolt"
    count = f"{washers(case)} washer{'' if washers(case) == 1 else 's'}"
    sums = f"grip {stack.grip_mm:.2f} mm with {count}" + (
        f", nut {stack.nut_mm:.2f} mm, two threads" if stack.nut_mm else " and the thread that must bite"
    )
    what = "the studs must stand out by" if mate.joint == "stud" else "bolts are wanted of"
    if mate.bolt_length is None:
        yield Finding(
            "bolt_wanted",
            f"{what} {needed:.2f} mm at least ({sums})" + ("" if mate.joint == "stud" else f": {said}"),
            severity="note",
            where=where,
            remedy=f"state the length that is ordered: fitup bolt {mate.name} --length",
            measured=f"{needed:.2f} mm",
        )
        return
    length = float(mate.bolt_length.mm)
    if not length + _LEEWAY_MM >= needed:
        yield Finding(
            "bolt_short",
            f"{mate.fastener} x {mate.bolt_length} is stated for {mate.name}; {what} {needed:.2f} mm at least ({sums})",
            severity="warning",
            where=where,
            remedy=f"order longer ones: {said}",
            measured=show_mm(length),
            limit=f">= {show_mm(needed)}",
        ).held_to(length, needed)
    if mate.joint == "stud":
        return
    if not is_sold(bolt, length):
        yield Finding(
            "bolt_odd_length",
            f"{mate.fastener} x {mate.bolt_length} is no length that is sold as a rule ({length_source(bolt)})",
            severity="warning",
            where=f"{where}/length",
            remedy=f"take a length that is sold: {said}",
            measured=show_mm(length),
        )
    yield from _long(case, bolt, stack, length)


def _long(case: MateCase, bolt: Fastener, stack: Stack, length: float) -> Iterator[Finding]:
    """The shank ends inside what is clamped, else the nut, or the tapped hole, runs onto it."""
    shank = shank_mm(bolt, length)
    if not shank <= stack.grip_mm + _LEEWAY_MM:
        yield Finding(
            "bolt_long",
            f"{case.mate.fastener} x {case.mate.bolt_length} has {shank:.2f} mm of shank without thread, the grip is "
            f"{stack.grip_mm:.2f} mm: it is not clamped",
            severity="warning",
            where=f"{case.mate.name}/bolt/shank",
            remedy="take a shorter one, more washers, or a screw that is threaded up to its head (ISO 4017)",
            measured=show_mm(shank),
            limit=f"<= {show_mm(stack.grip_mm)}",
        ).held_to(shank, stack.grip_mm)
