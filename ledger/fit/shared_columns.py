"""
The bolts that several connections share, as columns of holes; and what is left of them at stated poses.

Holes meeting from part to part are one *bolt*. It leaves every part its room, or is held by some. A *column* is what
has to go together at a point: all parts of a bolt that floats, each part and the one that holds it of one that does
not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.joint import SAME_MM
from ledger.fit.stack_bolts import Bolt
from ledger.fit.stack_case import Labels, StackFastening
from ledger.fit.stack_layout import StackLayout, lay_out_stack
from ledger.fit.stack_position import most_room

Spot = tuple[str, str]  # part, hole


@dataclass(frozen=True, slots=True)
class Short:
    """A column that lacks room, by part, with its margin: what it lacks as drawn, else in the worst case."""

    holes: tuple[Spot, ...]
    margin_mm: float


@dataclass(frozen=True, slots=True)
class Measured:
    """
    Margins at stated poses, as drawn and in the worst case, and the columns that are short, the worst first.

    `none_passes`: of some column it is proven that no axis leaves it room as drawn.
    """

    margin_mm: float
    worst_case_margin_mm: float
    short: tuple[Short, ...]
    none_passes: bool


@dataclass(slots=True)
class SharedBolt:
    """A bolt's hole in every part it goes through, with its room there or, where a part holds it, how far it strays."""

    holes: dict[str, Hole]
    rooms: dict[str, tuple[float, float]]  # by part, as drawn and in the worst case
    strays: dict[str, float]  # of the parts that hold it, in the worst case

    @staticmethod
    def of(fastening: StackFastening, parts: Sequence[str], labels: Labels) -> SharedBolt:
        """One bolt of a connection: the names of its holes by part, None where it does not go through one."""
        every = [{h.label: h for h in ply.holes} for ply in fastening.plies]
        bolt = Bolt(fastening, tuple(of[x] if x else None for of, x in zip(every, labels, strict=True)))
        there = {k: hole for k, hole in enumerate(bolt.holes) if hole is not None}
        return SharedBolt(
            {parts[k]: hole for k, hole in there.items()},
            {parts[k]: (bolt.room_mm(k, worst=False), bolt.room_mm(k, worst=True)) for k in there},
            {parts[k]: fastening.plies[k].position_mm / 2 for k in bolt.holders},
        )

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

    def join(self, known: SharedBolt) -> bool:
        """Take over what is known of the same bolt; False where it is in another hole of the same part."""
        for number, hole in known.holes.items():
            if number in self.holes and self.holes[number].label != hole.label:
                return False
            room = self.rooms.get(number, (math.inf, math.inf))
            self.holes[number] = hole
            self.rooms[number] = min(room[0], known.rooms[number][0]), min(room[1], known.rooms[number][1])
        for number, stray in known.strays.items():
            self.strays[number] = max(stray, self.strays.get(number, 0.0))
        return True


def joined_bolts(every: Iterator[SharedBolt]) -> list[SharedBolt] | None:
    """The bolts, those with a hole in common made one; None where one would go through two holes of one part."""
    of: dict[Spot, SharedBolt] = {}
    for new in every:
        for number, hole in tuple(new.holes.items()):
            known = of.get((number, hole.label))
            if known is not None and not new.join(known):
                return None
        for number, hole in new.holes.items():
            of[number, hole.label] = new
    return list({id(bolt): bolt for bolt in of.values()}.values())


def measured(bolts: Sequence[SharedBolt], poses: Mapping[str, Pose]) -> Measured:
    """What is left where every part lies at its pose: every bolt stands by itself, at the axis that is best for it."""
    drawn, hard = (
        [_column(bolt, rooms, poses) for bolt in bolts for rooms in bolt.columns(worst=worst)]
        for worst in (False, True)
    )
    margin_mm, worst_mm = (min(c.margin_mm for c, _ in each) for each in (drawn, hard))
    of = drawn if margin_mm < -SAME_MM else hard
    short = sorted((c for c, _ in of if c.margin_mm < -SAME_MM), key=lambda c: (c.margin_mm, c.holes))
    return Measured(margin_mm, worst_mm, tuple(short), min(most for _, most in drawn) < -SAME_MM)


def _column(bolt: SharedBolt, rooms: Mapping[str, float], poses: Mapping[str, Pose]) -> tuple[Short, float]:
    """The column with its margin, and what no axis leaves more than."""
    cores = [tuple(poses[n].place(p) for p in bolt.holes[n].core) for n in rooms]
    margin_mm, most_mm = most_room(cores, list(rooms.values()))
    return Short(tuple(sorted((n, bolt.holes[n].label) for n in rooms)), margin_mm), most_mm


def layout_of(
    parts: Sequence[str], poses: Mapping[str, Pose], bolts: Sequence[SharedBolt], *, worst: bool
) -> StackLayout:
    """The columns as a stack whose poses are still free; of the given ones only which side is up counts."""
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
    return lay_out_stack(cores, [[rooms.get(n, np.inf) for _, rooms in columns] for n in parts])
