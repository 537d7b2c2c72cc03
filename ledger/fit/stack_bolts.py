"""The bolts of a stack: which hole of every ply each goes through, and where one that is in the way would fit."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole, Point
from ledger.fit.joint import SAME_MM
from ledger.fit.shift import enclosing
from ledger.fit.stack_case import Blamed, Labels, StackCase, StackFastening


@dataclass(frozen=True, slots=True)
class Bolt:
    """A bolt's hole in every ply, None where it does not go through one."""

    fastening: StackFastening
    holes: tuple[Hole | None, ...]

    @property
    def labels(self) -> Labels:
        """The names of its holes."""
        return tuple(h.label if h else None for h in self.holes)

    def room_mm(self, ply: int, *, worst: bool) -> float:
        """What its hole in a ply leaves it to each side; infinite where it has none."""
        hole = self.holes[ply]
        return math.inf if hole is None else self.fastening.room_mm(ply, hole, worst=worst)

    def blamed(self, poses: tuple[Pose, ...], margin_mm: float) -> Blamed:
        """How its holes could move so that it goes in at these poses; `margin_mm` is that of the others."""
        moves = tuple(self._move(poses, k) for k in range(len(self.holes)))
        together = not any(moves)
        if together:
            moves = tuple(self._move(poses, k, alone=False) for k in range(len(self.holes)))
        return Blamed(self.labels, margin_mm, moves, together)

    def _move(self, poses: tuple[Pose, ...], k: int, *, alone: bool = True) -> Point | None:
        """The move of a ply's hole to the middle of the others' (or of all); None where alone they leave no room."""
        hole = self.holes[k]
        others = [(h, j) for j, h in enumerate(self.holes) if h is not None and not (alone and j == k)]
        if hole is None or not others or any(h.is_slot for h, _ in others):
            return None
        places = np.array([complex(*poses[j].place(h.centre)) for h, j in others])
        rooms = np.array([self.room_mm(j, worst=False) for _, j in others])
        middle = enclosing(places, float(rooms.max()) - rooms)[0]
        if alone and float((rooms - np.abs(places - middle)).min()) < -SAME_MM:
            return None
        wanted = poses[k].bring((middle.real, middle.imag))
        return round(wanted[0] - hole.centre[0], 9) + 0.0, round(wanted[1] - hole.centre[1], 9) + 0.0


def bolts_of(case: StackCase, met: Iterable[tuple[int, Iterable[tuple[str, str]]]]) -> tuple[Bolt, ...]:
    """The bolts, by which hole of a ply k meets which of the ground: the pairs of every k, as its fit names them."""
    ground, holes = (
        case.ground,
        [{h.label: h for f in case.fastenings for h in f.plies[k].holes} for k in range(len(case.plies))],
    )
    rows: dict[str, list[Hole | None]] = {}
    for k, pairs in met:
        for a, b in pairs:
            own, other = (b, a) if ground == 0 else (a, b)
            row = rows.setdefault(other, [None] * len(case.plies))
            row[ground], row[k] = holes[ground][other], holes[k][own]
    kinds = {h.label: f for f in case.fastenings for h in f.plies[ground].holes}
    return tuple(Bolt(kinds[label], tuple(row)) for label, row in sorted(rows.items()))
