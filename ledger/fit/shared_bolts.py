"""
Parts that several connections put on the same bolts, two by two: do they go together all at once.

Each connection gives which hole of one part meets which of the other, and how the one lies on the other. Holes meeting
from part to part are one *bolt*, which leaves every part its room, or is held by some. The poses of all parts are then
sought at once, as for a stack.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, product
from typing import Final

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, Way
from ledger.fit.joint import SAME_MM
from ledger.fit.stack_case import StackFastening
from ledger.fit.stack_layout import StackLayout, lay_out_stack
from ledger.fit.stack_pose import best_stack

MOST_WAYS: Final = 24
Spot = tuple[str, str]  # part, hole


@dataclass(frozen=True, slots=True)
class Connected:
    """Two parts, the first laid on the second, with the fastenings between them and every way they go together."""

    parts: tuple[str, str]
    fastenings: tuple[Fastening, ...]
    ways: tuple[Way, ...]
    whole: bool  # whether these are all the ways


@dataclass(frozen=True, slots=True)
class Shared:
    """Half margins of the best position found, as drawn and in the worst case; whether none is proven to pass."""

    margin_mm: float
    worst_case_margin_mm: float
    none_passes: bool


def fit_shared(connections: Sequence[Connected]) -> Shared:
    """The parts of these connections, which hang together, all at once and free to move."""
    best = Shared(-math.inf, -math.inf, none_passes=True)
    whole = all(c.whole for c in connections)
    ways = product(*(c.ways for c in connections))
    for way in islice(ways, MOST_WAYS):
        found = _one_way(connections, way)
        if found is not None and found.margin_mm > best.margin_mm:
            best = found
        whole &= found is None or found.none_passes
        if best.worst_case_margin_mm >= -SAME_MM:
            break
    whole &= next(ways, None) is None
    return Shared(best.margin_mm, best.worst_case_margin_mm, whole and best.margin_mm < -SAME_MM)


def _one_way(connections: Sequence[Connected], way: Sequence[Way]) -> Shared | None:
    """The best position of one way; None where the ways contradict each other."""
    poses = _poses(connections, way)
    bolts = _bolts(connections, way)
    if poses is None or bolts is None:
        return None
    parts = list(poses)
    drawn, hard = (_laid(parts, poses, bolts, worst=worst) for worst in (False, True))
    start = np.radians([poses[n].angle_deg for n in parts])
    found = best_stack(drawn, start, floor_mm=-SAME_MM, prove=0)
    if found.half_margin_mm < -SAME_MM:
        found = best_stack(drawn, start, floor_mm=-SAME_MM)
    worst = best_stack(hard, np.angle(found.turns), prove=0)
    return Shared(2 * found.half_margin_mm, 2 * worst.half_margin_mm, found.complete)


def _poses(connections: Sequence[Connected], way: Sequence[Way]) -> dict[str, Pose] | None:
    """Every part on the first one; None where one would lie both sides up."""
    poses = {connections[0].parts[1]: Pose()}
    left = list(zip(connections, way, strict=True))
    while left:
        at = next(n for n, (c, _) in enumerate(left) if set(c.parts) & poses.keys())
        connected, laid = left.pop(at)
        first, second = connected.parts
        if first in poses and second in poses:
            if poses[second].after(laid.pose).turned_over != poses[first].turned_over:
                return None
        elif second in poses:
            poses[first] = poses[second].after(laid.pose)
        else:
            poses[second] = poses[first].after(laid.pose.back)
    return poses


@dataclass(slots=True)
class _Bolt:
    holes: dict[str, Hole]
    rooms: dict[str, tuple[float, float]]  # by part, as drawn and in the worst case
    strays: dict[str, float]  # of the parts that hold it, in the worst case

    def columns(self, *, worst: bool) -> Iterator[dict[str, float]]:
        """As the columns of a bolt of a stack: rooms by part."""
        rooms = {n: room[worst] for n, room in self.rooms.items() if n not in self.strays}
        if not self.strays:
            yield rooms
        holders = sorted(self.strays)
        for place, holder in enumerate(holders):
            lost = self.strays[holder] if worst else 0.0
            for n, room in rooms.items():
                yield dict.fromkeys((n, holder), (room - lost) / 2)
            for other in holders[place + 1 :]:
                yield dict.fromkeys((other, holder), -(lost + self.strays[other] * worst) / 2)


def _bolts(connections: Sequence[Connected], way: Sequence[Way]) -> list[_Bolt] | None:
    """Holes that meet from part to part; None where a bolt would go through two holes of one part."""
    of: dict[Spot, _Bolt] = {}
    for connected, laid in zip(connections, way, strict=True):
        first, second = connected.parts
        kinds = {h.label: f for f in connected.fastenings for h in f.a.holes}
        for a, b in laid.pairs:
            fastening = kinds[a]
            new = _bolt(fastening, (first, a), (second, b))
            for spot in ((first, a), (second, b)):
                known = of.get(spot)
                if known is not None and not _join(new, known):
                    return None
            for number, hole in new.holes.items():
                of[number, hole.label] = new
    return list({id(bolt): bolt for bolt in of.values()}.values())


def _bolt(fastening: Fastening, first: Spot, second: Spot) -> _Bolt:
    both = StackFastening(
        (fastening.a, fastening.b), fastening.fastener_mm, fastening.largest_fastener_mm, fastening.joint
    )
    bolt = _Bolt({}, {}, {})
    for k, (number, label) in enumerate((first, second)):
        hole = next(h for h in both.plies[k].holes if h.label == label)
        bolt.holes[number] = hole
        bolt.rooms[number] = both.room_mm(k, hole, worst=False), both.room_mm(k, hole, worst=True)
        held = ("countersunk", "countersunk tapped") if k == 0 else ("through", "countersunk")
        if (fastening.joint in held) is (k == 0):
            bolt.strays[number] = both.plies[k].position_mm / 2
    return bolt


def _join(bolt: _Bolt, known: _Bolt) -> bool:
    """Take over what is known of the same bolt; False where it is in another hole of the same part."""
    for number, hole in known.holes.items():
        if number in bolt.holes and bolt.holes[number].label != hole.label:
            return False
        room = bolt.rooms.get(number, (math.inf, math.inf))
        bolt.holes[number] = hole
        bolt.rooms[number] = min(room[0], known.rooms[number][0]), min(room[1], known.rooms[number][1])
    for number, stray in known.strays.items():
        bolt.strays[number] = max(stray, bolt.strays.get(number, 0.0))
    return True


def _laid(parts: list[str], poses: dict[str, Pose], bolts: list[_Bolt], *, worst: bool) -> StackLayout:
    columns = [(bolt, rooms) for bolt in bolts for rooms in bolt.columns(worst=worst)]
    cores = [
        [
            tuple((x, -y if poses[n].turned_over else y) for x, y in bolt.holes[n].core)
            if n in rooms
            else None
            for bolt, rooms in columns
        ]
        for n in parts
    ]
    return lay_out_stack(cores, [[rooms.get(n, math.inf) for _, rooms in columns] for n in parts])
