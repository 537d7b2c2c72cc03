"""
The root gap of a weld has limits, and plates that are butted in one plane, or seated in slots, keep them.

The *root gap* is the opening between two plates before they are welded. It is known from the drawings where both plates
lie in one plane and their position is entered, and where tabs sit in slots: there it is the room beside the sheet, half
of it where the sheet is set in the middle. Elsewhere it is measured at fit-up, as a clearance of the connection.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from ledger.cases.answers import DoesNotApply, NotChecked, NotRun
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.regions import PLACES, laid_regions
from ledger.cases.surroundings import SurroundedConnection
from ledger.checks._frame import check
from ledger.checks._tabs import seated, slot_loss_mm, thickness_mm
from ledger.domain.connection import WELDED
from ledger.domain.finding import Finding, Severity
from ledger.domain.quantity import Bounds, show_mm
from ledger.fit.gap import smallest_gap
from ledger.fit.overlap import overlap_area
from ledger.standards.processes import process
from ledger.standards.sheets import thicker_mm

LARGER_LEG_MM: Final = 1.6  # 1/16 in: above it the leg of a fillet grows by the gap
WIDEST_MM: Final = 4.8  # 3/16 in


@check(
    on=ConnectionCase,
    source="common practice: gap and side are given with a weld; most of a fillet's gap: AWS D1.1, from memory",
    codes=("weld_unsaid", "root_gap_off", "root_gap_unsure", "root_gap_wide"),
    severity="stop",
)
def root_gap(case: ConnectionCase) -> Iterator[Finding | NotChecked]:
    """
    The welder finds the gap that the weld was meant for, on the side it was meant for.

    A gap that is closed does not fuse through; one that is wide burns through, pulls the plates together and takes the
    hole pattern with it. What a weld carries is for local codes and a licensed engineer.
    """
    connection = case.connection
    if connection.kind not in WELDED or not (
        connection.kind == "welded" or connection.gap or connection.weld_side
    ):
        raise DoesNotApply
    yield NotChecked("what the weld carries, how it is prepared and how it distorts the parts")
    missing = [
        words
        for words, there in (("its root gap", connection.gap), ("its side", connection.weld_side))
        if not there
    ]
    if missing:
        yield _finding(
            case,
            "weld_unsaid",
            f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not entered",
            "record the connection with --gap '0..1.5 mm' and --side 'arrow side', 'other side' or 'both sides'",
            severity="warning",
            where="weld",
        )
    if connection.gap is None:
        return
    most = connection.gap.most_mm
    if most is None or float(most) > LARGER_LEG_MM:
        yield _wide(case, None if most is None else float(most))
    if connection.kind == "tab and slot":
        yield from _in_slots(case, connection.gap)
        return
    if not _in_one_plane(case):
        if not connection.clearances:
            yield NotChecked("the root gap, which its drawings do not show: measure it at fit-up")
        return
    yield from _drawn(case)


def _in_one_plane(case: ConnectionCase) -> bool:
    flat = all(p.ply.face_up != "edge" and p.part.profile and p.part.profile.outline for p in case.plies)
    return case.connection.position is not None and len(case.plies) == 2 and flat  # noqa: PLR2004 - two plates


def _drawn(case: ConnectionCase) -> Iterator[Finding]:
    """The gap as drawn, and how much of it the cut edges may take or add."""
    expected = case.connection.gap
    if expected is None:
        return
    first, second = laid_regions(SurroundedConnection(case))
    shared = overlap_area(first, second)
    gap = smallest_gap(first, second)
    if not all(map(math.isfinite, (shared.area_mm2, shared.error_mm2, gap.distance_mm, gap.error_mm))):
        raise NotRun("the root gap on the drawing is not a number: take the drawings again")
    if shared.area_mm2 > shared.error_mm2:
        yield _finding(
            case,
            "root_gap_off",
            f"the plates overlap by {shared.area_mm2:.2f} mm² where a root gap of {expected} is required",
            "enter the position of the first plate, or trim it",
            measured="overlap",
            limit=expected.written,
        )
        return
    room, stray = round(gap.distance_mm, PLACES), sum(_stray_mm(p) for p in case.plies)
    if not (expected.allows(room - gap.error_mm) and expected.allows(room + gap.error_mm)):
        yield _finding(
            case,
            "root_gap_off",
            f"the root gap is {show_mm(room)} as drawn, expected {expected}",
            "move the first plate, or change an edge",
            measured=show_mm(room),
            limit=expected.written,
        ).held_to(*_beyond(expected, room, gap.error_mm))
    elif not (expected.allows(max(0.0, room - stray)) and expected.allows(room + stray)):
        low, high = show_mm(max(0.0, room - stray)), show_mm(room + stray)
        yield _finding(
            case,
            "root_gap_unsure",
            f"the root gap is {show_mm(room)} as drawn, but cut edges leave it anywhere from {low} to {high}; "
            f"expected {expected}",
            "set it at fit-up with a feeler and tack, or have the edges cut closer",
            severity="warning",
            measured=f"{low} to {high}",
            limit=expected.written,
        )


def _in_slots(case: ConnectionCase, expected: Bounds) -> Iterator[Finding | NotChecked]:
    """The room beside sheets in their slots: shared evenly as drawn, at worst all of it on one side."""
    fit = seated(case)
    if isinstance(fit, str) or not fit.seated:
        yield NotChecked("the root gap, as no tab was found in a slot")
        return
    first, second = case.plies
    thickness = thickness_mm(first)
    rooms = [max(s.slot.width_mm - thickness, 0.0) for s in fit.seated]
    if not all(map(math.isfinite, rooms)):
        raise NotRun("the root gap on the drawing is not a number: take the drawings again")
    widest = max(s.slot.width_mm for s in fit.seated)
    most = max(rooms) + thicker_mm(thickness, first.part.material) + slot_loss_mm(second, widest)
    for even in (min(rooms) / 2, max(rooms) / 2):
        if not expected.allows(round(even, PLACES)):
            yield _finding(
                case,
                "root_gap_off",
                f"sheets of {first.part.number} set in the middle of their slots have {show_mm(even)} on each side as "
                f"drawn, expected {expected}",
                "change the width of the slots, or the limits of the gap",
                measured=show_mm(even),
                limit=expected.written,
            ).held_to(*_beyond(expected, even, 0.0))
            return
    if not (expected.allows(0.0) and expected.allows(round(most, PLACES))):
        yield _finding(
            case,
            "root_gap_unsure",
            f"a sheet may touch one side of its slot, and the other side then has up to {show_mm(most)} as cut "
            f"and rolled; expected {expected}",
            "set sheets in the middle with feelers and tack, or have the slots cut closer",
            severity="warning",
            measured=f"0 mm to {show_mm(most)}",
            limit=expected.written,
        )


def _beyond(expected: Bounds, room: float, error: float) -> tuple[float, float]:
    """The gap as it may be at worst, and the bound that it is beyond."""
    if expected.least_mm is not None and room - error < float(expected.least_mm):
        return room - error, float(expected.least_mm)
    return room + error, float(expected.most_mm) if expected.most_mm is not None else math.nan


def _wide(case: ConnectionCase, most_mm: float | None) -> Finding:
    allowed = f"up to {show_mm(most_mm)}" if most_mm is not None else "without an upper limit"
    beyond = most_mm is None or most_mm > WIDEST_MM
    message = (
        f"a root gap {allowed} is allowed: over {WIDEST_MM} mm (3/16 in) a fillet is not made as a rule"
        if beyond
        else f"a root gap {allowed} is allowed: over {LARGER_LEG_MM} mm (1/16 in) the leg of a fillet grows by the gap"
    )
    return _finding(
        case,
        "root_gap_wide",
        message,
        "allow less, or tell the welder how much larger the weld is to be",
        severity="warning" if beyond else "note",
        where="root gap limit",
        limit=f"{WIDEST_MM if beyond else LARGER_LEG_MM} mm",
    )


def _stray_mm(placed: PlacedPly) -> float:
    """How far a cut edge may lie from where it is drawn, either way."""
    return process(placed.part.process).position_mm / 2 if placed.part.form == "cut" else 0.0


def _finding(
    case: ConnectionCase,
    code: str,
    message: str,
    fix: str,
    *,
    severity: Severity = "stop",
    where: str = "root gap",
    measured: str = "",
    limit: str = "",
) -> Finding:
    place = f"{case.connection.name}/{where}"
    said = f"{case.connection.name}: {message}"
    return Finding(code, said, severity, place, fix, measured, limit)
