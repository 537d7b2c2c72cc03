"""
Parts that several connections put on the same bolts: do they go together all at once.

Each connection gives which hole of one part meets which of the other, and how the one lies on the other. Where its
holes decide that, it is *free*; where its position is stated, or fixed by pins or sides, it is *fixed*; along one side
or about one pin it is *guided*. Parts whose poses all follow from fixed connections are measured there, bolt by bolt.
The poses of parts that are all free are sought at once, as for a stack. Of a mixture a pose is tried; that none passes
is proven where none does with all parts free.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice, product
from typing import Final, Literal

import numpy as np

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.quantity import show_mm
from ledger.fit.joint import SAME_MM
from ledger.fit.shared_columns import SharedBolt, Short, joined_bolts, layout_of, measured
from ledger.fit.stack_case import Labels, StackFastening
from ledger.fit.stack_pose import best_stack, worst_of

MOST_WAYS: Final = 24
Hold = Literal["free", "fixed", "guided"]
Poses = dict[str, Pose]


@dataclass(frozen=True, slots=True)
class Assembled:
    """One way a connection goes together: every part in one frame, and of every bolt its hole in each part."""

    poses: tuple[Pose, ...]
    bolts: tuple[Labels, ...]


@dataclass(frozen=True, slots=True)
class Connected:
    """The parts of a connection from first to last, with its fastenings and the ways it goes together."""

    parts: tuple[str, ...]
    fastenings: tuple[StackFastening, ...]
    ways: tuple[Assembled, ...]
    whole: bool  # whether these are all the ways
    hold: Hold = "free"


@dataclass(frozen=True, slots=True)
class Shared:
    """
    Margins of the best position found, as drawn and in the worst case; whether none is proven to pass.

    `settled`: the position is the only one, or was sought as the best one. `short` are the columns that lack room
    where every part lies at a stated pose.
    """

    margin_mm: float
    worst_case_margin_mm: float
    none_passes: bool
    settled: bool = True
    short: tuple[Short, ...] = ()


Way = Sequence[Assembled]


@lru_cache(maxsize=32)  # every connection among them asks the same
def fit_shared(connections: tuple[Connected, ...]) -> Shared:
    """
    The parts of these connections, which hang together, all at once.

    Raises BadInput where the positions of fixed connections cannot all be.
    """
    best = Shared(-math.inf, -math.inf, none_passes=True)
    whole = all(c.whole for c in connections)
    ways = product(*(c.ways for c in connections))
    apart: list[_Contradiction] = []
    for way in islice(ways, MOST_WAYS):
        try:
            found = _one_way(connections, way)
        except _Contradiction as contradiction:
            apart.append(contradiction)
            continue
        if found is not None and _rank(found) > _rank(best):
            best = found
        whole &= found is None or found.none_passes
        if best.worst_case_margin_mm >= -SAME_MM:
            break
    whole &= next(ways, None) is None
    if apart and best.margin_mm == -math.inf:
        raise BadInput(str(apart[0]))
    return Shared(
        best.margin_mm,
        best.worst_case_margin_mm,
        whole and best.margin_mm < -SAME_MM,
        best.settled,
        best.short,
    )


class _Contradiction(Exception):
    """Positions that cannot all be, in words."""


def _rank(found: Shared) -> tuple[bool, float]:
    return found.worst_case_margin_mm >= -SAME_MM, found.margin_mm


def _one_way(connections: Sequence[Connected], way: Way) -> Shared | None:
    """The best position of one way; None where the ways contradict each other."""
    poses, rigid = _poses(connections, way)
    bolts = joined_bolts(_bolts(connections, way))
    if poses is None or bolts is None:
        return None
    if rigid:
        at = measured(bolts, poses)
        return Shared(at.margin_mm, at.worst_case_margin_mm, at.none_passes, short=at.short)
    if all(c.hold == "free" for c in connections):
        return _sought(poses, bolts)
    at = measured(bolts, poses)
    if at.margin_mm >= -SAME_MM:
        return Shared(at.margin_mm, at.worst_case_margin_mm, none_passes=False, settled=False)
    return Shared(at.margin_mm, at.worst_case_margin_mm, _sought(poses, bolts).none_passes, settled=False)


def _sought(poses: Poses, bolts: Sequence[SharedBolt]) -> Shared:
    """The best position with every part free; these poses say which side is up, and where to begin."""
    parts = list(poses)
    drawn, hard = (layout_of(parts, poses, bolts, worst=worst) for worst in (False, True))
    start = np.radians([poses[n].angle_deg for n in parts])
    found = best_stack(drawn, start, floor_mm=-SAME_MM, prove=0)
    if found.half_margin_mm < -SAME_MM:
        found = best_stack(drawn, start, floor_mm=-SAME_MM)
    none = found.complete and found.half_margin_mm < -SAME_MM
    return Shared(2 * found.half_margin_mm, 2 * worst_of(drawn, hard, found), none)


def _bolts(connections: Sequence[Connected], way: Way) -> Iterator[SharedBolt]:
    for connected, assembled in zip(connections, way, strict=True):
        for labels in assembled.bolts:
            yield SharedBolt.of(_kind(connected, labels), connected.parts, labels)


def _kind(connected: Connected, labels: Labels) -> StackFastening:
    """The fastening whose holes these are."""
    k, label = next((k, x) for k, x in enumerate(labels) if x)
    return next(f for f in connected.fastenings if any(h.label == label for h in f.plies[k].holes))


def _poses(connections: Sequence[Connected], way: Way) -> tuple[Poses | None, bool]:
    """
    Every part in the frame of one, and whether all poses follow from fixed connections.

    Fixed connections come first, so that two ways from part to part along them are compared with each other. No poses
    where a part that is free would lie both sides up.
    """
    poses: Poses = {connections[0].parts[-1]: Pose()}
    left, rigid = list(zip(connections, way, strict=True)), True
    while left:
        near = [n for n, (c, _) in enumerate(left) if set(c.parts) & poses.keys()]
        at = next((n for n in near if left[n][0].hold == "fixed"), near[0])
        connected, assembled = left.pop(at)
        laid = dict(zip(connected.parts, assembled.poses, strict=True))
        known = next(n for n in connected.parts if n in poses)
        moved = poses[known].after(laid[known].back)
        for number, pose in laid.items():
            new = moved.after(pose)
            if number not in poses:
                poses[number] = new
                rigid &= connected.hold == "fixed"
            elif connected.hold == "fixed":
                _same(connected, assembled, (number, known), (poses[number], new))
            elif poses[number].turned_over != new.turned_over:
                return None, False
    return poses, rigid


def _same(
    connected: Connected, assembled: Assembled, numbers: tuple[str, str], poses: tuple[Pose, Pose]
) -> None:
    """Raise _Contradiction where two poses of a part differ at its holes."""
    (one, other), (number, known) = poses, numbers
    place = connected.parts.index(number)
    holes = {h.label: h for f in connected.fastenings for h in f.plies[place].holes}
    points = [p for labels in assembled.bolts if labels[place] for p in holes[labels[place] or ""].core]
    apart_mm = max((math.dist(one.place(p), other.place(p)) for p in points), default=0.0)
    if one.turned_over != other.turned_over:
        raise _Contradiction(
            f"the positions entered lay {number} on {known} both ways up; enter it one way up, or remove one position"
        )
    if apart_mm > SAME_MM:
        raise _Contradiction(
            f"the positions entered lay {number} on {known} in two places, up to {show_mm(apart_mm)} apart at its "
            f"holes; enter positions that agree, or remove one"
        )
