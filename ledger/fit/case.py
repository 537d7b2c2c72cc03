"""
What a hole-pattern comparison is given, and what it answers. All lengths in mm, all numbers checked to be finite.

A *candidate* is a hole that could take the fastener: by its size, or because its ply's group is *declared*.
A *pair* is two candidates, one of each ply, that the fastener goes through. A *wrong* hole is *displaced* from its
counterpart (kind "offset") or *too small* for the fastener. *Unmatched* candidates have no counterpart.
Nominal: sizes as drawn. Worst case: smallest holes, largest fastener, position tolerances.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final, Literal

from ledger.domain.errors import BadInput, visible
from ledger.domain.joint import Joint
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole, Point
from ledger.fit.certificate import Proof
from ledger.fit.guide import Guide

TurnedOver = Literal["no", "yes", "either"]
Kind = Literal["offset", "too small"]
Verdict = Literal["GO", "NO-GO"]
MOST_WAYS: Final = 48
WAYS_UP: Final[dict[TurnedOver, tuple[bool, ...]]] = {"no": (False,), "yes": (True,), "either": (False, True)}


@dataclass(frozen=True, slots=True)
class Ply:
    """
    One side. `declared`: these holes are the group, whatever their size; the fastener must pass all the same.

    `position_mm` is the diametral position tolerance, `shrink_mm` how much smaller in diameter a hole may come out; of
    that every hole loses `coat_mm`. Half of `position_mm` is so many `sigmas` of a hole's place on x and on y.
    `outline` is the plate's own where it is known, `others` the labels of holes that are for something else, as stated:
    they may find no counterpart.
    """

    holes: tuple[Hole, ...]
    declared: bool = False
    position_mm: float = 0.0
    shrink_mm: float = 0.0
    coat_mm: float = 0.0
    sigmas: float = 3.0
    outline: Contour | None = None
    others: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Fastening:
    """What one size of fastener joins in one way: the holes of the two plies that take it, and the joint."""

    a: Ply
    b: Ply
    fastener_mm: float
    largest_fastener_mm: float
    joint: Joint = "through"

    def check(self) -> None:
        """Raise BadInput unless every number is finite and every size makes sense."""
        for name, value in (("fastener", self.fastener_mm), ("largest fastener", self.largest_fastener_mm)):
            _require(name, value, positive=True)
        for side, ply in (("A", self.a), ("B", self.b)):
            _require(f"position tolerance of {side}", ply.position_mm)
            _require(f"hole shrinkage of {side}", ply.shrink_mm)
            for hole in ply.holes:
                name = f"hole {visible(hole.label)} of {side}"
                _require(f"diameter of {name}", hole.diameter_mm, positive=True)
                if len(hole.core) not in (1, 2) or not all(math.isfinite(x) for p in hole.core for x in p):
                    raise BadInput(f"{name} needs one finite center, or two for a slot; read {hole.core}")

    @property
    def declared(self) -> bool:
        """Whether both groups are named."""
        return self.a.declared and self.b.declared

    @property
    def thicker_mm(self) -> float:
        """How much thicker than nominal the fastener may be; a worst case is never better than nominal."""
        return max(0.0, self.largest_fastener_mm - self.fastener_mm)


@dataclass(frozen=True, slots=True)
class PatternCase:
    """
    Two plies and the joint. `also` are fasteners of other sizes or joints in the same plies, with holes of their own.

    `position` is a stated pose of A on B, which is judged and not improved, or a `Guide` along which A can still move;
    of several the best counts.
    """

    a: Ply
    b: Ply
    fastener_mm: float
    largest_fastener_mm: float
    joint: Joint = "through"
    turned_over: TurnedOver = "no"
    position: Pose | Guide | tuple[Pose | Guide, ...] | None = None
    also: tuple[Fastening, ...] = ()

    @property
    def places(self) -> tuple[Pose | Guide, ...]:
        """Where A may lie on B; empty where the holes decide."""
        if self.position is None:
            return ()
        return self.position if isinstance(self.position, tuple) else (self.position,)

    @property
    def fastenings(self) -> tuple[Fastening, ...]:
        """The first one and the others."""
        first = Fastening(self.a, self.b, self.fastener_mm, self.largest_fastener_mm, self.joint)
        return (first, *self.also)

    def check(self) -> None:
        """Raise BadInput unless every number is finite, every size makes sense and no hole takes two fasteners."""
        for fastening in self.fastenings:
            fastening.check()
        for side in ("a", "b"):
            labels = [h.label for f in self.fastenings for h in getattr(f, side).holes]
            twice = sorted({x for x in labels if labels.count(x) > 1}) if self.also else []
            if twice:
                raise BadInput(f"hole {visible(twice[0])} of {side.upper()} is named for two fasteners")
        for place in self.places:
            if not all(map(math.isfinite, _stated(place))):
                raise BadInput(f"the position must be finite; read {_stated(place)}")


@dataclass(frozen=True, slots=True)
class Pair:
    """Hole `a` of A and `b` of B, that the fastener passes: offset of the cores, what the joint allows, the rest."""

    a: str
    b: str
    offset_mm: float
    allowed_mm: float
    margin_mm: float


@dataclass(frozen=True, slots=True)
class Wrong:
    """
    A hole and its counterpart that do not go together; two drawings cannot say which of them errs.

    `move_a_mm` brings A's hole onto B's, in A's coordinates; `move_b_mm` brings B's onto A's, in B's coordinates.
    `allowed_mm` of a hole that is too small is negative: what its radius lacks.
    """

    a: str
    b: str
    kind: Kind
    offset_mm: float
    allowed_mm: float
    move_a_mm: Point
    move_b_mm: Point


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which all fasteners go in: where A lies, the margin there, which hole of A meets which of B."""

    pose: Pose
    margin_mm: float
    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Rival:
    """Another pose that explains the holes better: so many pass, these are off, by so much at most."""

    pose: Pose
    passing: int
    off: tuple[tuple[str, str], ...]
    most_mm: float

    def told(self) -> str:
        """The pose with what agrees in it, in words."""
        over = "turned over, " if self.pose.turned_over else ""
        of = self.passing + len(self.off)
        agree = f"{self.passing} of {of} holes agree" if self.off else f"all {of} holes agree"
        off = "1 is off" if len(self.off) == 1 else f"{len(self.off)} are off"
        rest = f" and {off} by up to {self.most_mm:.2f} mm" if self.off else ""
        where = f"turned {self.pose.angle_deg:.4f} deg, moved ({self.pose.x_mm:.3f}, {self.pose.y_mm:.3f}) mm"
        return f"{over}{where}: {agree}{rest}"


@dataclass(frozen=True, slots=True)
class Fit:
    """
    The answer. GO: nominal margin >= 0, no wrong hole, in declared groups no unmatched one, none left over on both.

    `margin_mm` is over pairs and wrong holes together in the pose that is best for all of them, so negative when a
    hole is wrong; `pose` is the one that the pairs fix. `worst_case_margin_mm` is never above it and is negative,
    too, where a hole may come out too small. `ways` counts pairings and ways up that go together, 0 in a NO-GO.
    `assemblies` lists these ways, the shown one first, at most `MOST_WAYS` of them.
    `left_over` are the unmatched holes of A and of B where both plates have some and lie over each other.
    `rival` is a pose that explains the holes better than the shown one, which then is no GO.
    `also_wrong` holds other smallest sets of wrong holes: "either these, or those". `proven`: no pose of this
    pairing has a larger margin, no smaller set of holes is wrong, and the search was not cut short.
    With the code `no_common_pattern` nothing is claimed: no margins, no pose, no lists, nothing proven.
    """

    verdict: Verdict
    margin_mm: float | None = None
    worst_case_margin_mm: float | None = None
    pose: Pose | None = None
    pairs: tuple[Pair, ...] = ()
    wrong: tuple[Wrong, ...] = ()
    unmatched_a: tuple[str, ...] = ()
    unmatched_b: tuple[str, ...] = ()
    left_over: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    ways: int = 0
    proven: bool = False
    tightest: tuple[str, str] | None = None
    also_wrong: tuple[tuple[Wrong, ...], ...] = ()
    notes: tuple[str, ...] = ()
    assemblies: tuple[Way, ...] = ()
    proof: Proof | None = field(default=None, repr=False, compare=False)  # of a free pose; for the checker
    rival: Rival | None = None
    code: str = ""  # no_common_pattern: a NO-GO of which nothing else is claimed


def _stated(position: Pose | Guide) -> tuple[float, ...]:
    if isinstance(position, Pose):
        return position.angle_deg, position.x_mm, position.y_mm
    return position.numbers


def _require(name: str, value: float, *, positive: bool = False) -> None:
    if not math.isfinite(value) or value < 0 or (positive and value <= 0):
        expected = "a finite number above 0" if positive else "a finite number not below 0"
        raise BadInput(f"{name} must be {expected}, in mm; read {value}")
