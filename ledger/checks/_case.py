"""
Cases: what a check is given to look at.

A *part case* is one revision of a part. A *mate case* is a mate with every ply's part at the revision that
counts; its fit and its placed outlines are worked out once and shared by the checks that need them.
"""

from __future__ import annotations

from dataclasses import MISSING, dataclass, field, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from ledger.domain.pose import Pose
from ledger.domain.record import Mate, Part, Ply, Standing
from ledger.domain.shape import Hole

if TYPE_CHECKING:
    from ledger.fit.pattern import Fit, PatternCase
    from ledger.fit.stack import StackFit


_EMPTY: dict[str, Any] = {f.name: f.default for f in fields(Part) if f.default is not MISSING}
_NO_MATTER_OF_MATES: dict[str, Any] = {
    "title": "",
    **{
        name: _EMPTY[name]
        for name in (
            "note",
            "dimensions",
            "questions",
            "quantity",
            "per_assembly",
            "assemblies",
            "spares",
            "stands_alone",
        )
    },
}


@dataclass(frozen=True, slots=True)
class PartCase:
    """
    A part, the names of the mates it is in, its twin of the opposite hand.

    `others` are parts that it could be taken for, nearest first; so many more were left out as `others_left` says.
    """

    part: Part
    mates: tuple[str, ...] = ()
    twin: Part | None = None
    others: tuple[Part, ...] = ()
    others_left: int = 0

    def shown(self, besides: tuple[str, ...], apart_from: tuple[str, ...]) -> PartCase:
        """The case as a check sees it that declares these: `others` only on demand, no field that it does without."""
        part = replace(self.part, **{name: _EMPTY[name] for name in apart_from}) if apart_from else self.part
        if "others" in besides:
            return replace(self, part=part)
        return replace(self, part=part, others=(), others_left=0)


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
class Spanning:
    """Two bolted mates across a weld: one welded part each, and in each the same third part, which they are held by."""

    first: MateCase
    second: MateCase
    third: str

    @property
    def through(self) -> PlacedPly:
        """The third part in the first mate."""
        return next(p for p in self.first.plies if p.part.number == self.third)

    @property
    def through_second(self) -> PlacedPly:
        """The third part in the second mate."""
        return next(p for p in self.second.plies if p.part.number == self.third)


@dataclass(frozen=True)
class MateCase:
    """
    A mate with its plies at the revisions that count; of their parts only what mates may look at.

    `spanning`, of a weld: the pairs of bolted mates that hold a third part from both sides of it.
    """

    mate: Mate
    plies: tuple[PlacedPly, ...]
    viewed_from: str = field(default="")
    spanning: tuple[Spanning, ...] = ()

    def __post_init__(self) -> None:
        plies = tuple(replace(p, part=replace(p.part, **_NO_MATTER_OF_MATES)) for p in self.plies)
        object.__setattr__(self, "plies", plies)

    def shown(self, besides: tuple[str, ...], apart_from: tuple[str, ...]) -> MateCase:
        """The case as a check sees it that declares these: which revision counts, and from where, only on demand."""
        if apart_from:
            raise ValueError(f"a check of mates sees whole parts, not parts without {apart_from}")
        return self if "standing" in besides else self._anyhow

    @cached_property
    def noted(self) -> dict[str, str]:
        """Room for what is worked out of this case once, such as its digest."""
        return {}

    def shares(self, twin: MateCase) -> None:
        """Take over what was worked out of the same mate with the same revisions, seen from the other side."""
        self.__dict__["_anyhow"] = twin.shown((), ())

    @cached_property
    def _anyhow(self) -> MateCase:
        """The case whatever revision counts for what reason, seen from either side: its fit is worked out once."""
        if not self.viewed_from and all(p.standing == "in the set" for p in self.plies):
            return self
        plies = tuple(replace(p, standing="in the set") for p in self.plies)
        return replace(self, plies=plies, viewed_from="")

    @cached_property
    def pattern(self) -> PatternCase | None:
        """What the fit of the first ply on the second is given; None where the mate has no bolts."""
        from ledger.checks._fitting import pattern_case

        return pattern_case(self) if self is self._anyhow else self._anyhow.pattern

    @cached_property
    def best_fit(self) -> Fit | None:
        """The fit of the first ply on the second; None where the mate has no bolts."""
        from ledger.checks._fitting import best_fit

        return best_fit(self) if self is self._anyhow else self._anyhow.best_fit

    @cached_property
    def best_stack(self) -> StackFit | None:
        """The fit of three and more bolted plies at once; None for anything else."""
        from ledger.checks._fitting import stack_fit

        return stack_fit(self) if self is self._anyhow else self._anyhow.best_stack

    @cached_property
    def pose(self) -> Pose | None:
        """Where the first ply lies on the second: as stated, else as fitted; None when neither is known."""
        if self.mate.located is not None:
            return self.mate.located
        fit = self.best_fit
        return fit.pose if fit else None
