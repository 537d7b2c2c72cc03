"""
The odds that everything goes together, with lots drawn from what process or vendor holds.

A *lot* is one piece of every part as made: each hole out on x and on y and smaller by what `fit.lots` says of one, the
largest fastener. Every lot has poses of its own: from those that are best as drawn, rounds of least squares along the
gaps, weighted by what each lacks, seek poses that let all fasteners in. What they do not find is solved by itself as
far as there is time. Only what was found counts, so the odds are never too high.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.assembly.arrangement import Arrangement, Member
from ledger.assembly.closure import AssemblyCase, closure
from ledger.assembly.links import Links, Place
from ledger.assembly.poses import best_poses
from ledger.assembly.proof import refuted
from ledger.domain.shape import Hole
from ledger.fit.case import Ply
from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import Plane, between
from ledger.fit.lots import radii, spread_mm
from ledger.fit.odds import Odds
from ledger.fit.stack_case import StackFastening

LOTS: Final = 4_000  # enough to show 99.9 %
ROUNDS: Final = 30
SHARP: Final = 1.0
MOST_ALONE: Final = 40  # lots that are solved one by one
AT_ONCE: Final = 4_000_000  # numbers of a block of lots
Spot = tuple[str, str]  # part, hole


@dataclass(frozen=True, slots=True)
class _Made:
    """A hole with its ply and fastening, and whether its ply holds the fastener there."""

    hole: Hole
    ply: Ply
    of: StackFastening
    holds: bool


@lru_cache(maxsize=32)
def odds_of(case: AssemblyCase) -> Odds | None:
    """The odds of what closes as drawn; None where no lots can be drawn of it."""
    found = closure(case)
    made, place = found.arrangement, found.place
    if made is None or place is None:
        return None
    holes = _holes(case.members)
    if any(
        not np.isfinite([h.ply.position_mm, h.ply.shrink_mm, h.ply.coat_mm]).all() for h in holes.values()
    ):
        return None
    a, b, room = _drawn(made, holes)
    good = np.zeros(LOTS, dtype=np.bool_)
    known = np.zeros(LOTS, dtype=np.bool_)
    unknowns = 3 * made.drawn.bodies + 2 * made.drawn.points
    block = max(50, AT_ONCE // (len(made.drawn.one) * unknowns))
    for first in range(0, LOTS, block):
        rows = slice(first, first + block)
        good[rows] = _at_once(made.drawn, (a[rows], b[rows], room[rows]), place)
    known[good] = True
    for row in np.flatnonzero(~good)[:MOST_ALONE]:
        links = replace(made.drawn, a=a[row], b=b[row], room=room[row])
        good[row], known[row] = _alone(links, place)
    return Odds(int(good.sum()), LOTS, int((~known).sum()))


def _holes(members: Sequence[Member]) -> Mapping[Spot, _Made]:
    """Every hole that a bolt goes through, with what is held of it."""
    found: dict[Spot, _Made] = {}
    for member in members:
        parts = member.connected.parts
        for of in member.connected.fastenings:
            holders = _holders(of, len(parts))
            for k, ply in enumerate(of.plies):
                for hole in ply.holes:
                    found.setdefault((parts[k], hole.label), _Made(hole, ply, of, k in holders))
    return found


def _holders(of: StackFastening, plies: int) -> frozenset[int]:
    first = {0} if of.joint in ("countersunk", "countersunk tapped") else set()
    last = set() if of.joint in ("through", "countersunk") else {plies - 1}
    return frozenset(first | last)


def _drawn(made: Arrangement, holes: Mapping[Spot, _Made]) -> tuple[Plane, Plane, Real]:
    """Cores and rooms of every link (lots x links) as made."""
    spots = sorted({spot for told in made.holes for spot in told})
    draws = _draws(spots, holes)
    links = made.drawn
    shape = (LOTS, len(links.one))
    a, b = np.broadcast_to(links.a, shape).copy(), np.broadcast_to(links.b, shape).copy()
    room = np.empty(shape)
    for j, (told, ends) in enumerate(zip(made.holes, made.ends, strict=True)):
        of = dict(told)
        own = [(end, of[end]) for end in ends if end]
        room[:, j] = _room([(holes[s], draws[s][1]) for s in own])
        a[:, j] += draws[own[0]][0]
        if len(own) > 1:
            b[:, j] += draws[own[1]][0]
    return a, b, room


def _room(ends: Sequence[tuple[_Made, Real]]) -> Real:
    """What the joint takes up with holes as made; of a point, what its one hole leaves."""
    thickest = ends[0][0].of.fastener_mm + max(
        0.0, ends[0][0].of.largest_fastener_mm - ends[0][0].of.fastener_mm
    )
    lacks = [radii(m.hole.diameter_mm, m.ply, z) - thickest / 2 for m, z in ends if not m.holds]
    if not lacks:
        return np.zeros(LOTS)
    least = np.min(lacks, axis=0)
    return np.asarray(np.where(least < -SAME_MM, least, np.sum(lacks, axis=0)))


def _draws(spots: Sequence[Spot], holes: Mapping[Spot, _Made]) -> dict[Spot, tuple[Plane, Real]]:
    """How far every hole is out, mm, and its standard normal number of size; the same case has the same draws."""
    from scipy.special import ndtri

    told = [
        (s, [round(x, 6) for p in holes[s].hole.core for x in p], round(holes[s].hole.diameter_mm, 6))
        for s in spots
    ]
    seed = int.from_bytes(hashlib.sha256(repr(told).encode()).digest()[:8], "big")
    raw = np.random.PCG64(seed).random_raw(3 * LOTS * len(spots))
    z = np.asarray(ndtri(((raw >> np.uint64(11)).astype(float) + 0.5) * 2.0**-53)).reshape(
        len(spots), 3, LOTS
    )
    return {s: (spread_mm(holes[s].ply) * (z[k, 0] + 1j * z[k, 1]), z[k, 2]) for k, s in enumerate(spots)}


@dataclass(slots=True)
class _Lots:
    """Lots side by side with a place each."""

    a: Plane
    b: Plane
    room: Real
    turns: Plane
    shifts: Plane

    def only(self, rows: npt.NDArray[np.bool_]) -> _Lots:
        return _Lots(self.a[rows], self.b[rows], self.room[rows], self.turns[rows], self.shifts[rows])


def _at_once(links: Links, drawn: tuple[Plane, Plane, Real], place: Place) -> npt.NDArray[np.bool_]:
    """Which lots go together at poses that a few rounds find."""
    many = len(drawn[2])
    lots = _Lots(*drawn, np.tile(place.turns, (many, 1)), np.tile(place.shifts, (many, 1)))
    good = np.zeros(many, dtype=np.bool_)
    left, weights = np.arange(many), np.ones(drawn[2].shape)
    for _ in range(ROUNDS):
        gap, one, other = _gaps(links, lots)
        excess = np.abs(gap) - lots.room
        passes = excess.max(axis=1) <= SAME_MM
        good[left[passes]] = True
        if passes.all():
            break
        keep = ~passes
        lots, left, weights = lots.only(keep), left[keep], weights[keep]
        gap, one, other, excess = gap[keep], one[keep], other[keep], excess[keep]
        scale = np.maximum(np.ptp(excess, axis=1, keepdims=True), SAME_MM)
        weights *= np.exp(SHARP * (excess - excess.max(axis=1, keepdims=True)) / scale)
        _stepped(links, lots, (gap, one, other), weights)
    return good


def _gaps(links: Links, lots: _Lots) -> tuple[Plane, Plane, Plane]:
    """Gaps (lots x links), and the turned cores of both sides."""
    first, second = lots.turns[:, links.one], lots.turns[:, links.other]
    one, other = first * lots.a, second * lots.b
    gap = one + lots.shifts[:, links.one] - other - lots.shifts[:, links.other]
    if links.slotted:
        shape = gap.shape
        gap = between(gap.ravel(), (first * links.ha).ravel(), (second * links.hb).ravel()).reshape(shape)
    return gap, one, other


def _stepped(links: Links, lots: _Lots, at: tuple[Plane, Plane, Plane], weights: Real) -> None:
    """One step of weighted least squares of the gaps along themselves; the lots' places are moved."""
    gap, one, other = at
    length = np.maximum(np.abs(gap), 1e-300)
    ray = (gap / length).conj()
    bodies, movers = links.bodies, links.bodies + links.points
    slopes = np.zeros((*gap.shape, 3 * movers))
    for j, (p, q) in enumerate(zip(links.one.tolist(), links.other.tolist(), strict=True)):
        for body, arm, sign in ((p, one, 1), (q, other, -1)):
            if body < bodies:
                slopes[:, j, body] += sign * (ray[:, j] * 1j * arm[:, j]).real
            slopes[:, j, movers + 2 * body] += sign * ray[:, j].real
            slopes[:, j, movers + 2 * body + 1] += -sign * ray[:, j].imag
    free = [*range(1, bodies), *range(movers + 2, 3 * movers)]
    slopes = slopes[:, :, free]
    pull = slopes * weights[:, :, None]
    matrix = pull.transpose(0, 2, 1) @ slopes
    line = np.arange(len(free))
    matrix[:, line, line] += np.maximum(matrix[:, line, line], 1e-9) * 1e-7 + 1e-12
    step = np.linalg.solve(matrix, -(pull.transpose(0, 2, 1) @ length[:, :, None]))[:, :, 0]
    lots.turns[:, 1:bodies] *= np.exp(1j * np.clip(step[:, : bodies - 1], -0.3, 0.3))
    moved = step[:, bodies - 1 :]
    lots.shifts[:, 1:] += moved[:, ::2] + 1j * moved[:, 1::2]


def _alone(links: Links, place: Place) -> tuple[bool, bool]:
    """Whether one lot goes together, and whether that is known."""
    best = best_poses(links, place)
    if best.margin_mm >= -SAME_MM:
        return True, True
    proof, other = refuted(links, best, 0.0, most_solved=0)
    return other is not None, proof is not None or other is not None
