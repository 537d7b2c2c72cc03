"""
Whether the numbers of two patterns that do not go together look like a known slip.

A *slip* is one change of one drawing that makes the whole pattern go: inches read as millimeters or the other way
round, a mirrored drawing, a pitch of 25 for 25.4, the radius of a bolt circle for its diameter; of a stated position
also a turn by a quarter or a shifted origin. It is only named where the fit after the change is a GO with every hole
of the smaller plate, three at least; it is a hint, not a verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.candidates import tabulate
from ledger.fit.case import Fit, PatternCase, Ply
from ledger.fit.pattern import fit

INCH: Final = 25.4
MOST_HOLES: Final = 60
FEWEST: Final = 3
QUARTER: Final = 90.0
SAME_DEG: Final = 0.5
SAME_MM: Final = 0.5
_SCALES: Final = (
    (INCH, True, "its numbers look like inches taken as millimeters"),
    (1 / INCH, True, "its numbers look like millimeters taken as inches"),
    (2.0, False, "its pattern has half the size: the radius of a bolt circle taken for its diameter?"),
    (INCH / 25, False, "its pitch looks rounded, 25 for 25.4"),
)


@dataclass(frozen=True, slots=True)
class Slip:
    """What one drawing ("a", "b" or "" for either) would have to be for the holes to go together."""

    kind: str
    side: str
    text: str


def slips(case: PatternCase, found: Fit, more: Callable[[], bool] = lambda: True) -> tuple[Slip, ...]:
    """
    The slips that would explain why two patterns do not go together; none for a GO.

    Each costs a fit: no other is tried once there is no `more` time for it.
    """
    if found.verdict == "GO" or min(len(case.a.holes), len(case.b.holes)) < FEWEST:
        return ()
    if max(len(case.a.holes), len(case.b.holes)) > MOST_HOLES:
        return ()
    if not more():
        return ()
    return tuple(_placed(case) if case.position is not None else _drawn(case, more))


def _placed(case: PatternCase) -> Iterator[Slip]:
    """Of a stated position: the same holes go together elsewhere."""
    stated = case.position if isinstance(case.position, Pose) else None
    free = fit(replace(case, position=None, turned_over="either"))
    if stated is None or free.pose is None or not _whole(case, free):
        return
    ways = [w for w in free.assemblies if w.pose.turned_over == stated.turned_over] or list(free.assemblies)
    for way in ways:
        turn = (way.pose.angle_deg - stated.angle_deg + 180) % 360 - 180
        quarters = round(turn / QUARTER)
        if way.pose.turned_over != stated.turned_over:
            yield Slip("mirrored", "", f"{_all(free)} turned over")
            return
        if quarters == 0 and abs(turn) <= SAME_DEG:
            dx, dy = way.pose.x_mm - stated.x_mm, way.pose.y_mm - stated.y_mm
            yield Slip(
                "shift",
                "",
                f"{_all(free)} ({dx:+.2f}, {dy:+.2f}) mm from there: the origin looks shifted",
            )
            return
    turn = (ways[0].pose.angle_deg - stated.angle_deg + 180) % 360 - 180
    if abs(turn - QUARTER * round(turn / QUARTER)) <= SAME_DEG:
        yield Slip("quarter", "", f"{_all(free)} {turn:+.0f} degrees from there: the position looks turned")


def _drawn(case: PatternCase, more: Callable[[], bool]) -> Iterator[Slip]:
    """Of the drawings: one of them at another scale, or mirrored."""
    if case.turned_over != "either":
        other = fit(replace(case, turned_over="no" if case.turned_over == "yes" else "yes"))
        if _whole(case, other):
            over = "turned over" if case.turned_over == "no" else "not turned over"
            yield Slip("mirrored", "", f"{_all(other)} {over}: is a drawing mirrored?")
    for factor, sizes, text in _SCALES if not case.also else ():
        for side in ("a", "b"):
            changed = _scaled(case, side, factor, sizes=sizes)
            if _alike(changed) and more() and _whole(changed, fit(changed)):
                yield Slip("scale", side, text)


def _scaled(case: PatternCase, side: str, factor: float, *, sizes: bool) -> PatternCase:
    ply: Ply = getattr(case, side)
    holes = tuple(
        Hole(
            h.label, tuple((x * factor, y * factor) for x, y in h.core),
            h.diameter_mm * (factor if sizes else 1.0), h.made_of,
        )
        for h in ply.holes
    )  # fmt: skip
    changed = replace(ply, holes=holes)
    return replace(case, a=changed) if side == "a" else replace(case, b=changed)


def _alike(case: PatternCase) -> bool:
    """Whether the two patterns are about as large: a quick look before the fit."""
    table = tabulate(case)
    if min(len(table.a), len(table.b)) < FEWEST:
        return False
    a, b, _ = table.middles()
    if len(a) != len(b):
        return True
    spread = (np.sort(np.abs(z - z.mean())) for z in (a, b))
    one, two = spread
    return bool(np.abs(one - two).max() <= 2 * float(np.max(table.take_up)) + SAME_MM)


def _whole(case: PatternCase, found: Fit) -> bool:
    """A GO in which every hole of the smaller plate is paired."""
    table = tabulate(case)
    fewer = min(len(table.a), len(table.b))
    return found.verdict == "GO" and len(found.pairs) == fewer >= FEWEST


def _all(found: Fit) -> str:
    return f"all {len(found.pairs)} holes agree"
