"""
Whether an answer holds, asked of the case alone: nothing is called proven that does not pass here.

The checker knows the question (plies, holes, fasteners, where A may lie) and how the answer was told, but nothing of
how it was found. It works out by itself which holes could take a fastener, what each pair allows and how far apart its
cores lie at the pose; that each hole is named once and none is left out; that A lies where it may; that the margins
are there, and that no pose that is allowed leaves more. What it refuses stays as it was told, and is not proven.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import WAYS_UP, Fastening, Fit, PatternCase
from ledger.fit.crossings import Met, Segment, apart, leaves
from ledger.fit.guide import Guide, Slide
from ledger.fit.joint import TOUCH_MM, bolt_hole_range_mm, clears
from ledger.fit.proof import proves

NEAR_MM: Final = 2e-9  # numbers are told to 1e-9 mm
SLACK_MM: Final = 5e-10
ROUND, SLOTS = (
    (1e-9, 4e-14),
    (1e-6, 2e-10),
)  # to how many mm, and to which part of the reach, a margin is proven
TURN_DEG: Final = 1e-9
DOUBT: Final = "not proven: the answer did not pass its check ({why})"


@dataclass(frozen=True, slots=True)
class _Two:
    """A hole of each ply that the answer puts together."""

    a: Hole
    b: Hole
    of: Fastening
    offset_mm: float

    @property
    def room_mm(self) -> float:
        """How far apart the two cores may lie; less than 0 where one cannot take the fastener."""
        d, ra, rb = self.of.fastener_mm, self.a.diameter_mm / 2, self.b.diameter_mm / 2
        rooms = {"through": ra + rb - d, "countersunk": rb - d / 2, "countersunk tapped": 0.0}
        lack = min(r - d / 2 for r in ((ra, rb) if clears(self.of.joint, "b") else (ra,)))
        room = rooms.get(self.of.joint, ra - d / 2)
        return min(room, lack) if lack < -TOUCH_MM else room

    @property
    def charge_mm(self) -> float:
        """What the worst case takes."""
        a, b, thicker, joint = self.of.a, self.of.b, self.of.thicker_mm, self.of.joint
        lost = {
            "through": (a.shrink_mm + b.shrink_mm) / 2 + thicker,
            "countersunk": (b.shrink_mm + thicker) / 2,
            "countersunk tapped": 0.0,
        }
        return lost.get(joint, (a.shrink_mm + thicker) / 2) + (a.position_mm + b.position_mm) / 2

    @property
    def passage_mm(self) -> float:
        """The least room of a clearance hole by itself in the worst case."""
        largest = self.of.fastener_mm + self.of.thicker_mm
        return min(
            (hole.diameter_mm - ply.shrink_mm - largest - ply.position_mm) / 2
            for hole, ply, clear in (
                (self.a, self.of.a, True),
                (self.b, self.of.b, clears(self.of.joint, "b")),
            )
            if clear
        )

    @property
    def astray_mm(self) -> float:
        """Within this two holes that nothing else goes through are taken for displaced."""
        d = self.of.fastener_mm
        opened = (replace(h, diameter_mm=max(h.diameter_mm, d)) for h in (self.a, self.b))
        a, b = opened
        return replace(self, a=a, b=b).room_mm + d


def checked(case: PatternCase, found: Fit) -> Fit:
    """The same answer, no longer proven where the checker refuses it."""
    if not found.proven:
        return found
    why = refused(case, found)
    return found if why is None else replace(found, proven=False, notes=(*found.notes, DOUBT.format(why=why)))


def refused(case: PatternCase, found: Fit) -> str | None:
    """Why the answer does not hold; None where it does."""
    try:
        return next(_faults(case, found), None)
    except (ArithmeticError, LookupError, ValueError, TypeError) as fault:
        return f"unreadable: {fault}"


def _faults(case: PatternCase, found: Fit) -> Iterator[str]:
    pose, margin, worst = found.pose, found.margin_mm, found.worst_case_margin_mm
    if (
        pose is None
        or margin is None
        or worst is None
        or not (math.isfinite(margin) and math.isfinite(worst))
    ):
        yield "no pose or no margin"
        return
    takes = [(_takers(f, "a"), _takers(f, "b")) for f in case.fastenings]
    pairs = [_two(case, p.a, p.b, pose) for p in found.pairs]
    wrong = [_two(case, w.a, w.b, pose) for w in found.wrong]
    yield from _miscounted(found, takes, pairs + wrong)
    yield from _mismeasured(found, pairs)
    if not _may_lie(case, pose):
        yield "A may not lie there"
    good = [*pairs, *(w for w in wrong if _both_take(takes, w))]
    facing = [w for w in wrong if not _both_take(takes, w)]
    if found.verdict == "GO":
        yield from _hidden(case, found, pose)
    yield from _margins(case, found, (pose, margin, worst), (good, facing))


Takers = tuple[dict[str, Hole], dict[str, Hole]]


def _takers(of: Fastening, side: Literal["a", "b"]) -> dict[str, Hole]:
    """The holes of a ply that could take the fastener, by name."""
    ply = of.a if side == "a" else of.b
    sizes = bolt_hole_range_mm(of.joint, side, of.fastener_mm)
    if ply.declared:
        return {h.label: h for h in ply.holes}
    return {h.label: h for h in ply.holes if sizes and sizes[0] <= h.diameter_mm <= sizes[1]}


def _both_take(takes: list[Takers], two: _Two) -> bool:
    return any(two.a.label in a and two.b.label in b for a, b in takes)


def _two(case: PatternCase, a: str, b: str, pose: Pose) -> _Two:
    """The two holes of these names and their fastening. Raises LookupError where no fastening has both."""
    for of in case.fastenings:
        ours, theirs = ([h for h in ply.holes if h.label == x] for ply, x in ((of.a, a), (of.b, b)))
        if ours and theirs:
            if len(ours) + len(theirs) > 2:  # noqa: PLR2004 - one of each
                raise LookupError(f"{a} or {b} names several holes")
            return _Two(ours[0], theirs[0], of, apart(_placed(ours[0], pose), _core(theirs[0])))
    raise LookupError(f"{a} and {b} take no fastener in common")


def _miscounted(found: Fit, takes: list[Takers], together: list[_Two]) -> Iterator[str]:
    """Holes that are named twice or not at all."""
    for side, unmatched in enumerate((found.unmatched_a, found.unmatched_b)):
        every = {label for both in takes for label in both[side]}
        told = [(t.a if side == 0 else t.b).label for t in together if _both_take(takes, t)]
        passing = [(p.a if side == 0 else p.b) for p in found.pairs]
        facing = {(t.a if side == 0 else t.b).label for t in together} - set(told)
        if any(n > 1 for n in Counter([*told, *unmatched]).values()) or not set(passing) <= set(told):
            yield "a hole is named twice"
        if every - {*told, *unmatched, *facing}:
            yield f"{min(every - {*told, *unmatched, *facing})} is missing from the answer"


def _mismeasured(found: Fit, pairs: list[_Two]) -> Iterator[str]:
    """Pairs that do not pass as is told of them, a verdict that does not follow."""
    for told, two in zip(found.pairs, pairs, strict=True):
        off, room = abs(told.offset_mm - two.offset_mm), abs(told.allowed_mm - two.room_mm)
        if off > _near_mm(told.offset_mm) or room > _near_mm(told.allowed_mm):
            yield f"{told.a} on {told.b} does not measure as reported"
        if abs(told.margin_mm - (two.room_mm - two.offset_mm)) > _near_mm(told.margin_mm):
            yield f"{told.a} on {told.b} does not have the margin reported"
        if found.verdict == "GO" and two.offset_mm > two.room_mm + max(TOUCH_MM, _tolerance_mm(pairs)):
            yield f"{told.a} on {told.b} does not pass"
    if found.verdict == "GO" and (found.wrong or not pairs or (found.margin_mm or 0.0) < 0):
        yield "a GO with wrong holes or without margin"


def _hidden(case: PatternCase, found: Fit, pose: Pose) -> Iterator[str]:
    """Holes that a GO leaves over though they face one another, or though all of their group are needed."""
    for of in case.fastenings:
        left_a = [h for h in of.a.holes if h.label in found.unmatched_a]
        left_b = [h for h in of.b.holes if h.label in found.unmatched_b]
        if (of.a.declared and left_a) or (of.b.declared and left_b):
            yield "a named hole is left over"
        met = {(a.label, b.label): _two(case, a.label, b.label, pose) for a in left_a for b in left_b}
        for (a, b), two in met.items():
            rivals = [x.offset_mm for (i, k), x in met.items() if (i == a) != (k == b)]
            if two.offset_mm <= two.astray_mm - NEAR_MM and all(two.offset_mm < x for x in rivals):
                yield f"{a} and {b} face one another"
        for hole in (*left_a, *left_b):
            ours, side = (True, "b") if hole in left_a else (False, "a")
            ply, sizes = (of.b if ours else of.a), bolt_hole_range_mm(of.joint, side, of.fastener_mm)  # type: ignore[arg-type]  # both are sides
            small = [h for h in ply.holes if not ply.declared and sizes and h.diameter_mm < sizes[0]]
            far = [
                apart(_placed(hole, pose), _core(s)) if ours else apart(_placed(s, pose), _core(hole))
                for s in small
            ]
            if far and min(far) <= hole.diameter_mm / 2 - NEAR_MM:
                yield f"{hole.label} faces a hole that is too small"


def _may_lie(case: PatternCase, pose: Pose) -> bool:
    """Whether A may lie there."""
    if case.position is None:
        return pose.turned_over in WAYS_UP[case.turned_over]
    return any(pose == p if isinstance(p, Pose) else _is_on(p, pose) for p in case.places)


def _is_on(guide: Guide, pose: Pose) -> bool:
    if guide.turned_over != pose.turned_over:
        return False
    if isinstance(guide, Slide):
        turn = math.remainder(pose.angle_deg - guide.pose.angle_deg, 360.0)
        move = complex(pose.x_mm - guide.pose.x_mm, pose.y_mm - guide.pose.y_mm) / complex(*guide.along)
        return abs(turn) <= TURN_DEG and abs(move.imag) <= NEAR_MM
    reach = max(map(abs, (*guide.about_a, *guide.about_b)))
    return math.dist(pose.place(guide.about_a), guide.about_b) <= max(NEAR_MM, 1e-12 * reach)


def _margins(
    case: PatternCase, found: Fit, told: tuple[Pose, float, float], laid: tuple[list[_Two], list[_Two]]
) -> Iterator[str]:
    """Margins that are not there, or that another pose exceeds."""
    (pose, margin, worst), (good, facing) = told, laid
    near = max(_near_mm(margin, worst), 2 * _tolerance_mm(good))
    here = min(t.room_mm - t.offset_mm for t in good + facing)
    if margin < here - near or (not found.wrong and margin > here + near):
        yield "the position does not have the margin reported"
    passage = min(t.passage_mm for t in good) if good else 0.0
    if worst > margin + near or (passage < -TOUCH_MM and worst > passage + near):
        yield "the worst case is better than it can be"
    charges = [t.charge_mm for t in good]
    alike = max(charges, default=0.0) - min(charges, default=0.0) <= NEAR_MM
    if alike and charges and worst > margin - charges[0] + near:
        yield "the worst case is better than what it takes leaves"
    if not good or (facing and margin >= min(t.room_mm - t.offset_mm for t in facing) - NEAR_MM):
        return  # what faces a hole that is too small has its margin at this pose
    places = case.places or (None,)
    if not any(_is_best(p, found, (pose, margin, worst), good, alike=alike) for p in places):
        yield "another pose may have more margin"


def _is_best(
    place: Pose | Guide | None, found: Fit, told: tuple[Pose, float, float], good: list[_Two], *, alike: bool
) -> bool:
    """Whether no pose of this place, the one of the answer, leaves the pairs more, and the worst case is there."""
    pose, margin, worst = told
    if place is None:
        return _certified(found, told, good, alike=alike)
    if isinstance(place, Pose):
        left = min(t.room_mm - t.charge_mm - t.offset_mm for t in good)
        return place == pose and worst <= left + _near_mm(margin, worst)
    if not _is_on(place, pose):
        return False
    drawn = [Met(_core(t.a), _core(t.b), t.room_mm) for t in good]
    hard = [replace(m, room_mm=m.room_mm - t.charge_mm) for m, t in zip(drawn, good, strict=True)]
    near = _near_mm(margin, worst) + _tolerance_mm(good, ROUND)
    return not leaves(place, drawn, margin + near, SLACK_MM) and (
        alike or leaves(place, hard, worst - near, SLACK_MM)
    )


def _certified(found: Fit, told: tuple[Pose, float, float], good: list[_Two], *, alike: bool) -> bool:
    """Whether the certificates of a free pose are those of these very pairs, and show the margins to be the largest."""
    (pose, margin, worst), proof = told, found.proof
    told_to = _near_mm(margin, worst)
    by_name = {(t.a.label, t.b.label): t for t in good}
    if proof is None or set(proof.pairs) != set(by_name) or len(proof.pairs) != len(good):
        return False
    rows, near = [by_name[p] for p in proof.pairs], _tolerance_mm(good)
    cores = [r.a.core for r in rows], [r.b.core for r in rows]
    rooms = [r.room_mm for r in rows]
    if not proves(
        *cores,
        rooms,
        proof.certificates,
        turned_over=pose.turned_over,
        margin_mm=margin + told_to,
        tolerance_mm=near,
    ):
        return False
    if alike:
        return True
    if proof.worst is None:
        return False
    certificates, there = proof.worst
    rooms = [r.room_mm - r.charge_mm for r in rows]
    if not proves(
        *cores,
        rooms,
        certificates,
        turned_over=pose.turned_over,
        margin_mm=worst + told_to,
        tolerance_mm=near,
    ):
        return False
    left = min(room - apart(_placed(r.a, there), _core(r.b)) for r, room in zip(rows, rooms, strict=True))
    return there.turned_over == pose.turned_over and worst <= left + 2 * near + told_to


def _near_mm(*told: float) -> float:
    """To how many mm these numbers are told; what is told as 0 may be off by what drawings do not carry."""
    return NEAR_MM + TOUCH_MM if 0.0 in told else NEAR_MM


def _tolerance_mm(pairs: list[_Two], of: tuple[float, float] | None = None) -> float:
    """To how many mm a margin of these pairs is proven."""
    slots = any(len(h.core) > 1 for t in pairs for h in (t.a, t.b))
    least, share = of or (SLOTS if slots else ROUND)
    reach = 0.0
    for side in ("a", "b"):
        ends = [complex(*p) for t in pairs for p in getattr(t, side).core]
        reach = max(reach, max((abs(z - sum(ends) / len(ends)) for z in ends), default=0.0))
    return max(least, share * reach)


def _core(hole: Hole) -> Segment:
    return complex(*hole.core[0]), complex(*hole.core[-1])


def _placed(hole: Hole, pose: Pose) -> Segment:
    """The core of a hole of A in B's coordinates."""
    turn = complex(math.cos(math.radians(pose.angle_deg)), math.sin(math.radians(pose.angle_deg)))
    first, last = ((z.conjugate() if pose.turned_over else z) for z in _core(hole))
    move = complex(pose.x_mm, pose.y_mm)
    return turn * first + move, turn * last + move
