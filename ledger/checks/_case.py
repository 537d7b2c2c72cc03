"""
Cases: what a check is given to look at.

A *part case* is one revision of a part. A *mate case* is a mate with every ply's part at the revision that
counts; its fit and its placed outlines are worked out once and shared by the checks that need them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from ledger.domain.pose import Pose
from ledger.domain.record import Mate, Part, Ply, Sides, Standing
from ledger.domain.shape import Hole

if TYPE_CHECKING:
    from ledger.fit.pattern import Fit, PatternCase
    from ledger.fit.stack import StackFit


@dataclass(frozen=True, slots=True)
class PartCase:
    """
    A part, the names of the mates it is in, its twin of the opposite hand, and the set it is judged in.

    `others` are parts that it could be taken for, nearest first; so many more were left out as `others_left` says.
    """

    part: Part
    mates: tuple[str, ...] = ()
    twin: Part | None = None
    others: tuple[Part, ...] = ()
    others_left: int = 0
    together: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedPly:
    """A ply with its part; `standing` says which revision counts and why; `face` is its face digest."""

    ply: Ply
    part: Part
    standing: Standing
    face: str

    @property
    def holes(self) -> tuple[Hole, ...]:
        """The holes for the mate's own fastener: the group's, or every one that no other fastener goes through."""
        if self.part.group(self.ply.group) is not None:
            return self.holes_of(self.ply.group)
        taken = {h.label for name in self.ply.also for h in self.holes_of(name)}
        return tuple(h for h in self.part.holes if h.label not in taken)

    @property
    def all_holes(self) -> tuple[Hole, ...]:
        """The holes for every fastener of the mate."""
        return (*self.holes, *(h for name in self.ply.also for h in self.holes_of(name)))

    def holes_of(self, group: str) -> tuple[Hole, ...]:
        """The holes of one group; none where the part has no such group."""
        named = self.part.group(group)
        found = (self.part.hole(label) for label in named.labels) if named else ()
        return tuple(h for h in found if h is not None)


@dataclass(frozen=True)
class MateCase:
    """
    A mate with its plies at the revisions that count.

    `neighbours` gives the other mates of its parts. They only serve hints and warnings: what a mate's digest names is
    the mate and its faces.
    """

    mate: Mate
    plies: tuple[PlacedPly, ...]
    viewed_from: str = field(default="")
    neighbours: Callable[[], tuple[MateCase, ...]] = field(default=tuple, repr=False, compare=False)

    @cached_property
    def pattern(self) -> PatternCase | None:
        """What the fit of the first ply on the second is given; None where the mate has no bolts."""
        from ledger.checks._fitting import pattern_case

        return pattern_case(self)

    @cached_property
    def best_fit(self) -> Fit | None:
        """The fit of the first ply on the second; None where the mate has no bolts."""
        from ledger.checks._fitting import best_fit

        return best_fit(self)

    @cached_property
    def best_stack(self) -> StackFit | None:
        """The fit of three and more bolted plies at once; None for anything else."""
        from ledger.checks._fitting import stack_fit

        return stack_fit(self)

    @cached_property
    def pose(self) -> Pose | None:
        """Where the first ply lies on the second: as stated, else as fitted; None when neither is known."""
        if isinstance(self.mate.located, Pose):
            return self.mate.located
        if isinstance(self.mate.located, Sides) and self.mate.kind != "bolted":
            from ledger.checks._fitting import flush_pose

            return flush_pose(self)
        fit = self.best_fit
        return fit.pose if fit else None
