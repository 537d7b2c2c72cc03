"""
Enough thread engages in a tapped hole, and the hole is drawn no wider than the inside of the thread.

What bites is the tapped ply's thickness, or what the bolt length that was entered leaves of it. A captive nut bites
whole where the bolt is long enough, which `bolt_length` looks at. Structural use needs local codes and a licensed
engineer.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.connections import ConnectionCase
from ledger.checks._frame import check
from ledger.checks._seats import bolted_holes, clamped, plies_mm, unlooked, washers
from ledger.checks._threads import no_rule, too_wide
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.standards.engagement import engagement_mm
from ledger.standards.fasteners import fastener
from ledger.standards.hardware import hardware

_LEEWAY_MM = 1e-6


@check(
    on=ConnectionCase,
    source="common practice: 1 d in steel, 1.5 d in cast iron, brass and bronze, 2 d in aluminum; largest minor "
    "diameters ISO 965-1 6H and ASME B1.1 2B",
    codes=("thread_short", "no_metal_to_tap"),
    severity="warning",
    not_checked="strength of thread and bolt, chamfers, run-out and depth of blind holes",
)
def thread_engagement(case: ConnectionCase) -> Iterator[Finding | NotChecked]:
    """
    A thread with too little engagement strips before the bolt holds what it can.

    In thin plate no bolt length helps: a nut behind it, a weld nut or an insert does.
    """
    connection = case.connection
    if (
        connection.kind != "bolted"
        or connection.joint not in ("tapped", "countersunk tapped")
        or not connection.fastener.strip()
    ):
        raise DoesNotApply
    yield from unlooked(case, "thread engagement")
    bolt, holder = fastener(connection.fastener), case.plies[-1].part
    if holder.form == "cut":  # a thread that is there already is measured across its outside
        tapped = [(hole, bolt) for hole in bolted_holes(case, case.plies[-1])]
        yield from too_wide("no_metal_to_tap", f"{connection.name}/{holder.number}/", holder.number, tapped)
    if holder.thickness is None or not holder.thickness.mm > 0:
        yield NotChecked(f"thread engagement in {holder.number}: its thickness is not known")
        return
    expected = engagement_mm(bolt, holder.material)
    if expected is None:
        yield NotChecked(f"thread engagement in {holder.number}: {no_rule(holder.material)}")
        return
    least, source = expected
    try:
        bites, by = _bites(case, float(holder.thickness.mm))
    except UnknownName as unknown:
        yield NotChecked(f"how far the bolt goes into {holder.number}: {unknown}")
        return
    if not bites + _LEEWAY_MM >= least:
        yield Finding(
            "thread_short",
            f"thread engagement of {connection.fastener} in {holder.number} is {bites:.2f} mm ({by}); "
            f"{holder.material} needs {least:.2f} mm ({source}); structural use: local codes and a licensed engineer "
            f"decide",
            severity="warning",
            where=f"{connection.name}/{holder.number}/thread",
            fix="a longer bolt"
            if by != "its thickness"
            else "a nut behind it, a weld nut, an insert or thicker plate",
            measured=show_mm(bites),
            limit=f">= {show_mm(least)}",
        ).held_to(bites, least)


def _bites(case: ConnectionCase, thick: float) -> tuple[float, str]:
    """What bites, and what decides it. Raises UnknownName where no table has the washer."""
    clear = plies_mm(clamped(case))
    if case.connection.bolt_length is None or clear is None:
        return thick, "its thickness"
    under = washers(case)
    washer = hardware(case.connection.fastener).washer_thickness_mm if under else 0.0
    reach = float(case.connection.bolt_length.mm) - clear - under * washer
    if reach >= thick:
        return thick, "its thickness"
    return max(reach, 0.0), f"a bolt of {case.connection.bolt_length}"
