"""The bolts of a stack: which hole of every ply each goes through, and where one that is in the way would fit."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole, Point
from ledger.fit.joint import SAME_MM, bolt_hole_range_mm
from ledger.fit.layout import offset_mm
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

    @property
    def holders(self) -> tuple[int, ...]:
        """The plies in which its axis is fixed, where its hole there is."""
        joint = self.fastening.joint
        first = (0,) if joint in ("countersunk", "countersunk tapped") else ()
        last = () if joint in ("through", "countersunk") else (len(self.holes) - 1,)
        return tuple(k for k in (*first, *last) if self.holes[k] is not None)

    def columns(self, *, worst: bool) -> tuple[dict[int, float], ...]:
        """
        Rooms by ply of a bolt that floats, once; of one that is held, for every ply against the one that holds it.

        What two such plies may be apart is parted evenly between them: then the half margin means the same for all.
        """
        there = [k for k, hole in enumerate(self.holes) if hole is not None]
        if not self.holders:
            return ({k: self.room_mm(k, worst=worst) for k in there},)
        found = []
        for holder in self.holders:
            strays = self.fastening.plies[holder].position_mm / 2 if worst else 0.0
            for k in there:
                if k not in self.holders:
                    room = self.room_mm(k, worst=worst)
                elif k > holder:
                    room = -self.fastening.plies[k].position_mm / 2 if worst else 0.0
                else:
                    continue
                found.append(dict.fromkeys((k, holder), (room - strays) / 2))
        return tuple(found)

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
        expected = poses[k].bring((middle.real, middle.imag))
        return round(expected[0] - hole.centre[0], 9) + 0.0, round(expected[1] - hole.centre[1], 9) + 0.0


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


def bolts_beside(
    fastenings: Iterable[StackFastening], ground: int, bolts: Iterable[Bolt], poses: tuple[Pose, ...]
) -> tuple[Bolt, ...]:
    """
    The bolts beside these that do not go through the ground ply, where the plies lie at these poses.

    Holes that are left over and could take the fastener are one bolt's where they are nearest to each other, and no
    farther apart than what the joint and the fastener's diameter allow: the rule of displaced holes.
    """
    taken = list(bolts)
    known = [{h.label for bolt in taken if (h := bolt.holes[k]) is not None} for k in range(len(poses))]
    found: list[Bolt] = []
    for of in fastenings:
        rows: list[Bolt] = []
        for k in (k for k in range(len(poses)) if k != ground):
            left = [h for h in candidates_of(of, k) if h.label not in known[k]]
            rows = _matched(of, rows, k, left, poses)
        found += [row for row in rows if sum(h is not None for h in row.holes) > 1]
    return tuple(found)


def candidates_of(of: StackFastening, k: int) -> tuple[Hole, ...]:
    """The holes of a ply that could take the fastener as a clearance hole; all of a declared group."""
    low, high = bolt_hole_range_mm("through", "a", of.fastener_mm) or (0.0, math.inf)
    ply = of.plies[k]
    return ply.holes if ply.declared else tuple(h for h in ply.holes if low <= h.diameter_mm <= high)


def _matched(
    of: StackFastening, rows: list[Bolt], k: int, left: list[Hole], poses: tuple[Pose, ...]
) -> list[Bolt]:
    """The rows with a ply's holes added, each to the row that lies nearest to it and it to that one; else alone."""
    apart = np.array([[_beyond(row, k, h, poses) for row in rows] for h in left]).reshape(
        len(left), len(rows)
    )
    out = list(rows)
    for i, hole in enumerate(left):
        row = int(apart[i].argmin()) if rows else -1
        if rows and apart[i, row] <= 0 and int(apart[:, row].argmin()) == i:
            holes = list(rows[row].holes)
            holes[k] = hole
            out[row] = Bolt(of, tuple(holes))
        else:
            out.append(Bolt(of, tuple(hole if j == k else None for j in range(len(poses)))))
    return out


def _beyond(row: Bolt, k: int, hole: Hole, poses: tuple[Pose, ...]) -> float:
    """By how much a hole lies farther from those of a row than it could and still be of the same bolt."""
    of = row.fastening
    return max(
        offset_mm(poses[j].back.after(poses[k]), hole.core, other.core)[0]
        - (of.room_mm(k, hole, worst=False) + row.room_mm(j, worst=False) + of.fastener_mm)
        for j, other in enumerate(row.holes)
        if other is not None
    )
