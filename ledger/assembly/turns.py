"""
How far bodies can turn against each other, from two links at a time.

At a margin of m two links between the same bodies (or over the same points) let the ways from one to the other, v in
one body and w in the other, differ by no more than s, both rooms and half slots less m times both shares:
    |v exp(i turn) - w| <= s,
an interval about the turn that lays v along w, every turn, or none. Along a chain of bodies the intervals add up, and
where a body is reached by two ways it is in both.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.assembly.links import Links
from ledger.fit.joint import Real

ROUNDING: Final = 1e-12
ROUNDS: Final = 8
Turn = tuple[float, float]  # lowest and highest, radians


@dataclass(frozen=True, slots=True)
class _Joint:
    """What holds two bodies at one place: a core of each, what both may be apart, half slots included."""

    a: complex
    b: complex
    room: float
    share: float


def turns_between(links: Links, margin_mm: float) -> dict[tuple[int, int], Turn] | None:
    """By two bodies the turn of the second less that of the first, at this margin or more; None where there is none."""
    found: dict[tuple[int, int], Turn] = {}
    for (one, other), joints in _joints(links).items():
        turn = _turn(joints, margin_mm)
        if turn is None:
            return None
        if turn[1] - turn[0] < 2 * math.pi:
            found[one, other] = turn
            found[other, one] = (-turn[1], -turn[0])
    return found


def first_box(links: Links, margin_mm: float) -> tuple[Real, Real] | None:
    """
    The angles of every body but the first, outside of which no poses have more than this margin; None: none at all.
    """
    between = turns_between(links, margin_mm)
    if between is None:
        return None
    known: dict[int, Turn] = {0: (0.0, 0.0)}
    while True:
        ways = [
            (known[i][1] + turn[1] - known[i][0] - turn[0], j, i)
            for (i, j), turn in between.items()
            if i in known and j not in known
        ]
        if not ways:
            break
        wide, j, i = min(ways)
        if wide >= 2 * math.pi:
            break
        known[j] = known[i][0] + between[i, j][0], known[i][1] + between[i, j][1]
    closed = narrowed(known, between)
    if closed is None:
        return None
    full = [closed.get(k, (-math.pi, math.pi)) for k in range(1, links.bodies)]
    return np.array([x for x, _ in full]), np.array([x for _, x in full])


def narrowed(known: dict[int, Turn], between: dict[tuple[int, int], Turn]) -> dict[int, Turn] | None:
    """Intervals of angles, each within what the others and the turns between them allow; None where one is empty."""
    known = dict(known)
    for _ in range(ROUNDS):
        before = dict(known)
        for (i, j), turn in between.items():
            if i not in known or j not in known:
                continue
            low, high = known[i][0] + turn[0], known[i][1] + turn[1]
            own = known[j]
            if high - low + own[1] - own[0] >= 2 * math.pi:
                continue
            round_off = 2 * math.pi * round(((own[0] + own[1]) - (low + high)) / (4 * math.pi))
            low, high = max(own[0], low + round_off), min(own[1], high + round_off)
            if low > high:
                return None
            known[j] = low, high
        if all(before[k][1] - before[k][0] - (known[k][1] - known[k][0]) < 1e-3 * (before[k][1] - before[k][0])
               for k in known):  # fmt: skip
            break
    return known


def _joints(links: Links) -> dict[tuple[int, int], list[_Joint]]:
    found: dict[tuple[int, int], list[_Joint]] = defaultdict(list)
    at_point: dict[int, list[tuple[int, complex, float, float]]] = defaultdict(list)
    for j, (one, other) in enumerate(zip(links.one.tolist(), links.other.tolist(), strict=True)):
        a, b, share = complex(links.a[j]), complex(links.b[j]), float(links.share[j])
        room = float(links.room[j] + abs(links.ha[j]) + abs(links.hb[j]))
        if other >= links.bodies:
            at_point[other].append((one, a, room, share))
        elif one < other:
            found[one, other].append(_Joint(a, b, room, share))
        elif other < one:
            found[other, one].append(_Joint(b, a, room, share))
    for through in at_point.values():
        for place, (one, a, room, share) in enumerate(through):
            for other, b, more, also in through[place + 1 :]:
                if one < other:
                    found[one, other].append(_Joint(a, b, room + more, share + also))
                elif other < one:
                    found[other, one].append(_Joint(b, a, room + more, share + also))
    return found


def _turn(joints: list[_Joint], margin_mm: float) -> Turn | None:
    """The turn of the second body less that of the first."""
    if len(joints) < 2:  # noqa: PLR2004 - about one bolt everything turns
        return -math.pi, math.pi
    a, b = (np.array([getattr(x, side) for x in joints]) for side in ("a", "b"))
    room = np.array([x.room - x.share * margin_mm for x in joints])
    first, second = np.triu_indices(len(joints), 1)
    v, w = b[first] - b[second], a[first] - a[second]
    s = room[first] + room[second] + ROUNDING * (np.abs(v) + np.abs(w) + 1)
    if bool(np.any(room < 0)) or bool(np.any(s < np.abs(np.abs(v) - np.abs(w)))):
        return None
    square = 2 * np.abs(v) * np.abs(w)
    cosine = (np.abs(v) ** 2 + np.abs(w) ** 2 - s**2) / np.where(square > 0, square, 1.0)
    half = np.where(square > 0, np.arccos(np.clip(cosine, -1, 1)), math.pi)
    half = half + ROUNDING
    middle = np.angle(w * v.conj())
    best = int(half.argmin())
    low, high = float(middle[best] - half[best]), float(middle[best] + half[best])
    if half[best] >= math.pi:
        return -math.pi, math.pi
    for at, width in zip(middle.tolist(), half.tolist(), strict=True):
        near = at + 2 * math.pi * round((float(middle[best]) - at) / (2 * math.pi))
        if width + half[best] < math.pi:  # else it may come in from both ends
            low, high = max(low, near - width), min(high, near + width)
    return (low, high) if low <= high else None
