"""A stated pose: nothing is improved, every hole is judged where it lies."""

from __future__ import annotations

import numpy as np

from ledger.domain.pose import Pose
from ledger.fit.candidates import Table
from ledger.fit.case import Fit, PatternCase
from ledger.fit.joint import SAME_MM
from ledger.fit.layout import offset_mm
from ledger.fit.pairing import Pairs, match, mutual_nearest
from ledger.fit.report import answer, nothing
from ledger.fit.trial import Trial


def fit_as_located(case: PatternCase, table: Table, pose: Pose) -> Fit:
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
    trial = Trial(pose.flipped, pairs, displaced, pose, min(rooms), sum(e * e for e in offsets))
    return answer(case, table, trial, margin_mm=min(rooms), ways=1, proven=True, notes=[])
