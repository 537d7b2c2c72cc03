"""
The tabs of one plate go into the slots of the other, and reach far enough.

The first ply has the tabs, the second the slots (those that its group names, else every rectangular opening and every
slot). In the worst case tabs and sheets come out as large as process, coat and rolling leave them, slots as small.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from ledger.cases.answers import DoesNotApply, NotChecked, NotRun
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.fitting import coat_mm
from ledger.checks._frame import check
from ledger.checks._tabs import seated, slot_loss_mm, thickness_mm
from ledger.domain.finding import Finding, Severity
from ledger.domain.quantity import show_mm
from ledger.fit.tabs import Seated, TabFit
from ledger.standards.cuts import cut_size
from ledger.standards.processes import process
from ledger.standards.sheets import thicker_mm

LOOSE_MM: Final = {"width": 1.0, "length": 2.0}
_HALF: Final = 0.5


@check(
    on=ConnectionCase,
    source="common practice: slot wider than the thickest sheet, longer than the tab; sizes ISO 9013; sheets EN 10051 "
    "up to 12.5 mm, plates EN 10029 above, in part from memory",
    codes=(
        "tabs_not_found",
        "tab_unmatched",
        "tab_misfit",
        "tab_tight",
        "tab_loose",
        "tab_short",
        "tab_proud",
    ),
    severity="stop",
    not_checked="play of tabs under weld shrinkage, and taper of the cut in thick plates",
)
def tab_and_slot(case: ConnectionCase) -> Iterator[Finding | NotChecked]:
    """
    Tabs that do not enter are ground by eye, and the plate is no longer where it was drawn.

    Loose ones hold nothing in place until the weld pulls it.
    """
    if case.connection.kind != "tab and slot":
        raise DoesNotApply
    fit = seated(case)
    first, second = case.plies
    thickness, plate = thickness_mm(first), thickness_mm(second)
    if isinstance(fit, str):
        yield _finding(
            case,
            "tabs_not_found",
            f"{fit} was recognized, so nothing was fitted",
            "name the part with the tabs first; draw slots as rectangles, or name their group",
            "warning",
        )
        return
    if fit.tabs_left:
        yield _finding(
            case,
            "tab_unmatched",
            f"{len(fit.tabs_left)} of {len(fit.tabs_left) + len(fit.seated)} tabs of {first.part.number} find no slot "
            f"in {second.part.number}",
            "add the slot, or take the tab off",
            measured=str(len(fit.tabs_left)),
            limit="0",
        )
    if fit.slots_left:
        yield NotChecked(f"{fit.slots_left} slots in that line take no tab of {first.part.number}")
    yield from _widths(case, fit, thickness)
    yield from _lengths(case, fit, thickness)
    yield from _reach(case, fit, plate)


def _widths(case: ConnectionCase, fit: TabFit, thickness: float) -> Iterator[Finding]:
    """Whether the sheet goes into the slot's width."""
    tight = min(fit.seated, key=lambda s: s.slot.width_mm)
    width = tight.slot.width_mm
    first, second = case.plies
    thickest = thickness + thicker_mm(thickness, first.part.material) + _face_coats(first)
    narrowest = width - slot_loss_mm(second, width)
    yield from _judged(case, "width", (thickness, width), (thickest, narrowest), tight)


def _lengths(case: ConnectionCase, fit: TabFit, thickness: float) -> Iterator[Finding]:
    """Whether every tab goes into its slot's length, all at once."""
    first, second = case.plies
    tight = min(fit.seated, key=lambda s: s.slot.clear_length_mm(thickness) - s.tab.width_mm)
    length, width = tight.slot.clear_length_mm(thickness), tight.tab.width_mm
    if length >= width and not fit.spare_mm >= 0:
        yield _finding(
            case,
            "tab_misfit",
            f"each tab fits its slot, but not all at once: their spacing differs, and the tightest is short by "
            f"{show_mm(-fit.spare_mm)}",
            "bring the spacing of tabs and slots together, or lengthen the slots",
            where="spacing",
            measured=show_mm(fit.spare_mm),
            limit="0 mm",
        )
        return
    grown = _grown(first, width)
    stray = sum(process(p.part.process).position_mm for p in case.plies) if len(fit.seated) > 1 else 0.0
    worst = (width + grown + stray, length - slot_loss_mm(second, length))
    yield from _judged(
        case, "length", (width, length), worst, tight, spare=fit.spare_mm - (grown + stray) / 2
    )


def _judged(
    case: ConnectionCase,
    what: str,
    drawn: tuple[float, float],
    worst: tuple[float, float],
    tight: Seated,
    *,
    spare: float = math.inf,
) -> Iterator[Finding]:
    """A size of the tab against the slot's, as drawn and in the worst case."""
    tab, slot = drawn
    if not all(map(math.isfinite, (*drawn, *worst))):
        raise NotRun(f"the {what} of a tab or slot is not a number: take the drawings again")
    words = "sheet" if what == "width" else "tab"
    place = f"({tight.slot.middle[0]:.1f}, {tight.slot.middle[1]:.1f}) mm of {case.plies[1].part.number}"
    if not slot >= tab:
        yield _finding(
            case,
            "tab_misfit",
            f"the slot at {place} is {show_mm(slot)} in {what}, the {words} {show_mm(tab)}",
            f"make the slot at least {show_mm(worst[0] - worst[1] + slot)}",
            where=what,
            measured=show_mm(slot - tab),
            limit="0 mm",
        )
    elif not (worst[1] >= worst[0] and (spare >= 0 or what == "width")):
        yield _finding(
            case,
            "tab_tight",
            f"the slot at {place} has {show_mm(slot - tab)} of margin in {what} as drawn, and may be short by "
            f"{show_mm(max(worst[0] - worst[1], -2 * spare if spare < 0 else 0.0))} as cut, rolled and coated",
            "make the slot larger, or accept that some tabs are dressed by hand",
            "warning",
            where=what,
            measured=show_mm(slot - tab),
            limit=show_mm((worst[0] - tab) + (slot - worst[1])),
        )
    elif slot - tab > LOOSE_MM[what]:
        yield _finding(
            case,
            "tab_loose",
            f"the slot at {place} has {show_mm(slot - tab)} of margin in {what}: the plate is not held in place",
            "make the slot smaller, or set the plate by other means before it is welded",
            "warning",
            where=what,
            measured=show_mm(slot - tab),
            limit=show_mm(LOOSE_MM[what]),
        )


def _reach(case: ConnectionCase, fit: TabFit, plate: float) -> Iterator[Finding]:
    """How far tabs go through the plate."""
    shortest = min(s.tab.length_mm for s in fit.seated)
    longest = max(s.tab.length_mm for s in fit.seated)
    if not shortest >= _HALF * plate:
        yield _finding(
            case,
            "tab_short",
            f"a tab of {show_mm(shortest)} reaches less than half through the plate of {show_mm(plate)}",
            f"make it {show_mm(plate)} long, or weld from the side of the plate",
            "warning",
            where="tab length",
            measured=show_mm(shortest),
            limit=show_mm(_HALF * plate),
        )
    elif longest > plate:
        yield _finding(
            case,
            "tab_proud",
            f"a tab sticks {show_mm(longest - plate)} out of the far face",
            "shorten it where that face is to be flush",
            "note",
            where="tab length",
            measured=show_mm(longest - plate),
            limit="0 mm",
        )


def _face_coats(placed: PlacedPly) -> float:
    return coat_mm(placed) * placed.part.masks.coated_faces


def _grown(placed: PlacedPly, size_mm: float) -> float:
    """How much larger a tab may come out than drawn."""
    part = placed.part
    known = cut_size(part.process, thickness_mm(placed), size_mm) if part.process else None
    cut = known.deviation_mm if known else process(part.process).position_mm
    return cut + (0.0 if part.masks.bare_edges else 2 * coat_mm(placed))


def _finding(
    case: ConnectionCase,
    code: str,
    message: str,
    fix: str,
    severity: Severity = "stop",
    *,
    where: str = "tabs",
    measured: str = "",
    limit: str = "",
) -> Finding:
    place = f"{case.connection.name}/{where}"
    return Finding(code, message, severity=severity, where=place, fix=fix, measured=measured, limit=limit)
