"""
Bolts are as long as the stack needs, and not so long that the nut runs onto the shank.

Required is the grip (plies with their coats, washers at their thickest), the nut at its highest and two threads
standing out; into a thread, the grip and the engagement. Of a stud it is what stands out of the ply that holds it.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.connections import ConnectionCase
from ledger.cases.fitting import coat_mm
from ledger.cases.surroundings import SurroundedConnection
from ledger.checks._frame import check
from ledger.checks._on_face import parts_on_face
from ledger.checks._seats import bolted_holes, clamped, plies_mm, unlooked, washers
from ledger.checks._threads import named, no_rule
from ledger.domain.connection import JOINTS
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding, Severity
from ledger.domain.quantity import show_mm
from ledger.standards.engagement import engagement_mm
from ledger.standards.fasteners import Fastener, fastener
from ledger.standards.hardware import hardware
from ledger.standards.lengths import Stack, is_sold, length_source, next_length, shank_mm

_LEEWAY_MM = 1e-6
_INTO_THREAD = ("tapped", "countersunk tapped")


@check(
    on=SurroundedConnection,
    source="bolt length = grip + washers + nut + 2 threads; nuts ISO 4032, washers ISO 7089; lengths sold and threaded "
    "ISO 4014, ASME B18.2.1, in part from memory",
    codes=("bolt_short", "bolt_long", "bolt_hits", "bolt_stands_out", "bolt_odd_length", "bolt_required"),
    severity="stop",
    not_checked="lock washers, nuts of another height, and the bolt's grade and preload",
)
def bolt_length(seen: SurroundedConnection) -> Iterator[Finding | NotChecked]:
    """
    A bolt that is too short leaves the nut half empty, one with too long a shank never clamps.

    Which length to order follows from the stack; nobody has to add it up at the bench.
    """
    case = seen.case
    connection = case.connection
    if (
        connection.kind != "bolted"
        or connection.joint not in JOINTS
        or connection.joint == "dowel"
        or not connection.fastener.strip()
    ):
        raise DoesNotApply
    yield from unlooked(case, "bolt length")
    bolt = fastener(connection.fastener)
    try:
        stack = _stack(case)
    except UnknownName as unknown:
        yield NotChecked(str(unknown))
        return
    if stack is None:
        unknown_of = [p.part.number for p in clamped(case) if p.part.thickness is None]
        yield NotChecked(
            f"length of the bolts of {connection.name}: thickness of {', '.join(unknown_of)} is not known"
        )
        return
    needed = _needed(case, bolt, stack)
    if needed is None:
        holder = case.plies[-1].part
        yield NotChecked(
            f"length of the bolts of {connection.name} in {holder.number}: {no_rule(holder.material)}"
        )
        return
    yield from _judged(seen, bolt, stack, needed)


def bolt_needed(case: ConnectionCase) -> float | None:
    """How long the bolts must be at least, mm; None where a thickness or a rule for the thread is missing."""
    try:
        stack = _stack(case)
        return None if stack is None else _needed(case, fastener(case.connection.fastener), stack)
    except UnknownName:
        return None


def _stack(case: ConnectionCase) -> Stack | None:
    plies = plies_mm(clamped(case))
    if plies is None:
        return None
    parts = hardware(case.connection.fastener)
    nut = 0.0 if case.connection.joint in _INTO_THREAD else parts.nut_height_mm
    return Stack(plies, washers(case) * parts.washer_thickness_mm, nut)


def _needed(case: ConnectionCase, bolt: Fastener, stack: Stack) -> float | None:
    if case.connection.joint not in _INTO_THREAD:
        return stack.needed_mm(bolt.pitch_mm)
    bite = engagement_mm(bolt, case.plies[-1].part.material)
    return None if bite is None else stack.grip_mm + bite[0]


def _judged(
    seen: SurroundedConnection, bolt: Fastener, stack: Stack, needed: float
) -> Iterator[Finding | NotChecked]:
    case = seen.case
    connection = case.connection
    sold = next_length(bolt, needed)
    next_sold = (
        f"next stock length {connection.fastener} x {sold:g} mm" if sold else "longer than any stock length"
    )
    where = f"{connection.name}/bolt"
    count = f"{washers(case)} washer{'' if washers(case) == 1 else 's'}"
    sums = f"grip {stack.grip_mm:.2f} mm with {count}" + (
        f", nut {stack.nut_mm:.2f} mm, two threads" if stack.nut_mm else " and the thread engagement"
    )
    what = "studs must stick out at least" if connection.joint == "stud" else "bolts must be at least"
    if connection.bolt_length is None:
        yield Finding(
            "bolt_required",
            f"{what} {needed:.2f} mm{'' if connection.joint == 'stud' else ' long'} ({sums})"
            + ("" if connection.joint == "stud" else f"; {next_sold}"),
            severity="note",
            where=where,
            fix=f"enter the length that is ordered: fitup bolt {connection.name} --length",
            measured=f"{needed:.2f} mm",
        )
        return
    length = float(connection.bolt_length.mm)
    if not length + _LEEWAY_MM >= needed:
        yield Finding(
            "bolt_short",
            f"{connection.fastener} x {connection.bolt_length} of {connection.name}: {what} {needed:.2f} mm ({sums})",
            severity=_short(case, stack, length),
            where=where,
            fix=f"order longer ones: {next_sold}" + _washers_unsaid(case),
            measured=show_mm(length),
            limit=f">= {show_mm(needed)}",
        ).held_to(length, needed)
    yield from _behind(seen, bolt, stack, length)
    if connection.joint == "stud":
        return
    if not is_sold(bolt, length):
        yield Finding(
            "bolt_odd_length",
            f"{connection.fastener} x {connection.bolt_length} is not a stock length ({length_source(bolt)})",
            severity="warning",
            where=f"{where}/length",
            fix=f"order a stock length: {next_sold}",
            measured=show_mm(length),
        )
    yield from _long(case, bolt, stack, length)


def _short(case: ConnectionCase, stack: Stack, length: float) -> Severity:
    """
    A stop where the bolt ends inside its nut, or short of as much thread as a nut has or the ply holds.

    Washers that nobody entered may be left off: they alone make no stop. Between that and the two threads that stand
    out, or the rule for thread in this material, it is a warning.
    """
    reach = length - (stack.plies_mm if case.connection.washers is None else stack.grip_mm)
    full = stack.nut_mm
    if case.connection.joint in _INTO_THREAD:
        thick = case.plies[-1].part.thickness
        full = hardware(case.connection.fastener).nut_height_mm
        full = min(full, float(thick.mm)) if thick and thick.mm > 0 else full
    return "warning" if reach + _LEEWAY_MM >= full else "stop"


def _washers_unsaid(case: ConnectionCase) -> str:
    return (
        "" if case.connection.washers is not None else "; or enter how many washers each bolt has (--washers)"
    )


def _behind(
    seen: SurroundedConnection, bolt: Fastener, stack: Stack, length: float
) -> Iterator[Finding | NotChecked]:
    """A bolt that goes through its thread meets what lies behind: another part, or the bottom of a blind hole."""
    case = seen.case
    if case.connection.joint not in _INTO_THREAD:
        return
    placed = case.plies[-1]
    number, thick = placed.part.number, placed.part.thickness
    if placed.part.form != "cut":
        yield NotChecked(
            f"whether the thread in {number} is blind: {length - stack.grip_mm:.2f} mm of bolt go in"
        )
    if thick is None or not thick.mm > 0:
        yield NotChecked(f"what is behind the thread in {number}: its thickness is not known")
        return
    out = length - stack.grip_mm - float(thick.mm) - 2 * coat_mm(placed)
    if not out > _LEEWAY_MM:
        return
    for other in parts_on_face(seen, placed):
        if not other.rings:
            yield NotChecked(f"bolts against {other.part} behind {number}, which is bent")
            continue
        hit = [
            h
            for h in bolted_holes(case, placed)
            if not min(map(other.way_mm, h.core)) >= bolt.largest_mm / 2 - _LEEWAY_MM
        ]
        if hit:
            yield Finding(
                "bolt_hits",
                f"{case.connection.fastener} x {case.connection.bolt_length} comes out of {number} by {out:.2f} mm at "
                f"{named(hit)} and meets {other.part}, which {other.connection} puts behind it",
                severity="stop",
                where=f"{case.connection.name}/bolt/{other.part}",
                fix="order shorter ones, or add washers",
                measured=show_mm(length),
                limit=f"<= {show_mm(length - out)}",
            ).held_to(length, length - out)
            return
    yield Finding(
        "bolt_stands_out",
        f"{case.connection.fastener} x {case.connection.bolt_length} comes out of {number} by {out:.2f} mm behind the "
        f"thread",
        severity="note",
        where=f"{case.connection.name}/bolt/end",
        measured=show_mm(out),
    )


def _long(case: ConnectionCase, bolt: Fastener, stack: Stack, length: float) -> Iterator[Finding]:
    """The shank ends inside what is clamped, else the nut, or the tapped hole, runs onto it."""
    shank = shank_mm(bolt, length)
    if not shank <= stack.grip_mm + _LEEWAY_MM:
        yield Finding(
            "bolt_long",
            f"{case.connection.fastener} x {case.connection.bolt_length} has {shank:.2f} mm of shank without thread, "
            f"the grip is {stack.grip_mm:.2f} mm: nothing is clamped",
            severity="warning",
            where=f"{case.connection.name}/bolt/shank",
            fix="order a shorter bolt, add washers, or use a screw threaded up to its head (ISO 4017)",
            measured=show_mm(shank),
            limit=f"<= {show_mm(stack.grip_mm)}",
        ).held_to(shank, stack.grip_mm)
