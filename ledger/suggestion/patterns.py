"""Plates and their patterns: the holes of one size in one plate, as they could take one fastener."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.domain.shape import Hole, Profile
from ledger.fit.chance import FEWEST
from ledger.fit.layout import Plane

ONE_SIZE_MM: Final = 0.15  # holes that differ by more are for different fasteners, or for something else
SAGITTA_MM: Final = 0.05
LARGEST_MM: Final = 45.0  # a coarse hole for M42; what is wider is a bore


@dataclass(frozen=True, slots=True)
class Plate:
    """A part with what was read of its drawing; its lengths in inches or not."""

    name: str
    profile: Profile

    @property
    def inch(self) -> bool:
        """Whether it was drawn in inches."""
        return self.profile.unit_used.startswith("in")


@dataclass(frozen=True, slots=True)
class Pattern:
    """The holes of one size in a plate, by its place in the list of plates; `among` so many holes of any size."""

    plate: int
    holes: tuple[Hole, ...]
    points: Plane
    among: int

    @property
    def diameter_mm(self) -> float:
        """The size of most of them: the middle one."""
        return self.holes[len(self.holes) // 2].diameter_mm


def patterns_of(place: int, plate: Plate) -> Iterator[Pattern]:
    """The patterns of a plate with at least three holes, none over two outlines; holes at one place count once."""
    pieces: dict[int, list[Hole]] = {}
    for hole, piece in zip(plate.profile.holes, _pieces(plate.profile), strict=True):
        pieces.setdefault(piece, []).append(hole)
    for holes in pieces.values():
        some: list[Hole] = []
        for hole in sorted(holes, key=lambda h: (h.diameter_mm, h.centre)):
            if hole.diameter_mm > LARGEST_MM:
                break
            if some and hole.diameter_mm - some[-1].diameter_mm > ONE_SIZE_MM:
                yield from _pattern(place, some, len(holes))
                some = []
            some.append(hole)
        yield from _pattern(place, some, len(holes))


def _pieces(profile: Profile) -> list[int]:
    """For each hole the smallest outline in which it lies; -1 for none, and where there is but one outline."""
    if len(profile.outlines) <= 1 or not profile.holes:
        return [-1] * len(profile.holes)
    from shapely import points
    from shapely.geometry import Polygon

    places = points([h.centre for h in profile.holes])
    found = np.full(len(profile.holes), -1)
    order = sorted(range(len(profile.outlines)), key=lambda k: -abs(profile.outlines[k].area_mm2))
    for k in order:
        found[Polygon(profile.outlines[k].flattened(SAGITTA_MM)).buffer(0).contains(places)] = k
    return [int(k) for k in found]


def _pattern(place: int, holes: list[Hole], among: int) -> Iterator[Pattern]:
    apart = list({(round(h.centre[0], 3), round(h.centre[1], 3)): h for h in holes}.values())
    if len(apart) >= FEWEST:
        yield Pattern(place, tuple(apart), np.array([complex(*h.centre) for h in apart]), among)
