"""
Which holes are wrong: the smallest sets of pairs without which the rest goes together.

Two pairs *conflict* when their distances on the two plates differ by more than both take up: they cannot both pass.
Cores of slots lie from a least to a greatest distance apart; those of the two plates must come that near each other.
Beyond that the solver's certificates name a handful of pairs that cannot all pass. In every such *core* at least one
pair is wrong, so trying each in turn finds all smallest sets, and finds that there is no smaller one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.effort import Effort
from ledger.fit.joint import TOUCH_MM, Real
from ledger.fit.layout import Layout, Plane, between, gaps
from ledger.fit.minimax import best_pose, margin_at
from ledger.fit.pose_choice import least_squares

MOST_SOLVES: Final = 400
MOST_STEPS: Final = 20_000
MOST_WORK: Final = 2e8  # pairs of pairs looked at: about a second
Removed = frozenset[int]


@dataclass(frozen=True, slots=True)
class Smallest:
    """The smallest sets of wrong pairs; `proven` when no smaller one exists and none of this size is left out."""

    sets: tuple[tuple[int, ...], ...]
    proven: bool


@dataclass(slots=True)
class _Tree:
    layout: Layout
    conflict: npt.NDArray[np.bool_]
    seen: set[Removed] = field(default_factory=set)
    cores: dict[Removed, tuple[int, ...]] = field(default_factory=dict)
    sets: set[Removed] = field(default_factory=set)
    effort: Effort = field(default_factory=Effort)
    solves: int = 0
    steps: int = 0

    @property
    def tired(self) -> bool:
        """Whether the search has cost enough; a step looks at every pair of pairs."""
        work = self.steps * len(self.layout.c) ** 2
        return self.effort.spent or self.solves > MOST_SOLVES or self.steps > MOST_STEPS or work > MOST_WORK

    def passes(self, keep: list[int]) -> tuple[int, ...]:
        """As passes below, with the looks counted."""
        self.solves += 1
        return passes(self.layout, keep, self.effort)


def smallest_wrong(layout: Layout, most: int, effort: Effort | None = None) -> Smallest | None:
    """
    The smallest sets of pairs to take out so that the rest passes; at least one pair is kept.

    None when more than `most` pairs would have to go, or where the search ends before it finds fewer (it is `short`).
    """
    effort = effort or Effort()
    tree = _Tree(layout, conflicts(layout), effort=effort)
    most = min(most, len(layout.c) - 1)
    fewest = fewest_out(tree.conflict)
    if fewest > most:
        return None
    for size in range(fewest, most + 1):
        tree.seen.clear()
        _descend(tree, frozenset(), size)
        if tree.tired:
            break
        if tree.sets:
            return Smallest(tuple(sorted(tuple(sorted(s)) for s in tree.sets)), proven=True)
    some = tree.sets or {_greedy(tree)}
    few = [tuple(sorted(s)) for s in some if len(s) <= most]
    effort.short |= tree.tired and not few
    return Smallest(tuple(sorted(few)), proven=False) if few and tree.tired else None


def passes(layout: Layout, keep: list[int], effort: Effort | None = None) -> tuple[int, ...]:
    """Pairs that cannot all pass, out of those kept; none when they all pass in one pose."""
    part = layout.only(keep)
    level = -max(layout.tolerance / 2, TOUCH_MM / layout.reach_mm)
    start = least_squares(part)
    if margin_at(part, *start) >= level:
        return ()
    best = best_pose(part, start[0], floor=level, enough=level)
    if effort:
        effort.take(best.evaluations, slotted=layout.slotted)
    if best.margin >= level:
        return ()
    named = {k for certificate in best.certificates for k in certificate.pairs}
    return tuple(keep[k] for k in sorted(named))


def conflicts(layout: Layout) -> npt.NDArray[np.bool_]:
    """Pairs of pairs that cannot both pass, whatever else does."""
    (near_a, far_a), (near_b, far_b) = (
        _apart(z, half) for z, half in ((layout.a, layout.ha), (layout.b, layout.hb))
    )
    touch = max(layout.tolerance, 2 * TOUCH_MM / layout.reach_mm)
    found = np.maximum(near_a - far_b, near_b - far_a) > layout.c[:, None] + layout.c[None, :] + touch
    np.fill_diagonal(found, val=False)
    return np.asarray(found)


def _apart(middles: Plane, halves: Plane) -> tuple[Real, Real]:
    """The least and the greatest distance between the points of every two cores of a plate."""
    v = middles[:, None] - middles[None, :]
    if not halves.any():
        return np.abs(v), np.abs(v)
    one, two = np.broadcast_to(halves[:, None], v.shape), np.broadcast_to(halves[None, :], v.shape)
    near = np.abs(between(v.ravel(), one.ravel(), two.ravel())).reshape(v.shape)
    far = np.max([np.abs(v + p * one + q * two) for p in (1, -1) for q in (1, -1)], axis=0)
    return near, np.asarray(far)


def _descend(tree: _Tree, removed: Removed, left: int) -> None:
    """Take out one pair of a core after the other, at most `left` more."""
    tree.steps += 1
    if removed in tree.seen or tree.tired:
        return
    tree.seen.add(removed)
    forced = _forced(tree, removed, left)
    if forced is None:
        return
    if forced:
        _descend(tree, removed | forced, left - len(forced))
        return
    keep = np.array([k for k in range(len(tree.layout.c)) if k not in removed])
    if not len(keep) or fewest_out(tree.conflict[np.ix_(keep, keep)]) > left:
        return
    core = _core(tree, removed, keep)
    if not core:
        tree.sets.add(removed)
    elif left:
        for k in core:
            _descend(tree, removed | {k}, left - 1)


def _forced(tree: _Tree, removed: Removed, left: int) -> Removed | None:
    """
    Pairs that every set of at most `left` more must hold: kept, each would cost all the pairs that it conflicts with.

    None where there are more of them than may go.
    """
    open_ones = np.ones(len(tree.layout.c), dtype=bool)
    open_ones[list(removed)] = False
    degree = (tree.conflict & open_ones[None, :]).sum(axis=1)
    found = np.flatnonzero(open_ones & (degree > left))
    return None if len(found) > left else frozenset(found.tolist())


def _core(tree: _Tree, removed: Removed, keep: npt.NDArray[np.intp]) -> tuple[int, ...]:
    """A small set of pairs that cannot all pass; empty when all that are kept pass."""
    part = tree.conflict[np.ix_(keep, keep)]
    degree = part.sum(axis=1)
    if degree.any():
        one = int(degree.argmax())
        others = np.flatnonzero(part[one])
        other = int(others[degree[others].argmax()])
        return int(keep[one]), int(keep[other])
    if removed not in tree.cores:
        tree.cores[removed] = _shrunk(tree, [int(k) for k in keep])
    return tree.cores[removed]


def _shrunk(tree: _Tree, keep: list[int]) -> tuple[int, ...]:
    """A core of which every pair is needed."""
    core = list(tree.passes(keep))
    for k in tuple(core):
        if len(core) > 2 and not tree.tired:  # noqa: PLR2004 - a core of two that do not conflict is minimal
            without = tree.passes([x for x in core if x != k])
            core = [x for x in core if x in without] if without else core
    return tuple(core)


def fewest_out(conflict: npt.NDArray[np.bool_]) -> int:
    """
    A lower bound on how many must go: of pairs that all conflict with each other one can stay.

    They are dealt into such groups, each as large as it happens to grow.
    """
    free, groups = np.ones(len(conflict), dtype=bool), 0
    for k in np.argsort(conflict.sum(axis=1), kind="stable"):
        if free[k]:
            free[k] = False
            groups += 1
            others = conflict[k] & free
            while others.any():
                one = int(others.argmax())
                free[one] = False
                others &= conflict[one]
    return len(conflict) - groups


def _greedy(tree: _Tree) -> Removed:
    """Some set that leaves a passing rest, not surely the smallest: what is left out pair by pair at the worst spot."""
    keep = list(range(len(tree.layout.c)))
    removed: set[int] = set()
    while len(keep) > 1:
        degree = tree.conflict[np.ix_(keep, keep)].sum(axis=1)
        if degree.any():
            worst = keep[int(degree.argmax())]
        else:
            core = tree.passes(keep)
            if not core:
                break
            part = tree.layout.only(keep)
            off = np.abs(gaps(part, *least_squares(part)).gap) - part.c
            worst = max(core, key=lambda k: float(off[keep.index(k)]))
        keep.remove(worst)
        removed.add(worst)
    return frozenset(removed)
