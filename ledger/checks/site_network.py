"""
Points found from distances are where they are said to be, and nowhere else.

Distances alone leave a shape free to bend, to turn over and to hide a misread tape; what is open is said, not guessed.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.errors import BadInput
from ledger.domain.finding import Finding
from ledger.survey.blame import Off, off_readings
from ledger.survey.of_part import solution_of
from ledger.survey.reliability import unseen_slip
from ledger.survey.solve import Solution

_FEW = 6


@check(
    on=PartCase,
    source="least squares with data snooping (Baarda 1968); the rest plane geometry",
    codes=(
        "network_impossible",
        "network_free",
        "network_mirrored",
        "reading_off",
        "reading_doubtful",
        "unchecked_readings",
    ),
    severity="stop",
    not_checked="whether points that were measured are those that the labels mean",
)
def site_network(case: PartCase) -> Iterator[Finding | NotChecked]:
    """
    The readings fix every point, on one side only, and agree as well as they claim.

    A stud pattern from a misread tape, or its mirror image, fits no plate on the day it is bolted down.
    """
    try:
        solution = solution_of(case.part)
    except BadInput as fault:
        yield Finding(
            "network_impossible",
            f"the points and distances are no network: {fault}",
            severity="stop",
            where="network",
            fix="enter the points again so that all have two coordinates or all three, and sides of as many points",
        )
        return
    if solution is None:
        raise DoesNotApply
    if not solution.points:
        yield Finding(
            "network_free",
            f"the distances do not fix {_named(solution.free)}: no place is claimed for any point",
            severity="stop",
            where="network",
            fix="measure further distances from these points to two others at least (three in space)",
        )
        return
    yield from _turned_over(solution)
    off = off_readings(solution)
    if off:
        yield _off(off)
    unseen = unseen_slip(solution)
    if unseen:
        yield NotChecked(f"slips in the measured distances: {unseen.words}")
    alone = [x.reading.words for x in solution.left if x.share == 0]
    if alone:
        yield Finding(
            "unchecked_readings",
            f"an error would not show in {_named(alone)}",
            severity="note",
            where="network",
            fix="measure one distance more to each of these points",
        )


def _turned_over(solution: Solution) -> Iterator[Finding]:
    if not (solution.images or solution.mirror or solution.wrong_sides):
        return
    groups = [_named(g) for g in solution.images]
    what = "; ".join(groups) if groups else "all points"
    words = f"the distances fit {what} turned over just as well"
    if solution.wrong_sides:
        words = f"the side entered for {_named(solution.wrong_sides)} does not fit the distances"
    name = (solution.wrong_sides or (solution.images[0] if solution.images else solution.network.points[2:]))[
        0
    ]
    first = " ".join(solution.network.points[: solution.network.dim])
    hand = "left" if len(first.split()) == 2 else "above"  # noqa: PLR2004 - flat
    yield Finding(
        "network_mirrored",
        words,
        severity="stop",
        where="network",
        fix=f"enter on which side a point is, such as: point {name} --side '{hand} of {first}'",
    )


def _off(off: Off) -> Finding:
    return Finding(
        "reading_off" if off.serious else "reading_doubtful",
        off.words,
        severity="stop" if off.serious else "note",
        where="/".join(s.words for s in off.suspects)[:200] or "network",
        fix=(
            "measure it again, or remove the distance with a reason"
            if off.suspects
            else "measure the distances of the worst points again, those left farthest off first (fitup survey)"
        ),
        measured=f"{off.off_mm:.1f} mm off",
    )


def _named(names: tuple[str, ...] | list[str]) -> str:
    shown = ", ".join(names[:_FEW])
    return shown if len(names) <= _FEW else f"{shown} and {len(names) - _FEW} more"
