"""
Cases: what a check is given to look at.

A *part case* is one revision of a part. A *mate case* is a mate with every ply's part at the revision that
counts; its fit and its placed outlines are worked out once and shared by the checks that need them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from ledger.domain.pose import Pose
from ledger.domain.record import Mate, Part, Ply, Question, Standing
from ledger.domain.shape import Hole

if TYPE_CHECKING:
    from ledger.fit.pattern import Fit, PatternCase
    from ledger.fit.stack import StackFit


@dataclass(frozen=True, slots=True)
class PartCase:
    """
    A part, the names of the mates it is in, its twin of the opposite hand, and the set it is judged in.

    `blocking` are open questions about other parts that block it; `late` are the days that questions are past.
    """

    part: Part
    mates: tuple[str, ...] = ()
    twin: Part | None = None
    together: tuple[str, ...] = ()
    blocking: tuple[tuple[str, Question], ...] = ()
    late: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedPly:
    """A ply with its part; `standing` says which revision counts and why; `face` is its face digest."""

    ply: Ply
    part: Part
    standing: Standing
    face: str

    @property
    def holes(self) -> tuple[Hole, ...]:
        """The holes that this mate speaks of: the group's, or every one."""
        group = self.part.group(self.ply.group)
        if group is None:
            return self.part.holes
        found = (self.part.hole(label) for label in group.labels)
        return tuple(h for h in found if h is not None)


@dataclass(frozen=True)
class MateCase:
    """A mate with its plies at the revisions that count."""

    mate: Mate
    plies: tuple[PlacedPly, ...]
    viewed_from: str = field(default="")

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
        if self.mate.located is not None:
            return self.mate.located
        fit = self.best_fit
        return fit.pose if fit else None
