"""
A connection case: a connection with every ply's part at the revision that counts.

Its fit and its placed outlines are worked out once and shared by the checks that need them.
"""

from __future__ import annotations

from dataclasses import MISSING, dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from ledger.domain.connection import Connection, Ply, Sides
from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.record import Part
from ledger.domain.required_odds import USUAL
from ledger.domain.shape import Hole

if TYPE_CHECKING:
    from ledger.fit.pattern import Fit, PatternCase
    from ledger.fit.ruling import Ruling
    from ledger.fit.stack import StackFit


_BOTH = 2
_EMPTY: dict[str, Any] = {f.name: f.default for f in fields(Part) if f.default is not MISSING}
_NO_MATTER_OF_CONNECTIONS: dict[str, Any] = {
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
            "unconnected",
        )
    },
}


@dataclass(frozen=True, slots=True)
class PlacedPly:
    """A ply with its part at the revision that counts; `interface` is its interface digest."""

    ply: Ply
    part: Part
    interface: str

    @property
    def holes(self) -> tuple[Hole, ...]:
        """
        The holes for the connection's own fastener: the group's, or every one that no other fastener goes through.
        """
        if self.part.group(self.ply.group) is not None:
            return self.holes_of(self.ply.group)
        taken = {h.label for name in self.ply.also for h in self.holes_of(name)}
        return tuple(h for h in self.part.holes if h.label not in taken)

    @property
    def others(self) -> frozenset[str]:
        """
        Holes that are for something else, as a group of another name says; none where the connection names a group.
        """
        return frozenset() if self.ply.group else self.part.grouped_apart_from(self.ply.also)

    @property
    def all_holes(self) -> tuple[Hole, ...]:
        """The holes for every fastener of the connection."""
        return (*self.holes, *(h for name in self.ply.also for h in self.holes_of(name)))

    def holes_of(self, group: str) -> tuple[Hole, ...]:
        """The holes of one group; none where the part has no such group."""
        named = self.part.group(group)
        found = (self.part.hole(label) for label in named.labels) if named else ()
        return tuple(h for h in found if h is not None)


@dataclass(frozen=True)
class ConnectionCase:
    """
    A connection with its plies at the revisions that count; of their parts only what connections may look at.

    The same whichever revision counts for what reason, and from whichever of its parts it is seen. `odds` are what the
    policy requires of holes that do not go together with every limit at once.
    """

    connection: Connection
    plies: tuple[PlacedPly, ...]
    odds: str = USUAL

    def __post_init__(self) -> None:
        plies = tuple(replace(p, part=replace(p.part, **_NO_MATTER_OF_CONNECTIONS)) for p in self.plies)
        object.__setattr__(self, "plies", plies)

    @property
    def revisions(self) -> tuple[tuple[str, str], ...]:
        """The revision of every part that is looked at: (number, revision), by number, each once."""
        return tuple(sorted({(p.part.number, p.part.revision) for p in self.plies}))

    def place_of(self, number: str) -> int | None:
        """Which ply is this part; None where it is none of them."""
        return next((n for n, p in enumerate(self.plies) if p.part.number == number), None)

    @cached_property
    def pattern(self) -> PatternCase | None:
        """What the fit of the first ply on the second is given; None where the connection has no bolts."""
        from ledger.cases.fitting import pattern_case

        return pattern_case(self)

    @cached_property
    def best_fit(self) -> Fit | None:
        """The fit of the first ply on the second; None where the connection has no bolts."""
        from ledger.cases.fitting import best_fit

        return best_fit(self)

    @cached_property
    def best_stack(self) -> StackFit | None:
        """The fit of three and more bolted plies at once; None for anything else."""
        from ledger.cases.fitting import stack_fit

        return stack_fit(self)

    @cached_property
    def ruling(self) -> Ruling | None:
        """What the one rule says of the fit of two plies, or of the stack; None where nothing was fitted."""
        from ledger.fit.ruling import rule, rule_stack

        if len(self.plies) > _BOTH:
            stack = self._stack_or_none
            return rule_stack(stack, self.odds) if stack else None
        found = self.best_fit  # None, too, where the pattern cannot be formed
        return rule(self.pattern, found, self.odds) if found and self.pattern else None

    @property
    def laid(self) -> tuple[Pose, ...] | None:
        """Where the plies lie, all in the coordinates of one of them: as stated, else as fitted; None where unknown."""
        if len(self.plies) == _BOTH:
            return (self.pose, Pose()) if self.pose else None
        stack = self._stack_or_none
        return stack.laid if stack else None

    @property
    def wrong(self) -> frozenset[tuple[int, str]]:
        """Ply and name of every hole that the fit finds in the way."""
        stack = self._stack_or_none
        if stack is not None:
            return stack.wrong
        fit = self.best_fit
        return frozenset(x for w in fit.wrong for x in ((0, w.a), (1, w.b))) if fit else frozenset()

    @property
    def _stack_or_none(self) -> StackFit | None:
        try:
            return self.best_stack
        except BadInput:  # told by the alignment of the holes
            return None

    @cached_property
    def pose(self) -> Pose | None:
        """Where the first ply lies on the second: as stated, else as fitted; None when neither is known."""
        if isinstance(self.connection.position, Pose):
            return self.connection.position
        if isinstance(self.connection.position, Sides) and self.connection.kind != "bolted":
            from ledger.cases.fitting import flush_pose

            return flush_pose(self)
        fit = self.best_fit
        return fit.pose if fit else None
