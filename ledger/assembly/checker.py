"""
The answer looked at again without the solver: gaps measured bolt by bolt, certificates reckoned term by term.

Only holes, poses, links and certificates are known here, in plain arithmetic. Turns are bounded once more, from the two
links of a pair of bodies that hold them best, and from body to body by the narrowest way.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping, Sequence
from heapq import heappop, heappush
from itertools import combinations
from typing import Final

from ledger.assembly.certificate import Certificate
from ledger.assembly.links import Links
from ledger.assembly.proof import Refutation
from ledger.domain.pose import Pose
from ledger.fit.crossings import apart
from ledger.fit.shared_columns import SharedBolt
from ledger.fit.stack_position import most_room

UNSOUND: Final = 1e-9
ROUNDING: Final = 1e-9
MOST_BOXES: Final = 4_000
Interval = tuple[float, float]
Box = dict[int, Interval]


def measured_mm(bolts: Sequence[SharedBolt], poses: Mapping[str, Pose], *, worst: bool) -> float:
    """The least margin of all bolts with the parts at these poses, each hole placed and measured by itself."""
    least = math.inf
    for bolt in bolts:
        cores = {n: tuple(poses[n].place(p) for p in hole.core) for n, hole in bolt.holes.items()}
        for rooms in bolt.columns(worst=worst):
            if len(rooms) == 2:  # noqa: PLR2004 - no axis to be found
                one, other = ((complex(*cores[n][0]), complex(*cores[n][-1])) for n in rooms)
                least = min(least, sum(rooms.values()) - apart(one, other))
            elif len(rooms) > 2:  # noqa: PLR2004
                least = min(least, most_room([cores[n] for n in rooms], list(rooms.values()))[0])
    return least


def refutes(links: Links, proof: Refutation) -> bool:
    """Whether no poses have a margin above the proof's limit, as its certificates say; False where one is unsound."""
    seen = links.seen_from(proof.root)
    turns = _turns(seen, proof.limit_mm)
    if turns is None:
        return True
    charges = [_charge(seen, c) for c in proof.certificates]
    if any(charge is None for charge in charges):
        return False
    proven = [
        (c, charge) for c, charge in zip(proof.certificates, charges, strict=True) if charge is not None
    ]
    first: Box = _from_first(seen, turns)
    boxes, looked = [first], 0
    while boxes:
        box = boxes.pop()
        looked += 1
        if looked > MOST_BOXES:
            return False
        inside = _inside(box, turns)
        if inside is None or any(_most(seen, c, inside) + more <= proof.limit_mm for c, more in proven):
            continue
        widest = max((k for k in inside if k), key=lambda k: inside[k][1] - inside[k][0], default=0)
        low, high = inside[widest]
        if not widest or high - low < UNSOUND:
            return False
        middle = (low + high) / 2
        boxes += [{**inside, widest: (low, middle)}, {**inside, widest: (middle, high)}]
    return True


def _charge(links: Links, made: Certificate) -> float | None:
    """
    What rounding in a certificate may hide, mm; None where it is not sound.

    Weights must add up, no vector be longer than its weight, and all be in balance at every body and point.
    """
    total, rest, over, far = 0.0, [0j] * (links.bodies + links.points), 0.0, 0.0
    for j in range(len(links.one)):
        weight, vector = float(made.weights[j]), complex(made.vectors[j])
        if not (math.isfinite(weight) and cmath.isfinite(vector)) or weight < 0:
            return None
        over += max(0.0, abs(vector) - weight)
        total += weight * float(links.share[j])
        rest[int(links.one[j])] += vector
        rest[int(links.other[j])] -= vector
        cores = (links.a[j], links.ha[j], links.b[j], links.hb[j], links.room[j])
        far += sum(abs(complex(x)) for x in cores)
    off = abs(total - 1) + over + sum(map(abs, rest))
    return None if off > UNSOUND else off * far


def _most(links: Links, made: Certificate, box: Box) -> float:
    """What the certificate leaves at most, with every angle within its interval."""
    level = 0.0
    waves: dict[int, complex] = {}
    slots = 0.0
    for j in range(len(links.one)):
        weight, u = float(made.weights[j]), complex(made.vectors[j]).conjugate()
        p, q = int(links.one[j]), int(links.other[j])
        level += weight * float(links.room[j])
        waves[p] = waves.get(p, 0j) - u * complex(links.a[j])
        waves[q] = waves.get(q, 0j) + u * complex(links.b[j])
        for body, half in ((p, complex(links.ha[j])), (q, complex(links.hb[j]))):
            if half:
                slots += max(
                    _highest(u * half, box.get(body, (0.0, 0.0))),
                    _highest(-u * half, box.get(body, (0.0, 0.0))),
                )
    turning = sum(_highest(w, box.get(k, (0.0, 0.0))) for k, w in waves.items() if k < links.bodies)
    return level + turning + slots


def _highest(wave: complex, turn: Interval) -> float:
    """The greatest real part of exp(i angle) wave over an interval."""
    low, high = turn
    peak = -cmath.phase(wave)
    peak += 2 * math.pi * math.ceil((low - peak) / (2 * math.pi))
    if peak <= high:
        return abs(wave)
    return max((cmath.exp(1j * low) * wave).real, (cmath.exp(1j * high) * wave).real)


def _turns(links: Links, margin_mm: float) -> dict[tuple[int, int], Interval] | None:
    """The turn of one body less that of another, by two bolts that both go through; None where two cannot."""
    held: dict[tuple[int, int], list[tuple[complex, complex, float]]] = {}
    through: dict[int, list[int]] = {}
    for j in range(len(links.one)):
        if int(links.other[j]) >= links.bodies:
            through.setdefault(int(links.other[j]), []).append(j)
        else:
            _hold(held, links, (j,), margin_mm)
    for several in through.values():
        for two in combinations(several, 2):
            _hold(held, links, two, margin_mm)
    found: dict[tuple[int, int], Interval] = {}
    for (p, q), bolts in held.items():
        best: Interval | None = None
        for (a, b, s), (c, d, r) in combinations(bolts, 2):
            turn = _by_two(b - d, a - c, s + r)
            if turn is None:
                return None
            if turn[1] - turn[0] < 2 * math.pi and (best is None or turn[1] - turn[0] < best[1] - best[0]):
                best = turn
        if best is not None:
            found[p, q], found[q, p] = best, (-best[1], -best[0])
    return found


def _hold(
    held: dict[tuple[int, int], list[tuple[complex, complex, float]]],
    links: Links,
    rows: tuple[int, ...],
    m: float,
) -> None:
    """A bolt between two bodies: a core of each, and how far they may be apart at a margin."""
    room = sum(
        float(links.room[j])
        - float(links.share[j]) * m
        + abs(complex(links.ha[j]))
        + abs(complex(links.hb[j]))
        for j in rows
    )
    if len(rows) == 1:
        p, q, a, b = int(links.one[rows[0]]), int(links.other[rows[0]]), links.a[rows[0]], links.b[rows[0]]
    else:
        (p, a), (q, b) = ((int(links.one[j]), links.a[j]) for j in rows)
    if p != q:
        one, other = ((p, complex(a)), (q, complex(b))) if p < q else ((q, complex(b)), (p, complex(a)))
        held.setdefault((one[0], other[0]), []).append((one[1], other[1], room))


def _by_two(v: complex, w: complex, s: float) -> Interval | None:
    """The turns with |v exp(i turn) - w| <= s."""
    s += ROUNDING
    if s < abs(abs(v) - abs(w)):
        return None
    if s >= abs(v) + abs(w):
        return -math.pi, math.pi
    half = math.acos(max(-1.0, min(1.0, (abs(v) ** 2 + abs(w) ** 2 - s * s) / (2 * abs(v) * abs(w)))))
    middle = cmath.phase(w * v.conjugate())
    return middle - half - ROUNDING, middle + half + ROUNDING


def _from_first(links: Links, turns: dict[tuple[int, int], Interval]) -> Box:
    """Every body's angle against the first, each by its narrowest way."""
    found: Box = {}
    queue: list[tuple[float, int, float]] = [(0.0, 0, 0.0)]
    while queue:
        half, at, middle = heappop(queue)
        if at in found:
            continue
        found[at] = (middle - half, middle + half)
        for (p, q), (low, high) in turns.items():
            if p == at and q not in found and half + (high - low) / 2 < math.pi:
                heappush(queue, (half + (high - low) / 2, q, middle + (low + high) / 2))
    return {k: found.get(k, (-math.pi, math.pi)) for k in range(links.bodies)}


def _inside(box: Box, turns: dict[tuple[int, int], Interval]) -> Box | None:
    """The box without what some two of its angles do not allow; None where nothing is left."""
    found = dict(box)
    for _ in range(3):
        for (p, q), turn in turns.items():
            (a, b), (c, d) = found[p], found[q]
            low, high = turn[0] + a, turn[1] + b
            if high - low + d - c >= 2 * math.pi:
                continue
            near = 2 * math.pi * round((c + d - low - high) / (4 * math.pi))
            c, d = max(c, low + near), min(d, high + near)
            if c > d:
                return None
            found[q] = (c, d)
    return found
