"""What a fit of three and more plies is given, and what it answers. All lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ledger.domain.errors import BadInput
from ledger.domain.joint import Joint
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole, Point
from ledger.fit.case import Fastening, Fit, PatternCase, Ply, TurnedOver

Labels = tuple[str | None, ...]
Pairs = tuple[tuple[int, Fit], ...]


@dataclass(frozen=True, slots=True)
class StackFastening:
    """One size of fastener with the holes of every ply that take it, and its joint."""

    plies: tuple[Ply, ...]
    fastener_mm: float
    largest_fastener_mm: float
    joint: Joint = "through"

    def room_mm(self, ply: int, hole: Hole, *, worst: bool) -> float:
        """Radius less half the fastener; in the worst case less what hole, fastener and position tolerance take."""
        room = (hole.diameter_mm - self.fastener_mm) / 2
        if not worst:
            return room
        thicker = max(0.0, self.largest_fastener_mm - self.fastener_mm)
        return room - (self.plies[ply].shrink_mm + thicker + self.plies[ply].position_mm) / 2

    def between(self, first: int, second: int) -> Fastening:
        """The same of two of the plies."""
        return Fastening(
            self.plies[first], self.plies[second], self.fastener_mm, self.largest_fastener_mm, self.joint
        )


@dataclass(frozen=True, slots=True)
class StackCase:
    """
    Plies from first to last, one fastener size and joint; *turned over* speaks of the first ply.

    `also` are fasteners of other sizes or joints in the same plies. `places` are the ways in which the plies may lie,
    each the pose of every ply on the last one; empty where the holes decide.
    """

    plies: tuple[Ply, ...]
    fastener_mm: float
    largest_fastener_mm: float
    joint: Joint = "through"
    turned_over: TurnedOver = "no"
    also: tuple[StackFastening, ...] = ()
    places: tuple[tuple[Pose, ...], ...] = ()

    @property
    def fastenings(self) -> tuple[StackFastening, ...]:
        """The first one and the others."""
        return (
            StackFastening(self.plies, self.fastener_mm, self.largest_fastener_mm, self.joint),
            *self.also,
        )

    @property
    def ground(self) -> int:
        """The ply that the others are paired with. Raises BadInput where the fasteners need different ones."""
        grounds = {0 if f.joint == "countersunk" else len(self.plies) - 1 for f in self.fastenings}
        if len(grounds) > 1:
            raise BadInput(
                "countersunk fasteners and others in one stack: the first part centers on the ones, the last holds "
                "the others; fit them in connections of their own"
            )
        return grounds.pop()

    @property
    def others(self) -> tuple[int, ...]:
        """Every ply but the ground."""
        return tuple(k for k in range(len(self.plies)) if k != self.ground)

    def pair(self, k: int, of: tuple[StackFastening, ...] = (), position: Pose | None = None) -> PatternCase:
        """Ply k and the ground with these fasteners, else with all; `position` lays k on the ground."""
        first, second = (self.ground, k) if self.ground == 0 else (k, self.ground)
        own, *also = (f.between(first, second) for f in of or self.fastenings)
        place = position.back if position is not None and self.ground == 0 else position
        return PatternCase(
            own.a, own.b, own.fastener_mm, own.largest_fastener_mm, own.joint,
            self.turned_over if 0 in (first, second) else "no", position=place, also=tuple(also),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Blamed:
    """
    A bolt without which the rest goes together, with a margin of `margin_mm`.

    `moves_mm` brings a ply's hole to where the other plies leave the most room, in that ply's coordinates. Where no
    ply can mend it alone, `together` is set and the moves bring all holes of the bolt to their common middle.
    """

    holes: Labels
    margin_mm: float
    moves_mm: tuple[Point | None, ...]
    together: bool = False


@dataclass(frozen=True, slots=True)
class StackFit:
    """
    The answer. `poses` lay every ply on the `ground` ply; `bolts` name each bolt's hole in every ply.

    `pairs` holds the fit of every other ply on the ground; NO-GO of a pair is the stack's. `blamed` are bolts of which
    one alone is in the way, those first that leave the most room; in a `position` stack every one is.
    """

    verdict: Literal["GO", "NO-GO"]
    ground: int
    pairs: Pairs
    margin_mm: float | None = None
    worst_case_margin_mm: float | None = None
    poses: tuple[Pose, ...] = ()
    bolts: tuple[Labels, ...] = ()
    tightest: Labels = ()
    blamed: tuple[Blamed, ...] = ()
    proven: bool = False
    notes: tuple[str, ...] = ()
    position: bool = False

    @property
    def laid(self) -> tuple[Pose, ...] | None:
        """Where every ply lies on the ground: together, else as it would with the ground alone; None where unknown."""
        if self.poses:
            return self.poses
        alone = {k: f.pose.back if self.ground == 0 else f.pose for k, f in self.pairs if f.pose}
        alone[self.ground] = Pose()
        places = range(len({k for k, _ in self.pairs}) + 1)
        return tuple(alone[k] for k in places) if all(k in alone for k in places) else None

    @property
    def wrong(self) -> frozenset[tuple[int, str]]:
        """Ply and name of every hole that is in the way, or may be."""
        found = {(k, label) for b in self.blamed for k, label in enumerate(b.holes) if label}
        for k, pair in self.pairs:
            first, second = (self.ground, k) if self.ground == 0 else (k, self.ground)
            found |= {(first, w.a) for w in pair.wrong} | {(second, w.b) for w in pair.wrong}
        return frozenset(found)
