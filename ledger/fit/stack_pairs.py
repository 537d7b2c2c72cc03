"""Plies on fasteners that one of them holds: each stands by itself against that one, and the least of them counts."""

from __future__ import annotations

from ledger.domain.pose import Pose
from ledger.fit.stack_case import Labels, Pairs, StackCase, StackFit


def fit_held(case: StackCase, pairs: Pairs, notes: tuple[str, ...]) -> StackFit:
    """The answer for pairs that all go together."""
    poses = [Pose()] * len(case.plies)
    for k, found in pairs:
        pose = found.pose or Pose()
        poses[k] = pose.back if case.ground == 0 else pose
    return StackFit(
        "GO", case.ground, pairs, min(f.margin_mm or 0.0 for _, f in pairs),
        min(f.worst_case_margin_mm or 0.0 for _, f in pairs), tuple(poses),
        tightest=_tightest(case, pairs), proven=all(f.proven for _, f in pairs), notes=notes,
    )  # fmt: skip


def _tightest(case: StackCase, pairs: Pairs) -> Labels:
    """The two holes that leave the least room, by ply."""
    labels: list[str | None] = [None] * len(case.plies)
    k, worst = min(pairs, key=lambda x: x[1].margin_mm or 0.0)
    if worst.tightest:
        a, b = worst.tightest
        labels[k], labels[case.ground] = (b, a) if case.ground == 0 else (a, b)
    return tuple(labels)
