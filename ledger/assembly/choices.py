"""
Which ways of the connections could go together: those whose chains of parts can meet at all.

A symmetric pattern goes on in several ways, and around a ring only some of their combinations meet. At a margin of 0 a
part strays from where the best fit of a connection lays it on the other by a shift (of the middle of its holes) and a
turn that the holes bound; along a chain of connections both add up, the turns times the distance. A combination that
leaves a bolt farther from its hole than that is none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from ledger.assembly.arrangement import Member, kind_of
from ledger.domain.pose import Pose
from ledger.domain.shape import Point
from ledger.fit.case import Fastening
from ledger.fit.joint import take_up_mm
from ledger.fit.layout import offset_mm
from ledger.fit.shared_bolts import Assembled
from ledger.fit.stack_case import Labels

MOST_LOOKED_AT: Final = 20_000
SLACK_MM: Final = 1e-6
Way = tuple[Assembled, ...]


@dataclass(frozen=True, slots=True)
class _Stray:
    """How far a part may be from where it is laid: at its own middle, and how far turned."""

    pose: Pose
    middle: Point
    shift_mm: float
    turn: float

    def at(self, p: Point) -> float:
        """How far a place on it may be out, mm."""
        return self.shift_mm + self.turn * math.dist(p, self.middle)


@dataclass(frozen=True, slots=True)
class _Meeting:
    """A bolt between the first part of a connection and another one, in their own coordinates."""

    one: str
    other: str
    core: tuple[Point, ...]
    met: tuple[Point, ...]
    allowed_mm: float


@dataclass
class Choices:
    """
    The combinations that could be, one after the other; `whole` is whether none was left out for want of time.

    `nearest` is the one that comes nearest, of those that could not be.
    """

    members: Sequence[Member]
    whole: bool = True
    nearest: Way | None = None
    _off_mm: float = math.inf
    _looked: int = 0

    def __iter__(self) -> Iterator[Way]:
        order = _order(self.members)
        first = self.members[order[0]].connected.parts[-1] if order else ""
        start = {first: _Stray(Pose(), (0.0, 0.0), 0.0, 0.0)}
        for chosen in self._from(order, start, {}):
            yield tuple(chosen[k] for k in range(len(self.members)))

    def _from(
        self, order: Sequence[int], laid: dict[str, _Stray], chosen: dict[int, Assembled]
    ) -> Iterator[dict[int, Assembled]]:
        if not order:
            yield chosen
            return
        member = self.members[order[0]]
        for way in member.connected.ways:
            self._looked += 1
            if self._looked > MOST_LOOKED_AT:
                self.whole = False
                return
            with_it = {**chosen, order[0]: way}
            after = _laid(member, way, laid)
            off = _off(member, way, after) if after is not None else math.inf
            if off > SLACK_MM:
                self._note(with_it, off)
                continue
            yield from self._from(order[1:], after or {}, with_it)

    def _note(self, chosen: dict[int, Assembled], off: float) -> None:
        if off < self._off_mm:
            self._off_mm = off
            self.nearest = tuple(chosen.get(k, m.connected.ways[0]) for k, m in enumerate(self.members))


def _order(members: Sequence[Member]) -> list[int]:
    """Every member next to one before it, and as soon as both its ends are known."""
    left, order = list(range(len(members))), []
    known: set[str] = {members[0].connected.parts[-1]} if members else set()
    while left:
        best = max(left, key=lambda k: (_known(members[k], known), -k))
        left.remove(best)
        order.append(best)
        known |= set(members[best].connected.parts)
    return order


def _known(member: Member, known: set[str]) -> tuple[bool, int]:
    there = sum(p in known for p in member.connected.parts)
    return there == len(member.connected.parts), there


def _laid(member: Member, way: Assembled, laid: dict[str, _Stray]) -> dict[str, _Stray] | None:
    """The parts with those of a member added; None where one would be both sides up."""
    poses = dict(zip(member.connected.parts, way.poses, strict=True))
    known = [p for p in poses if p in laid]
    if not known:
        return None
    from_part = known[0]
    base = laid[from_part]
    moved = base.pose.after(poses[from_part].back)
    found = dict(laid)
    for part, pose in poses.items():
        new = moved.after(pose)
        if part in laid:
            if laid[part].pose.turned_over != new.turned_over:
                return None
            continue
        middle, shift_mm, turn = _play(member, way, from_part, part)
        at = new.place(middle)
        found[part] = _Stray(new, at, base.at(at) + shift_mm, base.turn + turn)
    return found


def _play(member: Member, way: Assembled, one: str, other: str) -> tuple[Point, float, float]:
    """The middle of the holes of `other` in a member, how far it can be from where it is laid on `one`, and turned."""
    if member.connected.hold == "fixed":
        return (0.0, 0.0), 0.0, 0.0
    meetings = [m for m in _meetings(member, way) if {m.one, m.other} == {one, other}]
    if not meetings:
        return (0.0, 0.0), math.inf, math.pi
    poses = dict(zip(member.connected.parts, way.poses, strict=True))
    own = [_mid(m.core if m.one == other else m.met) for m in meetings]
    middle = (math.fsum(x for x, _ in own) / len(own), math.fsum(y for _, y in own) / len(own))
    reach = [m.allowed_mm + _long(m.core) + _long(m.met) for m in meetings]
    gaps = [
        offset_mm(poses[m.other].back.after(poses[m.one]), (_mid(m.core),), (_mid(m.met),))[0]
        for m in meetings
    ]
    shift_mm = math.fsum(r + g for r, g in zip(reach, gaps, strict=True)) / len(reach)
    turn = math.pi
    for k, first in enumerate(own):
        for j in range(k):
            apart = math.dist(first, own[j])
            most = reach[k] + reach[j] + gaps[k] + gaps[j]
            if most < 2 * apart:  # the chord of the turn
                turn = min(turn, 2 * math.asin(most / (2 * apart)))
    return middle, shift_mm, turn


def _off(member: Member, way: Assembled, laid: dict[str, _Stray]) -> float:
    """By how much some bolt lies farther from its hole than it could."""
    worst = -math.inf
    for m in _meetings(member, way):
        one, other = laid[m.one], laid[m.other]
        gap = offset_mm(other.pose.back.after(one.pose), m.core, m.met)[0]
        stray = sum(
            s.at(s.pose.place(_mid(core))) + s.turn * _long(core)
            for s, core in ((one, m.core), (other, m.met))
        )
        worst = max(worst, gap - m.allowed_mm - stray)
    return worst


def _meetings(member: Member, way: Assembled) -> Iterator[_Meeting]:
    """Every two holes of a bolt, with how far they may be apart as drawn."""
    parts = member.connected.parts
    for labels in way.bolts:
        there = [k for k, x in enumerate(labels) if x]
        for place, k in enumerate(there):
            for j in there[place + 1 :]:
                yield _meeting(member, labels, (k, j), (parts[k], parts[j]))


def _meeting(member: Member, labels: Labels, at: tuple[int, int], names: tuple[str, str]) -> _Meeting:
    of = kind_of(member.connected, labels)
    one, other = (next(h for h in of.plies[k].holes if h.label == labels[k]) for k in at)
    between: Fastening = of.between(*at)
    ends = (0, len(of.plies) - 1)
    joint = of.joint if at == ends or of.joint == "through" else "through"
    allowed = float(take_up_mm(joint, one.diameter_mm / 2, other.diameter_mm / 2, between.fastener_mm))
    return _Meeting(*names, one.core, other.core, max(0.0, allowed))


def _mid(core: Sequence[Point]) -> Point:
    return (core[0][0] + core[-1][0]) / 2, (core[0][1] + core[-1][1]) / 2


def _long(core: Sequence[Point]) -> float:
    return math.dist(core[0], core[-1]) / 2
