"""
The connections that drawings speak of: which patterns meet beyond chance, with which fastener, best first.

Two plates are *proposed* where the holes of one size in either meet in more holes than chance makes: less than
`BEYOND` such agreements are to be expected by chance among all plates that a plate is compared with. Where only some
holes of both patterns meet, the chance is counted as for grids (`ledger.fit.chance`). Of several patterns of the same
two plates the best one is proposed; the others are told. A *possible* proposal is one that chance could make, too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, cast

import numpy as np

from ledger.domain.joint import Joint
from ledger.fit.case import PatternCase, Ply
from ledger.fit.chance import CLOSE_MM
from ledger.fit.pattern import fit
from ledger.standards.fasteners import fastener
from ledger.suggestion.index import sharing
from ledger.suggestion.meeting import Meeting, Way, meeting
from ledger.suggestion.patterns import ONE_SIZE_MM, Pattern, Plate, patterns_of
from ledger.suggestion.sizes import Spoken, spoken_by
from ledger.suggestion.versions import Alike, Ground, versions

BEYOND: Final = 0.01
POSSIBLE: Final = 1.0
VERY_SURE: Final = 1e-6
FEWEST_OF_MORE: Final = 5  # parts of one design share a pitch: fewer holes out of more must be very sure
OF_FOUR: Final = 4  # triangles that four holes make
FEW_PAIRS: Final = 100  # of holes: of more, three that agree are chance (`Chance.fewest_claimed`)
MOST_CHOICES: Final = 12
PLAINLY_MORE: Final = 2  # so many more holes that meet tell one way from the others
_ENOUGH: Final = 8.0  # orders of magnitude beyond chance; more make no proposal better


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to lay A on B: the holes of either that meet; last those that are off, by so many mm."""

    holes_a: tuple[str, ...]
    holes_b: tuple[str, ...]
    turned_over: bool
    off_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Proposal:
    """
    A connection that two drawings speak of: A, with the clearance holes, on B.

    `choices` are the ways that are as good as each other; several must be asked. `chance` is how many agreements as
    good are to be expected among all plates. `of` is how many holes of that size A and B have, `also` how many more
    holes of any size meet there, `beside` other fasteners that the same two plates speak of.
    """

    a: str
    b: str
    fastener: str
    joint: str
    choices: tuple[Choice, ...]
    sizes_mm: tuple[float, float]
    of: tuple[int, int]
    chance: float
    unusual: bool
    versions: bool
    margin_mm: float | None = None
    also: int = 0
    beside: tuple[str, ...] = ()
    more_choices: int = 0
    rank: float = 0.0

    @property
    def agreeing(self) -> int:
        """How many holes meet."""
        return len(self.choices[0].holes_a) - len(self.choices[0].off_mm)

    @property
    def proposed(self) -> bool:
        """Whether it is beyond chance, and of two parts."""
        return self.chance < BEYOND and not self.versions

    @property
    def sure(self) -> str:
        """How sure it is, in a word."""
        if self.versions:
            return "versions"
        return "very likely" if self.chance < VERY_SURE else "likely" if self.chance < BEYOND else "possible"


@dataclass(frozen=True, slots=True, eq=False)
class _Met:
    """Two patterns that meet, what their sizes speak of, and how many other holes meet there."""

    a: Pattern
    b: Pattern
    spoken: Spoken
    meeting: Meeting
    also: int
    others: int  # plates that each is compared with

    @property
    def whole(self) -> bool:
        """Whether all holes of one of the patterns meet, or would but for some that are off."""
        return len(self.meeting.ways[0].meant) == min(len(self.a.holes), len(self.b.holes))

    @property
    def chance(self) -> float:
        """How many agreements as good are to be expected by chance among all plates."""
        one = self.meeting.by_holes if self.whole else self.meeting.on_grids
        every = one * max(1, self.others)
        few = not self.whole and self.meeting.agreeing < FEWEST_OF_MORE
        return max(every, BEYOND) if few and every >= VERY_SURE else every

    @property
    def rank(self) -> float:
        """Better ones are larger: beyond chance, holes of both patterns in use, sizes as in tables, one way."""
        beyond = min(_ENOUGH, -math.log10(max(self.chance, 1e-300)))
        used = sum(self.meeting.agreeing / len(p.holes) for p in (self.a, self.b))
        return beyond + 2 * used - self.spoken.unusual - (len(self.meeting.ways) > 1) + min(self.also, 4) / 4


def proposals(plates: Sequence[Plate]) -> tuple[Proposal, ...]:
    """Every connection that these drawings speak of, possible ones and versions too, best first."""
    patterns = [p for k, plate in enumerate(plates) for p in patterns_of(k, plate)]
    met: dict[frozenset[int], list[_Met]] = {}
    for i, k, shared in sharing([p.points for p in patterns]):
        found = _meet(plates, patterns[i], patterns[k], shared)
        if found is not None:
            met.setdefault(frozenset((found.a.plate, found.b.plate)), []).append(found)
    best = [_proposal(plates, sorted(some, key=lambda m: -m.rank)) for some in met.values()]
    order = sorted(best, key=lambda p: (not p.proposed, p.versions, -p.rank, -p.agreeing, p.a, p.b))
    return tuple(_measured(plates, p) if p.proposed else p for p in order)


def _meet(plates: Sequence[Plate], a: Pattern, b: Pattern, shared: int) -> _Met | None:
    """How two patterns of two plates meet, the one that is laid on the other first; None where chance would do it."""
    if a.plate == b.plate or (shared < OF_FOUR and len(a.holes) * len(b.holes) > FEW_PAIRS):
        return None
    inch = plates[a.plate].inch and plates[b.plate].inch
    spoken = spoken_by(round(a.diameter_mm, 3), round(b.diameter_mm, 3), inch=inch)
    if spoken is None:
        return None
    swap = spoken.swapped if spoken.joint == "tapped" else _larger(plates[a.plate], plates[b.plate])
    if swap:
        a, b = b, a
    found = meeting(a, b, shared)
    if found is None:
        return None
    counts = [_all_meeting(plates[a.plate], plates[b.plate], w) for w in found.ways]
    most = max(counts)
    if sorted(counts)[-2:][0] <= most - PLAINLY_MORE:
        found = replace(found, ways=(found.ways[counts.index(most)],))
    met = _Met(a, b, spoken, found, most - found.agreeing, len(plates) - 1)
    return met if met.chance <= POSSIBLE else None


def _larger(a: Plate, b: Plate) -> bool:
    """Whether A is the larger plate, which the other one is laid on."""
    return (-_area(a), a.name) < (-_area(b), b.name)


def _area(plate: Plate) -> float:
    return abs(plate.profile.outline.area_mm2) if plate.profile.outline else 0.0


def _all_meeting(a: Plate, b: Plate, way: Way) -> int:
    """How many holes of A, of any size, lie on one of B there."""
    from scipy.spatial import cKDTree

    laid = way.placed(np.array([complex(*h.centre) for h in a.profile.holes]))
    tree = cKDTree([h.centre for h in b.profile.holes])
    near, _ = tree.query(np.column_stack([laid.real, laid.imag]), distance_upper_bound=2 * CLOSE_MM)
    return int(np.isfinite(near).sum())


def _proposal(plates: Sequence[Plate], some: Sequence[_Met]) -> Proposal:
    """The best of what two plates speak of, with the others named."""
    best = some[0]
    a, b = plates[best.a.plate], plates[best.b.plate]
    alike = [m for m in some if (m.spoken, m.meeting.agreeing) == (best.spoken, best.meeting.agreeing)]
    alike = [m for m in alike if (m.a.plate, m.also) == (best.a.plate, best.also)]
    ways = [(m, way) for m in alike for way in m.meeting.ways]
    return Proposal(
        a=a.name,
        b=b.name,
        fastener=best.spoken.fastener,
        joint=best.spoken.joint,
        choices=tuple(_choice(m, way) for m, way in ways[:MOST_CHOICES]),
        sizes_mm=(best.a.diameter_mm, best.b.diameter_mm),
        of=(len(best.a.holes), len(best.b.holes)),
        chance=best.chance,
        unusual=best.spoken.unusual,
        versions=any(_versions(plates, m) for m in some),
        also=best.also,
        beside=tuple(dict.fromkeys(f"{m.spoken.fastener} {m.spoken.joint}" for m in some if m not in alike)),
        rank=best.rank,
        more_choices=max(0, len(ways) - MOST_CHOICES),
    )


def _versions(plates: Sequence[Plate], met: _Met) -> bool:
    """Whether the plates in which these holes lie are one in two versions."""
    way = met.meeting.ways[0]
    in_a, in_b = met.a.points[[i for i, _ in way.pairs]], met.b.points[[k for _, k in way.pairs]]
    a, b = plates[met.a.plate], plates[met.b.plate]
    sizes = _same_sizes(a, b, way)
    sheet = len(a.profile.outlines) > 1 or len(b.profile.outlines) > 1
    among = (min if sheet else max)(met.a.among, met.b.among)
    alike = Alike(len(sizes) / among, len({round(mm) for mm in sizes}), met.whole)
    return versions(Ground(a, in_a), Ground(b, in_b), way, alike)


def _same_sizes(a: Plate, b: Plate, way: Way) -> list[float]:
    """The sizes of the holes of A that lie there on one of B of the same size."""
    laid = way.placed(np.array([complex(*h.centre) for h in a.profile.holes]))
    there = np.array([complex(*h.centre) for h in b.profile.holes])
    mm = [np.array([h.diameter_mm for h in p.profile.holes]) for p in (a, b)]
    same = (np.abs(laid[:, None] - there[None, :]) <= 2 * CLOSE_MM) & (
        np.abs(mm[0][:, None] - mm[1][None, :]) <= ONE_SIZE_MM
    )
    return [float(d) for d in mm[0][same.any(axis=1)]]


def _choice(met: _Met, way: Way) -> Choice:
    """The holes of A with their counterparts in B, and how far those are off that do not meet."""
    laid = way.placed(met.a.points)
    return Choice(
        tuple(met.a.holes[i].label for i, _ in way.meant),
        tuple(met.b.holes[k].label for _, k in way.meant),
        way.turned_over,
        tuple(float(abs(laid[i] - met.b.points[k])) for i, k in way.off),
    )


def _measured(plates: Sequence[Plate], of: Proposal) -> Proposal:
    """The proposal with the margin of its first choice, by the fit."""
    named = {plate.name: plate for plate in plates}
    bolt, first = fastener(of.fastener), of.choices[0]

    def ply(name: str, labels: tuple[str, ...]) -> Ply:
        return Ply(tuple(h for h in named[name].profile.holes if h.label in labels), declared=True)

    found = fit(
        PatternCase(
            a=ply(of.a, first.holes_a),
            b=ply(of.b, first.holes_b),
            fastener_mm=bolt.shank_mm,
            largest_fastener_mm=bolt.largest_mm,
            joint=cast("Joint", of.joint),
            turned_over="yes" if first.turned_over else "no",
        )
    )
    return replace(of, margin_mm=found.margin_mm)
