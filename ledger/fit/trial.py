"""
One pairing tried: does it go together, if not which holes are wrong, and in what pose.

A *trial* starts from near pairs. When they all pass in one pose they are its pairs. Otherwise the smallest set of
wrong ones is taken out, the rest fixes the pose, and what is left over at that pose is paired again, nearest with
nearest, until nothing changes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ledger.domain.pose import Pose
from ledger.fit.candidates import Table
from ledger.fit.effort import Effort
from ledger.fit.explain import conflicts, smallest_wrong
from ledger.fit.joint import TOUCH_MM, Real
from ledger.fit.layout import Layout, Side, lay_out_many, lay_out_planes
from ledger.fit.minimax import Best, best_pose, margin_at
from ledger.fit.pairing import Pairs, mutual_nearest
from ledger.fit.pose_batch import best_poses
from ledger.fit.pose_choice import State, least_squares, settle, spin

ROUNDS: Final = 4
MOST_SETS: Final = 12
TIE_MM: Final = 1e-6
TIDY: Final = 1e-8


@dataclass(frozen=True, slots=True)
class Trial:
    """Pairs and displaced pairs (indices in the table), the pose, the margin that the pairs have there."""

    turned_over: bool
    pairs: Pairs
    displaced: Pairs
    pose: Pose
    margin_mm: float
    squares: float
    also: tuple[tuple[Pairs, Pose], ...] = ()
    smallest: bool = True
    solved: tuple[Layout, Best] | None = None  # what the pairs were solved by, where none is displaced


def solve(table: Table, pairs: Pairs, *, turned_over: bool, of: Real | None = None) -> tuple[Layout, Best]:
    """The best pose of these pairs, with takes up as laid out or by the matrix `of`."""
    layout = _lay(table, pairs, table.take_up if of is None else of, turned_over=turned_over)
    return layout, best_pose(layout, least_squares(layout)[0])


def solve_all(table: Table, several: Sequence[tuple[Pairs, bool]]) -> list[tuple[Layout, Best]]:
    """The best poses of several pairings (pairs, turned over), side by side, with takes up as laid out."""
    layouts = lay_out_many(
        [(*_sides(table, pairs, table.take_up), turned_over) for pairs, turned_over in several]
    )
    return list(zip(layouts, best_poses(layouts), strict=True))


def solve_near(
    table: Table, several: Sequence[Pairs], pose: Pose, *, floor_mm: float
) -> list[tuple[Layout, Best]]:
    """
    The best poses of several pairings near this pose, sought only as far as needed where the margin is below a floor.
    """
    found = []
    for pairs in several:
        layout = _lay(table, pairs, table.take_up, turned_over=pose.turned_over)
        start = math.radians(pose.angle_deg)
        found.append((layout, best_pose(layout, start, floor=floor_mm / layout.reach_mm)))
    return found


def try_pairing(
    table: Table,
    pairs: Pairs,
    *,
    turned_over: bool,
    least: int,
    solved: tuple[Layout, Best] | None = None,
    effort: Effort | None = None,
) -> Trial | None:
    """Judge one pairing, `solved` where it is already; None when fewer than `least` of its pairs pass together."""
    effort = effort or Effort()
    trial = _judge(table, pairs, effort, turned_over=turned_over, least=least, solved=solved)
    for _ in range(ROUNDS):
        if trial is None:
            return None
        again = tuple(sorted({*trial.pairs, *_leftover_pairs(table, trial)}))
        if set(again) == {*trial.pairs, *trial.displaced}:
            break
        trial = _judge(table, again, effort, turned_over=turned_over, least=least)
    return trial


def fitted(table: Table, trial: Trial) -> Pose:
    """The least-squares pose of a trial's pairs, which no hole size has a say in."""
    layout = _lay(table, trial.pairs, table.take_up, turned_over=trial.turned_over)
    return layout.pose(*least_squares(layout))


def all_pass(layout: Layout, best: Best) -> bool:
    """Whether no pair lacks more than drawings carry, or than half the solver's tolerance."""
    return best.margin >= -max(layout.tolerance / 2, TOUCH_MM / layout.reach_mm)


def _judge(
    table: Table,
    pairs: Pairs,
    effort: Effort,
    *,
    turned_over: bool,
    least: int,
    solved: tuple[Layout, Best] | None = None,
) -> Trial | None:
    layout = solved[0] if solved else _lay(table, pairs, table.take_up, turned_over=turned_over)
    if solved or not conflicts(layout).any():  # else not all of them pass
        best = solved[1] if solved else best_pose(layout, least_squares(layout)[0])
        effort.take(best.evaluations, slotted=layout.slotted)
        if all_pass(layout, best):
            return replace(_posed(table, pairs, (), layout, best), solved=(layout, best))
    found = smallest_wrong(layout, len(pairs) - least, effort)
    if found is None:
        return None
    trials = _without(table, pairs, found.sets[:MOST_SETS], layout)
    most = max(t.margin_mm for t in trials)
    chosen = min(
        (t for t in trials if t.margin_mm >= most - TIE_MM), key=lambda t: (round(t.squares, 6), t.displaced)
    )
    also = sorted((t for t in trials if t is not chosen), key=lambda t: (-round(t.margin_mm, 6), t.displaced))
    return Trial(
        turned_over, chosen.pairs, chosen.displaced, chosen.pose, chosen.margin_mm, chosen.squares,
        tuple((t.displaced, t.pose) for t in also),
        smallest=found.proven and len(found.sets) <= MOST_SETS,
    )  # fmt: skip


def _without(table: Table, pairs: Pairs, sets: Sequence[tuple[int, ...]], whole: Layout) -> list[Trial]:
    """The trials in which these pairs are the wrong ones."""
    kept = [tuple(p for k, p in enumerate(pairs) if k not in removed) for removed in sets]
    out = [tuple(pairs[k] for k in removed) for removed in sets]
    if len(kept[0]) > 1:  # all sets are of one size
        solved = solve_all(table, [(some, whole.turned_over) for some in kept])
        return [
            _posed(table, some, rest, layout, best)
            for some, rest, (layout, best) in zip(kept, out, solved, strict=True)
        ]
    pivots = [pairs.index(some[0]) for some in kept]
    return [
        _at(table, some, rest, whole.only([k]), spin(whole, k, (0.0, 0j)))
        for some, rest, k in zip(kept, out, pivots, strict=True)
    ]


def _posed(table: Table, pairs: Pairs, out: Pairs, layout: Layout, best: Best) -> Trial:
    return _at(table, pairs, out, layout, settle(layout, best))


def _at(table: Table, pairs: Pairs, out: Pairs, layout: Layout, state: State) -> Trial:
    pose = _tidy(table, pairs, layout, state)
    offsets = table.pairs_mm(pose, pairs)
    margin = float((_takes_up(table.take_up, pairs) - offsets).min())
    return Trial(layout.turned_over, pairs, out, pose, margin, float(offsets @ offsets))


def _tidy(table: Table, pairs: Pairs, layout: Layout, state: State) -> Pose:
    """The pose without rounding noise, where that costs no margin."""
    pose = layout.pose(*state)
    middle = layout.middle_a.conjugate() if layout.turned_over else layout.middle_a
    here = complex(*pose.place((middle.real, middle.imag)))
    angle = _rounded(pose.angle_deg)
    turned = Pose(180.0 if angle == -180.0 else angle, 0.0, 0.0, layout.turned_over)  # noqa: PLR2004
    move = here - complex(*turned.place((middle.real, middle.imag)))
    tidy = Pose(turned.angle_deg, _rounded(move.real), _rounded(move.imag), layout.turned_over)
    allowed = layout.tolerance / 8 * layout.reach_mm
    kept = margin_at(layout, *state) * layout.reach_mm - allowed
    now = float((_takes_up(table.take_up, pairs) - table.pairs_mm(tidy, pairs)).min())
    return tidy if now >= kept else pose


def _rounded(value: float) -> float:
    near = round(value, 6)
    return near + 0.0 if abs(value - near) < TIDY else value


def _leftover_pairs(table: Table, trial: Trial) -> Pairs:
    """Candidates that no pair uses, nearest with nearest at the trial's pose."""
    used_a, used_b = {i for i, _ in trial.pairs}, {k for _, k in trial.pairs}
    rest_a = [i for i in range(len(table.a)) if i not in used_a]
    rest_b = [k for k in range(len(table.b)) if k not in used_b]
    if not rest_a or not rest_b:
        return ()
    apart = table.offsets_mm(trial.pose, rest_a, rest_b)
    limit = table.astray[np.ix_(rest_a, rest_b)]
    return tuple((rest_a[x], rest_b[y]) for x, y in mutual_nearest(apart, limit))


def _lay(table: Table, pairs: Pairs, source: Real, *, turned_over: bool) -> Layout:
    return lay_out_planes(*_sides(table, pairs, source), turned_over=turned_over)


def _sides(table: Table, pairs: Pairs, source: Real) -> tuple[Side, Side, Real]:
    """Both sides' cores, and the takes up, of some pairs."""
    i, k = np.array(pairs, dtype=np.intp).T
    (a, ha), (b, hb) = table.planes
    return (a[i], ha[i]), (b[k], hb[k]), source[i, k]


def _takes_up(source: Real, pairs: Pairs) -> Real:
    i, k = np.array(pairs, dtype=np.intp).T
    return np.asarray(source[i, k])
