"""
How much two plates differ that lie on each other as well as they go, as drawn or turned over.

*Reach* is the distance from the middle of the outline's area to its farthest point. A *likeness* are the few figures
that no turn changes: holes, openings, area and length of the outline, reach. Where two of them lie farther apart than
plates can that differ by less than a limit, nothing else needs to be looked at.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Profile

_FIGURES = 5
_ROUNDING_MM = 0.01  # of a likeness that was written down, and of flattened arcs


@dataclass(frozen=True, slots=True)
class Likeness:
    """Figures of a plate that no turn changes, in mm and mm2."""

    holes: int
    openings: int
    area_mm2: float
    length_mm: float
    reach_mm: float

    @property
    def written(self) -> str:
        """The figures as text; `read_likeness` reads them."""
        return f"{self.holes} {self.openings} {self.area_mm2:.2f} {self.length_mm:.3f} {self.reach_mm:.3f}"

    def may_be_within(self, other: Likeness, limit_mm: float) -> bool:
        """
        Whether two plates may differ by no more than a limit; False only where they cannot.

        A region that lies within r of another has at most its area, r times its length and pi r^2 (Steiner).
        """
        if (self.holes, self.openings) != (other.holes, other.openings):
            return False
        room = limit_mm + _ROUNDING_MM
        most = room * max(self.length_mm, other.length_mm) + math.pi * room * room
        return abs(self.reach_mm - other.reach_mm) <= room and abs(self.area_mm2 - other.area_mm2) <= most


@dataclass(frozen=True, slots=True)
class Difference:
    """The most that two plates differ by anywhere, at the best turn found, and whether one was turned over."""

    most_mm: float
    turned_over: bool


def likeness_of(profile: Profile) -> Likeness | None:
    """The likeness of a plate; None without an outline."""
    outline = profile.outline
    if outline is None:
        return None
    from ledger.fit.mirroring import SAGITTA_MM, middle_of

    middle = middle_of(profile)
    reach = max(math.dist(p, middle) for p in outline.flattened(SAGITTA_MM))
    return Likeness(
        len(profile.holes), len(profile.openings), abs(outline.area_mm2), outline.length_mm, reach
    )


def read_likeness(text: str) -> Likeness | None:
    """The likeness that was written down; None for anything else."""
    words = text.split()
    if len(words) != _FIGURES:
        return None
    try:
        return Likeness(int(words[0]), int(words[1]), *(float(w) for w in words[2:]))
    except ValueError:
        return None


def difference(one: Profile, other: Profile, *, limit_mm: float, same_mm: float) -> Difference:
    """
    How much two plates with outlines differ: lines and hole rims, overall size, diameters of holes.

    Looked for until they differ by no more than `same_mm`. Beyond `limit_mm` it is only known to be beyond.
    """
    sizes = _diameters_apart(one, other)
    best = Difference(math.inf, turned_over=False)
    if not sizes <= limit_mm:
        return best
    from ledger.fit.mirroring import apart_mm, poses

    for turned_over in (False, True):
        for pose in poses(one, other, turned_over=turned_over, near_mm=limit_mm):
            apart = apart_mm(one, other, pose, near_mm=limit_mm, most_mm=min(best.most_mm, limit_mm))
            most = max(sizes, apart, _boxes_apart(one, other, pose))
            if most < best.most_mm:
                best = Difference(most, turned_over)
            if best.most_mm <= same_mm:
                return best
    return best


def _diameters_apart(one: Profile, other: Profile) -> float:
    ours, theirs = (sorted(h.diameter_mm for h in p.holes) for p in (one, other))
    if len(ours) != len(theirs):
        return math.inf
    return max((abs(a - b) for a, b in zip(ours, theirs, strict=True)), default=0.0)


def _boxes_apart(one: Profile, other: Profile, pose: Pose) -> float:
    """How much the overall sizes differ, with the first one as it lies."""
    if one.outline is None or other.outline is None:
        return math.inf
    (wide, high), (w, h) = (_size(pose.place_contour(one.outline)), _size(other.outline))
    return max(abs(wide - w), abs(high - h))


def _size(contour: Contour) -> tuple[float, float]:
    low_x, low_y, high_x, high_y = contour.box
    return (high_x - low_x, high_y - low_y)
