"""What a fit of three and more plies is given, and what it answers. All lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ledger.domain.pose import Pose
from ledger.domain.shape import Point
from ledger.fit.case import Fit, Flip, Ply
from ledger.fit.joint import Joint

Labels = tuple[str | None, ...]


@dataclass(frozen=True, slots=True)
class StackCase:
    """Plies from first to last, one fastener size and joint. `flip` speaks of the first ply."""

    plies: tuple[Ply, ...]
    fastener_mm: float
    largest_fastener_mm: float
    joint: Joint = "through"
    flip: Flip = "no"


@dataclass(frozen=True, slots=True)
class Blamed:
    """
    A bolt without which the rest goes together, with `margin_mm` to spare.

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

    `pairs` holds the fit of every other ply on the ground. NO-GO of a pair is the stack's; then there are no poses.
    `blamed` are bolts of which one alone is in the way, those first that leave the most room.
    """

    verdict: Literal["GO", "NO-GO"]
    ground: int
    pairs: tuple[tuple[int, Fit], ...]
    margin_mm: float | None = None
    worst_case_margin_mm: float | None = None
    poses: tuple[Pose, ...] = ()
    bolts: tuple[Labels, ...] = ()
    tightest: Labels = ()
    blamed: tuple[Blamed, ...] = ()
    proven: bool = False
    notes: tuple[str, ...] = ()
