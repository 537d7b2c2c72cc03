"""
Located plies: at a stated pose nothing is improved, every hole is judged where it lies; along a guide the best place.

Of several poses that are possible (either way up, pins in either hole) the one with most passing pairs counts, then
the one with fewest wrong holes, then the largest margin.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ledger.domain.pose import Pose
from ledger.fit.candidates import Table
from ledger.fit.case import Fit, PatternCase, Way
from ledger.fit.guide import Guide
from ledger.fit.guided import Along, best_along
from ledger.fit.joint import SAME_MM
from ledger.fit.layout import offset_mm
from ledger.fit.pairing import Pairs, match, mutual_nearest
from ledger.fit.report import answer, nothing
from ledger.fit.trial import Trial

UNPROVEN = "it is not proven that no other place along the shared edge or about the pin is better"


def fit_as_located(case: PatternCase, table: Table, places: Sequence[Pose | Guide]) -> Fit:
    """The answer at the best of these places."""
    found = [_along(case, table, p) if not isinstance(p, Pose) else _at(case, table, p) for p in places]
    best = max(found, key=_rank)
    good = [f for f in found if f.verdict == "GO" and f.pose is not None]
    if best.verdict != "GO":
        return best
    first = sorted(good, key=lambda f: f is not best)
    ways = tuple(Way(f.pose, f.margin_mm or 0.0, tuple((p.a, p.b) for p in f.pairs)) for f in first if f.pose)
    return replace(best, ways=len(ways), assemblies=ways)


def _rank(found: Fit) -> tuple[int, int, float]:
    margin = found.margin_mm
    return len(found.pairs), -len(found.wrong), -np.inf if margin is None else margin


def _along(case: PatternCase, table: Table, guide: Guide) -> Fit:
    along = best_along(table, guide)
    if along is None:
        return _at(case, table, guide.at(0.0))
    return _at(case, table, along.pose, along)


def _at(case: PatternCase, table: Table, pose: Pose, along: Along | None = None) -> Fit:
    """Most pairs that pass at this pose; of the rest the mutual nearest within swallow plus fastener are wrong."""
    every_a, every_b = list(range(len(table.a))), list(range(len(table.b)))
    apart = table.offsets_mm(pose, every_a, every_b)
    rows, columns = match(apart, apart <= table.swallow + SAME_MM)
    pairs: Pairs = tuple(zip(rows.tolist(), columns.tolist(), strict=True))
    rest_a = [i for i in every_a if i not in set(rows.tolist())]
    rest_b = [k for k in every_b if k not in set(columns.tolist())]
    grid = np.ix_(rest_a, rest_b)
    nearest = mutual_nearest(apart[grid], table.astray[grid]) if rest_a and rest_b else ()
    displaced: Pairs = tuple((rest_a[x], rest_b[y]) for x, y in nearest)
    together = pairs + displaced
    if not together:
        return nothing(case, table, "at the stated position no hole meets another")
    offsets = [offset_mm(pose, table.a[i].core, table.b[k].core)[0] for i, k in together]
    rooms = [float(table.allowed[p]) - e for p, e in zip(together, offsets, strict=True)]
    left = [room - float(table.charge[p]) for p, room in zip(together, rooms, strict=True)]
    whole = along is not None and along.pairs == together
    worst = along.worst_mm if along is not None and whole else min(left)
    proven = along is None or along.proven
    trial = Trial(pose.flipped, pairs, displaced, pose, min(rooms), sum(e * e for e in offsets))
    return answer(
        case, table, trial, margin_mm=min(rooms), worst_mm=worst, ways=1, proven=proven,
        notes=[] if proven else [UNPROVEN],
    )  # fmt: skip
