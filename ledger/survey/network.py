"""
A network: named points, *ties* (measured distances between two of them) and *marks* (measured coordinates).

It is flat (2D) or in space (3D). Distances alone fix a shape and nothing else, so a *datum* places it: the first
point at the origin, the second on +x, the third on the +y side, in space with those three in the plane z = 0.
Coordinates of enough points take its place. A *side* says on which hand of two points (left or right, going from
the first to the second, seen from above), or on which face of three (above: they turn left as seen from there), a
point lies: it settles what a mirror image would leave open. Everything is in mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from ledger.domain.errors import BadInput

MOST_POINTS = 200
MOST_TIES = 2000


@dataclass(frozen=True, slots=True)
class Tie:
    """A measured distance with its standard uncertainty, mm."""

    a: str
    b: str
    value_mm: float
    u_mm: float

    @property
    def words(self) -> str:
        """As people say it."""
        return f"{self.a} to {self.b}"


@dataclass(frozen=True, slots=True)
class Mark:
    """The measured coordinates of a point, each with the same standard uncertainty, mm."""

    point: str
    at_mm: tuple[float, ...]
    u_mm: float

    @property
    def words(self) -> str:
        """As people say it."""
        return f"the coordinates of {self.point}"


@dataclass(frozen=True, slots=True)
class Side:
    """On which side of two points (flat) or three points (in space) a point lies."""

    point: str
    hand: Literal[1, -1]
    of: tuple[str, ...]


@dataclass(frozen=True)
class Network:
    """Points in the order that the datum takes them; refuses with BadInput what no network is."""

    points: tuple[str, ...]
    ties: tuple[Tie, ...]
    marks: tuple[Mark, ...] = ()
    sides: tuple[Side, ...] = ()
    dim: Literal[2, 3] = 2

    def __post_init__(self) -> None:
        if len(self.points) > MOST_POINTS or len(self.ties) > MOST_TIES:
            raise BadInput(f"at most {MOST_POINTS} points and {MOST_TIES} distances in one network")
        if len(set(self.points)) != len(self.points):
            raise BadInput("two points of the network have the same name")
        known = set(self.points)
        for tie in self.ties:
            if tie.a == tie.b or not {tie.a, tie.b} <= known:
                raise BadInput(f"a distance joins two different points of the network: {tie.words}")
            _sound(tie.words, tie.value_mm, tie.u_mm)
            if not tie.value_mm > 0:
                raise BadInput(f"{tie.words} is not a distance: {tie.value_mm} mm")
        for mark in self.marks:
            if mark.point not in known or len(mark.at_mm) != self.dim:
                raise BadInput(f"{mark.words}: a point of this network needs {self.dim} coordinates")
            _sound(mark.words, *mark.at_mm, mark.u_mm)
        for side in self.sides:
            named = {side.point, *side.of}
            if len(side.of) != self.dim or len(named) != self.dim + 1 or not named <= known:
                raise BadInput(f"the side of {side.point} needs {self.dim} other points of the network")

    @cached_property
    def place_of(self) -> dict[str, int]:
        """The position of each point in the list."""
        return {name: k for k, name in enumerate(self.points)}

    @cached_property
    def readings(self) -> tuple[Tie | Mark, ...]:
        """Everything that was measured: ties, then marks."""
        return (*self.ties, *self.marks)


def _sound(words: str, *numbers: float) -> None:
    if not all(math.isfinite(n) for n in numbers):
        raise BadInput(f"{words} is not a number")
    if not numbers[-1] > 0:
        raise BadInput(f"{words} claims to be exact: enter how sure the reading is")


def without(network: Network, dropped: Sequence[int]) -> Network:
    """The same network without some of its readings, by their place in `readings`."""
    gone = set(dropped)
    count = len(network.ties)
    return Network(
        network.points,
        tuple(t for k, t in enumerate(network.ties) if k not in gone),
        tuple(m for k, m in enumerate(network.marks, count) if k not in gone),
        network.sides,
        network.dim,
    )
