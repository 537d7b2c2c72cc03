"""
The one move that closes an assembly: which holes of which connection, by how much.

The holes of one part in one connection are let loose: a shift of their own is added to the gaps of that connection.
First it is sought how much room there then is, then the shortest shift that leaves a margin of 0.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.assembly.arrangement import Arrangement, Member
from ledger.assembly.links import Links, Place, gaps, margins
from ledger.assembly.poses import best_poses
from ledger.domain.shape import Point

ROOM_MM: Final = 1e-4  # a margin that is left beside the move, so that rounding takes nothing
SAME_MM: Final = 1e-3
MOST_TRIED: Final = 3
Rows = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Move:
    """The holes of `part` in connection `member`, moved by so much in the part's own drawing."""

    member: str
    part: str
    labels: tuple[str, ...]
    move_mm: Point

    @property
    def length_mm(self) -> float:
        return math.hypot(*self.move_mm)


@dataclass(frozen=True, slots=True)
class Closing:
    """By how much an assembly is short as drawn (None: no one move closes it), and the moves that close it."""

    short_mm: float | None = None
    moves: tuple[Move, ...] = ()
    worst_case: bool = False  # whether the moves close it in the worst case, too


def moves_that_close(
    made: Arrangement, members: tuple[Member, ...], place: Place, parts: Collection[str]
) -> Closing:
    """
    The shortest moves of groups of holes of these parts that close an assembly whose best poses are `place`.

    How far the holes of one connection are from closing it is the same whichever of its parts they are in.
    """
    rows = {k: np.array([k in of and len(of) == 1 for of in made.of]) for k in range(len(members))}
    drawn = {
        k: shift for k, row in rows.items()
        if row.any() and not row.all() and (shift := _shift(made.drawn, row, place))
    }  # fmt: skip
    nearest = sorted(drawn, key=lambda k: (round(abs(drawn[k][0]) / SAME_MM), members[k].name))
    if not nearest:
        return Closing()
    short = abs(drawn[nearest[0]][0])
    own = [k for k in nearest if any(True for _ in _sides(made, members[k], rows[k], parts))][:MOST_TRIED]
    hard = {k: shift for k in own if (shift := _shift(made.hard, rows[k], place))}
    shifts = hard or {k: drawn[k] for k in own}
    moves = [
        Move(members[k].name, part, labels, _own(made, part, sign * moved, at))
        for k, (moved, at) in shifts.items()
        for part, sign, labels in _sides(made, members[k], rows[k], parts)
    ]
    moves.sort(key=lambda m: (round(m.length_mm / SAME_MM), m.member, m.part))
    return Closing(round(short, 9), tuple(moves), bool(hard))


def _shift(links: Links, rows: Rows, place: Place) -> tuple[complex, Place] | None:
    """The shortest shift of the gaps of these links with which every one has room, and the poses there."""
    node = links.bodies + links.points
    loose = replace(
        links, points=links.points + 1, loose=np.where(rows, node, -1), homes=np.append(links.homes, 0)
    )
    begun = -complex(gaps(links, place)[rows].mean())
    start = Place(np.append(place.turns, 1), np.append(place.shifts, begun))
    free = best_poses(loose, start)
    if free.margin_mm <= 2 * ROOM_MM:
        return None
    kept = replace(
        loose,
        room=np.append(loose.room - ROOM_MM * loose.share, 0.0),
        share=np.append(0 * loose.share, 1.0),
        one=np.append(loose.one, 0), other=np.append(loose.other, node), loose=np.append(loose.loose, -1),
        a=np.append(loose.a, -free.place.shifts[0] / free.place.turns[0]), b=np.append(loose.b, 0),
        ha=np.append(loose.ha, 0), hb=np.append(loose.hb, 0),
    )  # fmt: skip
    nearest = best_poses(kept, free.place)
    if float(margins(loose, nearest.place).min()) < 0:
        return None
    return complex(nearest.place.shifts[node]), nearest.place


def _sides(
    made: Arrangement, member: Member, rows: Rows, parts: Collection[str]
) -> Iterator[tuple[str, int, tuple[str, ...]]]:
    """Those of the parts of a connection of two, with the sign in which their holes move, and the holes' names."""
    if len(member.connected.parts) != 2:  # noqa: PLR2004 - of a stack the holes of one part alone
        return
    links = made.drawn
    row = int(np.flatnonzero(rows)[0])
    for part in member.connected.parts:
        if part in parts:
            sign = 1 if int(links.one[row]) == made.bodies[part][0] else -1
            labels = {label for k in np.flatnonzero(rows) for n, label in made.holes[int(k)] if n == part}
            yield part, sign, tuple(sorted(labels, key=lambda x: (len(x), x)))


def _own(made: Arrangement, part: str, moved: complex, at: Place) -> Point:
    """A move in the directions of the assembly, in those of the part's drawing."""
    x, y = made.poses(at)[part].turn_back((moved.real, moved.imag))
    return round(x, 9) + 0.0, round(y, 9) + 0.0
