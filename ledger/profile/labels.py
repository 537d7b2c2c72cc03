"""
Labels follow holes from one drawing of a part to the next.

A hole of the new drawing and one of the old are the same hole when each is the other's nearest and they lie no
further apart than REACH_MM or half the larger hole's diameter, whichever is more. It keeps its label. A hole that has
no match gets a number that the old drawing never used; a label that found no hole is *gone*. Which drawing is right,
and whether a lost label stops, is for the gate.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from ledger.domain.finding import Finding
from ledger.domain.shape import Hole, Profile
from ledger.profile.piece import apart, at

REACH_MM = 1.0
MOVED_MM = 0.001
_NUMBER = re.compile(r"H(\d{1,9})")


def carry_labels(new: Profile, old: Profile) -> tuple[Profile, tuple[Finding, ...]]:
    """The new profile with the old one's labels, and notes on holes that moved, came or went."""
    partner = _partners(new.holes, old.holes)
    number = max((_number(h.label) for h in old.holes), default=0)
    holes: list[Hole] = []
    findings: list[Finding] = []
    for k, hole in enumerate(new.holes):
        before = old.holes[partner[k]] if k in partner else None
        if before is None:
            number += 1
            holes.append(replace(hole, label=f"H{number}"))
            continue
        holes.append(replace(hole, label=before.label))
        if apart(hole.centre, before.centre) > MOVED_MM:
            findings.append(_moved(before, hole))
    kept = set(partner.values())
    findings.extend(_gone(h for j, h in enumerate(old.holes) if j not in kept))
    return _relabelled(new, tuple(holes)), tuple(findings)


def _partners(new: Sequence[Hole], old: Sequence[Hole]) -> dict[int, int]:
    """New hole to old hole, where each is the other's nearest and near enough."""
    from scipy.spatial import cKDTree

    if not new or not old:
        return {}
    here, there = np.array([h.centre for h in new]), np.array([h.centre for h in old])
    gaps, nearest_old = (np.atleast_1d(v) for v in cKDTree(there).query(here))
    nearest_new = np.atleast_1d(cKDTree(here).query(there)[1])
    return {
        k: int(j)
        for k, (gap, j) in enumerate(zip(gaps, nearest_old, strict=True))
        if nearest_new[j] == k and gap <= max(REACH_MM, new[k].diameter_mm / 2, old[j].diameter_mm / 2)
    }


def _number(label: str) -> int:
    found = _NUMBER.fullmatch(label)
    return int(found.group(1)) if found else 0


def _relabelled(profile: Profile, holes: tuple[Hole, ...]) -> Profile:
    """Findings that name a hole name it by its new label."""
    renamed = {a.label: b.label for a, b in zip(profile.holes, holes, strict=True)}
    findings = tuple(
        replace(
            f,
            where=renamed[f.where],
            message=re.sub(rf"\b{re.escape(f.where)}\b", renamed[f.where], f.message),
        )
        if f.where in renamed
        else f
        for f in profile.findings
    )
    return replace(profile, holes=holes, findings=findings)


def _moved(before: Hole, now: Hole) -> Finding:
    dx, dy = now.centre[0] - before.centre[0], now.centre[1] - before.centre[1]
    return Finding(
        "hole_moved",
        f"{before.label} moved by ({dx:+.3f}, {dy:+.3f}) mm to {at(now.centre)}",
        severity="note",
        where=before.label,
        fix="nothing to do if it was meant; look at what it bolts to",
        measured=f"{apart(now.centre, before.centre):.3f} mm",
    )


def _gone(holes: Iterator[Hole]) -> Iterator[Finding]:
    for hole in holes:
        yield Finding(
            "hole_gone",
            f"{hole.label}, {hole.diameter_mm:.3f} mm at {at(hole.centre)}, is not in the new drawing",
            severity="note",
            where=hole.label,
            fix="say that it was meant, or draw it again at its place",
        )
