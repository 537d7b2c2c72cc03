"""
Plies in position: at a stated pose nothing is improved, every hole is judged where it lies; along a guide the best
place counts.

Of several poses that are possible (either way up, pins in either hole) the one with most passing pairs counts, then
the one with fewest wrong holes, then the largest margin.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ledger.domain.pose import Pose
from ledger.fit.candidates import Table
from ledger.fit.case import MOST_WAYS, Fit, PatternCase, Way
from ledger.fit.guide import Guide
from ledger.fit.guide_places import Along, best_along, best_of, pairs_met
from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import offset_mm
from ledger.fit.pairing import Pairs, mutual_nearest
from ledger.fit.report import answer, nothing
from ledger.fit.spans import Track
from ledger.fit.trial import Trial

UNPROVEN = "it is not proven that no other place along the shared edge or about the pin is better"


def fit_as_positioned(case: PatternCase, table: Table, places: Sequence[Pose | Guide]) -> Fit:
    """The answer at the best of these places."""
    found = [
        f for p in places for f in ([_at(case, table, p)] if isinstance(p, Pose) else _along(case, table, p))
    ]
    best = max(found, key=_rank)
    good = [f for f in found if f.verdict == "GO" and f.pose is not None]
    if best.verdict != "GO":
        return best
    first = sorted(good, key=lambda f: f is not best)
    ways = tuple(Way(f.pose, f.margin_mm or 0.0, tuple((p.a, p.b) for p in f.pairs)) for f in first if f.pose)
    return replace(best, ways=len(ways), assemblies=ways[:MOST_WAYS])


def _rank(found: Fit) -> tuple[int, int, float]:
    margin = found.margin_mm
    return len(found.pairs), -len(found.wrong), -np.inf if margin is None else margin


def _along(case: PatternCase, table: Table, guide: Guide) -> list[Fit]:
    """An answer for every pairing of most holes along the guide, else of most that lie near one another."""
    track = Track.of(table, guide)
    found, every = best_along(track, table.take_up)
    if found:
        return [_met(case, table, (track, guide), (x, x.pairs), every=every) for x in found]
    found, every = best_along(track, table.astray)
    if found:
        return [_met(case, table, (track, guide), (x, ()), every=every) for x in found]
    return [_at(case, table, guide.at(0.0))]


def _met(
    case: PatternCase, table: Table, on: tuple[Track, Guide], met: tuple[Along, Pairs], *, every: bool
) -> Fit:
    """The pairs fix the place; the margins are the largest along the guide of all that lie together there."""
    (track, guide), (along, pairs) = on, met
    pose = guide.at(along.place)
    displaced = _displaced(table, pose, pairs)
    together = pairs + displaced
    drawn = np.array([table.allowed[p] for p in together])
    charge = np.array([table.charge[p] for p in together])
    same = together == along.pairs and bool((drawn == [table.take_up[p] for p in together]).all())
    best = along if same else best_of(track, together, drawn, along.place)
    if float(np.ptp(charge)) <= SAME_MM:
        worst, sure = best.margin_mm - float(charge.max()), True
    else:
        of_worst = best_of(track, together, drawn - charge, along.place)
        worst, sure = of_worst.margin_mm, of_worst.proven
    proven = every and along.proven and best.proven and sure
    return _told(case, table, (pose, pairs, displaced), (best.margin_mm, worst), proven=proven)


def _at(case: PatternCase, table: Table, pose: Pose) -> Fit:
    """Most pairs that pass at this pose; of the rest the mutual nearest within take up plus fastener are wrong."""
    every_a, every_b = list(range(len(table.a))), list(range(len(table.b)))
    pairs = pairs_met(table.offsets_mm(pose, every_a, every_b), table.take_up)
    displaced = _displaced(table, pose, pairs)
    together = pairs + displaced
    if not together:
        return nothing(case, table, "no holes meet at the position entered")
    rooms = np.array([table.allowed[p] for p in together]) - _offsets(table, pose, together)
    left = rooms - np.array([table.charge[p] for p in together])
    return _told(case, table, (pose, pairs, displaced), (float(rooms.min()), float(left.min())), proven=True)


def _displaced(table: Table, pose: Pose, pairs: Pairs) -> Pairs:
    """Of the holes that no pair uses the mutual nearest within take up plus fastener."""
    used_a, used_b = {i for i, _ in pairs}, {k for _, k in pairs}
    rest_a = [i for i in range(len(table.a)) if i not in used_a]
    rest_b = [k for k in range(len(table.b)) if k not in used_b]
    if not rest_a or not rest_b:
        return ()
    nearest = mutual_nearest(table.offsets_mm(pose, rest_a, rest_b), table.astray[np.ix_(rest_a, rest_b)])
    return tuple((rest_a[x], rest_b[y]) for x, y in nearest)


def _offsets(table: Table, pose: Pose, pairs: Pairs) -> Real:
    return np.array([offset_mm(pose, table.a[i].core, table.b[k].core)[0] for i, k in pairs])


def _told(
    case: PatternCase,
    table: Table,
    laid: tuple[Pose, Pairs, Pairs],
    margins: tuple[float, float],
    *,
    proven: bool,
) -> Fit:
    """The answer at a pose with these pairs and displaced ones; margins nominal and worst case."""
    pose, pairs, displaced = laid
    offsets = _offsets(table, pose, pairs + displaced)
    trial = Trial(pose.turned_over, pairs, displaced, pose, margins[0], float(offsets @ offsets))
    return answer(
        case, table, trial, margin_mm=margins[0], worst_mm=margins[1], ways=1, proven=proven,
        notes=[] if proven else [UNPROVEN],
    )  # fmt: skip
