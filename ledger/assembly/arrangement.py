"""
One way to put everything together: which hole meets which in every connection, and which bodies and links that makes.

Parts whose places on each other are entered are one body. Holes that meet from connection to connection are on one
bolt; one through three and more bodies has a point of its own. Where the ways of the connections contradict each other
there is no arrangement: a part would be both sides up, or a bolt in two holes of one part.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ledger.assembly.links import Link, Links, Place, lay_out
from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.quantity import show_mm
from ledger.domain.shape import Hole
from ledger.fit.joint import SAME_MM
from ledger.fit.layout import Core
from ledger.fit.shared_bolts import Assembled, Connected
from ledger.fit.shared_columns import SharedBolt, joined_bolts
from ledger.fit.stack_case import Labels, StackFastening


@dataclass(frozen=True, slots=True)
class Member:
    """A connection of the assembly by its name, and its margins by itself, mm."""

    name: str
    connected: Connected
    margin_mm: float
    worst_case_margin_mm: float


@dataclass(frozen=True, slots=True)
class Arrangement:
    """
    Links as drawn and in the worst case, where to begin, and what every link is of.

    `bodies` gives of every part its body and its pose in it; `over` which bodies are turned over. `of` are the members
    (by place) that each link is of; `holes` its bolt's hole in every part, `ends` its two parts, the second
    empty at a point; `bolts` are all bolts.
    """

    drawn: Links
    hard: Links
    start: Place
    bodies: Mapping[str, tuple[int, Pose]]
    over: tuple[bool, ...]
    of: tuple[frozenset[int], ...]
    holes: tuple[tuple[tuple[str, str], ...], ...]
    ends: tuple[tuple[str, str], ...]
    bolts: tuple[SharedBolt, ...]

    def poses(self, place: Place) -> dict[str, Pose]:
        """Every part at these poses, in the coordinates of the first body."""
        found = {}
        for part, (body, inside) in self.bodies.items():
            turn = complex(place.turns[body])
            move = complex(place.shifts[body]) - turn * complex(self.drawn.homes[body])
            angle = math.degrees(cmath.phase(turn))
            found[part] = Pose(angle, move.real, move.imag, self.over[body]).after(inside)
        return found


def arranged(members: Sequence[Member], way: Sequence[Assembled]) -> Arrangement | None:
    """
    The arrangement of one way of every member; None where the ways contradict each other.

    Raises BadInput where positions that are entered cannot all be.
    """
    bodies = _bodies(members, way)
    poses = _begun(members, way, bodies)
    every = joined_bolts(_bolts(members, way))
    if poses is None or every is None:
        return None
    leaders = sorted({body for body, _ in bodies.values()})
    over = tuple(poses[body].turned_over for body in leaders)
    names = [_members_of(bolt, members, way) for bolt in every]
    points = len(leaders)
    rows: list[list[Link]] = [[], []]
    of: list[frozenset[int]] = []
    holes: list[tuple[tuple[str, str], ...]] = []
    ends: list[tuple[str, ...]] = []
    for bolt, named in zip(every, names, strict=True):
        told = tuple(sorted((number, hole.label) for number, hole in bolt.holes.items()))
        hard = bolt.columns(worst=True)
        for column, harder in zip(bolt.columns(worst=False), hard, strict=True):
            cores = {n: _core(bolt.holes[n], bodies[n][1], over=over[bodies[n][0]]) for n in column}
            rows[0] += _links(column, cores, bodies, points)
            rows[1] += _links(harder, cores, bodies, points)
            new = len(rows[0]) - len(of)
            points += 1 if new > 1 else 0
            of += [named] * new
            holes += [told] * new
            ends += [tuple(column)[:2]] if new == 1 else [(part, "") for part in column]
    drawn, harder_links = (lay_out(len(leaders), points - len(leaders), each) for each in rows)
    turns = np.ones(points, dtype=complex)
    shifts = np.zeros(points, dtype=complex)
    for body in leaders:
        turns[body] = cmath.rect(1, math.radians(poses[body].angle_deg))
        shifts[body] = complex(poses[body].x_mm, poses[body].y_mm) + turns[body] * drawn.homes[body]
    start = _axes(drawn, Place(turns, shifts))
    return Arrangement(
        drawn, harder_links, start, bodies, over, tuple(of), tuple(holes),
        tuple((x[0], x[1]) for x in ends), tuple(every),
    )  # fmt: skip


def _links(
    rooms: Mapping[str, float], cores: Mapping[str, Core], bodies: Mapping[str, tuple[int, Pose]], point: int
) -> Iterator[Link]:
    """The links of one column: one between two parts, else one from every part to a point."""
    parts = list(rooms)
    if len(parts) == 2:  # noqa: PLR2004 - a pair
        one, other = parts
        yield Link(bodies[one][0], bodies[other][0], cores[one], cores[other], rooms[one] + rooms[other])
        return
    for part in parts:
        yield Link(bodies[part][0], point, cores[part], ((0.0, 0.0),), rooms[part], 0.5)


def _core(hole: Hole, inside: Pose, *, over: bool) -> Core:
    placed = [inside.place(p) for p in hole.core]
    return tuple((x, -y) if over else (x, y) for x, y in placed)


def _axes(links: Links, place: Place) -> Place:
    """Points begun in the middle of the cores that they go through."""
    total, count = np.zeros(len(place.shifts), dtype=complex), np.zeros(len(place.shifts))
    at = links.other >= links.bodies
    one = links.one[at]
    np.add.at(total, links.other[at], place.turns[one] * links.a[at] + place.shifts[one])
    np.add.at(count, links.other[at], 1)
    shifts = np.where(count > 0, total / np.maximum(count, 1), place.shifts)
    return Place(place.turns, shifts)


def _bolts(members: Sequence[Member], way: Sequence[Assembled]) -> Iterator[SharedBolt]:
    for member, assembled in zip(members, way, strict=True):
        for labels in assembled.bolts:
            yield SharedBolt.of(kind_of(member.connected, labels), member.connected.parts, labels)


def kind_of(connected: Connected, labels: Labels) -> StackFastening:
    """The fastening whose holes these are."""
    k, label = next((k, x) for k, x in enumerate(labels) if x)
    return next(f for f in connected.fastenings if any(h.label == label for h in f.plies[k].holes))


def _members_of(bolt: SharedBolt, members: Sequence[Member], way: Sequence[Assembled]) -> frozenset[int]:
    """The members whose bolt this is."""
    there = {(number, hole.label) for number, hole in bolt.holes.items()}
    return frozenset(
        place
        for place, (member, assembled) in enumerate(zip(members, way, strict=True))
        if any(
            all((n, x) in there for n, x in zip(member.connected.parts, labels, strict=True) if x)
            for labels in assembled.bolts
        )
    )


def _bodies(members: Sequence[Member], way: Sequence[Assembled]) -> dict[str, tuple[int, Pose]]:
    """Of every part its body, and its pose in it. Raises BadInput."""
    parts = list(dict.fromkeys(p for m in members for p in m.connected.parts))
    found: dict[str, tuple[int, Pose]] = {}
    entered = [
        (m, dict(zip(m.connected.parts, a.poses, strict=True)))
        for m, a in zip(members, way, strict=True)
        if m.connected.hold == "fixed"
    ]
    body = -1
    for first in parts:
        if first in found:
            continue
        body += 1
        found[first], left = (body, Pose()), [first]
        while left:
            known = left.pop()
            for member, laid in entered:
                if known not in laid:
                    continue
                moved = found[known][1].after(laid[known].back)
                for part, pose in laid.items():
                    if part not in found:
                        found[part] = body, moved.after(pose)
                        left.append(part)
                    else:
                        _agrees(member, part, known, (found[part][1], moved.after(pose)))
    return found


def _agrees(member: Member, part: str, known: str, poses: tuple[Pose, Pose]) -> None:
    """Raises BadInput where two entered positions put a part in two places."""
    one, other = poses
    place = member.connected.parts.index(part)
    points = [p for f in member.connected.fastenings for h in f.plies[place].holes for p in h.core]
    apart_mm = max((math.dist(one.place(p), other.place(p)) for p in points), default=0.0)
    if one.turned_over != other.turned_over:
        raise BadInput(
            f"the positions entered put {part} on {known} both sides up; enter it one side up, or remove one position"
        )
    if apart_mm > SAME_MM * 10:
        raise BadInput(
            f"the positions entered put {part} on {known} in two places, {show_mm(apart_mm)} apart at its holes; enter "
            f"positions that agree, or remove one"
        )


def _begun(
    members: Sequence[Member], way: Sequence[Assembled], bodies: Mapping[str, tuple[int, Pose]]
) -> dict[int, Pose] | None:
    """Where every body begins, the first as drawn; None where a body would be both sides up."""
    found: dict[int, Pose] = {0: Pose()}
    left = list(zip(members, way, strict=True))
    while left:
        at = next(
            (n for n, (m, _) in enumerate(left) if any(bodies[p][0] in found for p in m.connected.parts)),
            None,
        )
        if at is None:
            return None
        member, assembled = left.pop(at)
        laid = dict(zip(member.connected.parts, assembled.poses, strict=True))
        known = next(p for p in laid if bodies[p][0] in found)
        moved = found[bodies[known][0]].after(bodies[known][1]).after(laid[known].back)
        for part, pose in laid.items():
            body, inside = bodies[part]
            new = moved.after(pose).after(inside.back)
            if body not in found:
                found[body] = new
            elif found[body].turned_over != new.turned_over:
                return None
    return found
