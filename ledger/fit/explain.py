"""
Which holes are wrong: the smallest sets of pairs without which the rest goes together.

Two pairs *conflict* when their distances on the two plates differ by more than both swallow: they cannot both pass.
Beyond that the solver's certificates name a handful of pairs that cannot all pass. In every such *core* at least one
pair is wrong, so trying each in turn finds all smallest sets, and finds that there is no smaller one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.joint import TOUCH_MM
from ledger.fit.layout import Layout, gaps
from ledger.fit.minimax import best_pose
from ledger.fit.settle import least_squares

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
    solves: int = 0
    steps: int = 0

    @property
    def tired(self) -> bool:
        """Whether the search has cost enough; a step looks at every pair of pairs."""
        work = self.steps * len(self.layout.c) ** 2
        return self.solves > MOST_SOLVES or self.steps > MOST_STEPS or work > MOST_WORK


def smallest_wrong(layout: Layout, most: int) -> Smallest | None:
    """
    The smallest sets of pairs to take out so that the rest passes; at least one pair is kept.

    None when more than `most` pairs would have to go.
    """
    tree = _Tree(layout, _conflicts(layout))
    most = min(most, len(layout.c) - 1)
    fewest = _disjoint_conflicts(tree.conflict)
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
    return Smallest(tuple(sorted(few)), proven=False) if few and tree.tired else None


def passes(layout: Layout, keep: list[int]) -> tuple[int, ...]:
    """Pairs that cannot all pass, out of those kept; none when they all pass in one pose."""
    part = layout.only(keep)
    level = -max(layout.tolerance / 2, TOUCH_MM / layout.reach_mm)
    best = best_pose(part, least_squares(part)[0], floor=level, enough=level)
    if best.margin >= level:
        return ()
    named = {k for certificate in best.certificates for k in certificate.pairs}
    return tuple(keep[k] for k in sorted(named))


def _conflicts(layout: Layout) -> npt.NDArray[np.bool_]:
    """Pairs of pairs that cannot both pass; a slot's length counts as play."""
    play = layout.c + np.abs(layout.ha) + np.abs(layout.hb)
    apart_a = np.abs(layout.a[:, None] - layout.a[None, :])
    apart_b = np.abs(layout.b[:, None] - layout.b[None, :])
    touch = max(layout.tolerance, 2 * TOUCH_MM / layout.reach_mm)
    found = np.abs(apart_a - apart_b) > play[:, None] + play[None, :] + touch
    np.fill_diagonal(found, val=False)
    return np.asarray(found)


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
    if not len(keep) or _disjoint_conflicts(tree.conflict[np.ix_(keep, keep)]) > left:
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
    tree.solves += 1
    core = list(passes(tree.layout, keep))
    for k in tuple(core):
        if len(core) > 2 and not tree.tired:  # noqa: PLR2004 - a core of two that do not conflict is minimal
            tree.solves += 1
            without = passes(tree.layout, [x for x in core if x != k])
            core = [x for x in core if x in without] if without else core
    return tuple(core)


def _disjoint_conflicts(conflict: npt.NDArray[np.bool_]) -> int:
    """A lower bound: conflicts that share no pair each need one of their own taken out."""
    free, count = np.ones(len(conflict), dtype=bool), 0
    for k in np.argsort(conflict.sum(axis=1), kind="stable"):
        if free[k]:
            partners = np.flatnonzero(conflict[k] & free)
            if len(partners):
                free[k] = free[partners[0]] = False
                count += 1
    return count


def _greedy(tree: _Tree) -> Removed:
    """Some set that leaves a passing rest, not surely the smallest: what is left out pair by pair at the worst spot."""
    keep = list(range(len(tree.layout.c)))
    removed: set[int] = set()
    while len(keep) > 1:
        degree = tree.conflict[np.ix_(keep, keep)].sum(axis=1)
        if degree.any():
            worst = keep[int(degree.argmax())]
        else:
            core = passes(tree.layout, keep)
            if not core:
                break
            part = tree.layout.only(keep)
            off = np.abs(gaps(part, *least_squares(part)).gap) - part.c
            worst = max(core, key=lambda k: float(off[keep.index(k)]))
        keep.remove(worst)
        removed.add(worst)
    return frozenset(removed)
