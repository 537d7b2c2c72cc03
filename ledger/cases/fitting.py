"""
From a connection's records to the numbers that the fit needs: worst-case holes, tolerances, fasteners.

Coating counts: a coating of thickness f per face makes a hole smaller by 2 f in diameter. A process says how much
smaller a hole may come out and how far it may be out; a measured hole is out by its uncertainty. Where the connection
states the place, a measured hole is out against its frame, and a group by the bends between it and what it is placed
from, too. A held fastener leans with its hole: without a projected zone it is out by more the further it sticks out.
Only holes that the connection speaks of are read: a doubt about another one is not in the ply's face. Masked holes keep
their size where all of those are masked; a coat on one of them counts on all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import islice, product
from typing import TYPE_CHECKING, cast, get_args

from ledger.cases.bending import strayed
from ledger.domain.bend import ends_of
from ledger.domain.connection import Sides
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.joint import Joint
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole
from ledger.fit.case import MOST_WAYS, Fastening
from ledger.fit.guide import Guide
from ledger.fit.joint import LARGEST_CLEARANCE, unprojected_mm
from ledger.fit.pattern import Fit, PatternCase, Ply, TurnedOver, fit
from ledger.fit.pins import by_pins
from ledger.fit.sides import flush
from ledger.fit.stack import StackCase, StackFastening, StackFit, fit_stack
from ledger.fit.ways import Bent, Plate
from ledger.standards.clearance_holes import hole_classes
from ledger.standards.cuts import hole_shrink
from ledger.standards.fasteners import fastener
from ledger.standards.processes import process

if TYPE_CHECKING:
    from ledger.cases.connections import ConnectionCase, PlacedPly

_BOTH = 2
_EXPANDED = 2.0  # the coverage factor k of an expanded uncertainty (GUM 6.2)
_HELD_BY_LAST = ("tapped", "stud", "captive nut", "dowel", "countersunk tapped")


def pattern_case(case: ConnectionCase) -> PatternCase | None:
    """What the fit of the first ply on the second is given; None but for two bolted plies."""
    connection = case.connection
    if connection.kind != "bolted" or len(case.plies) != _BOTH or connection.joint not in get_args(Joint):
        return None
    own, *also = (f.between(0, 1) for f in fastenings(case))
    return PatternCase(
        a=own.a,
        b=own.b,
        fastener_mm=own.fastener_mm,
        largest_fastener_mm=own.largest_fastener_mm,
        joint=own.joint,
        turned_over=cast("TurnedOver", connection.turned_over),
        position=_places(case, also),
        also=tuple(also),
    )


def _fastening(case: ConnectionCase, name: str, joint: str, groups: tuple[str, ...] = ()) -> StackFastening:
    """
    One fastener of the connection with the holes of every ply that take it: those of these groups, else the
    connection's own.
    """
    bolt = fastener(name)
    lean = _lean(case.plies) if joint in _HELD_BY_LAST else 1.0
    framed = isinstance(case.connection.position, Pose)
    *first, last = _through(case, groups)
    size_mm = bolt.shank_mm
    return StackFastening(
        (*(_worst(p, size_mm, framed=framed) for p in first), _worst(last, size_mm, lean, framed=framed)),
        size_mm, bolt.largest_mm, cast("Joint", joint),
    )  # fmt: skip


def fastenings(case: ConnectionCase) -> tuple[StackFastening, ...]:
    """The connection's own fastener and the others."""
    connection = case.connection
    return (
        _fastening(case, connection.fastener, connection.joint),
        *(_fastening(case, more.fastener, more.joint, more.groups) for more in connection.also),
    )


def _through(case: ConnectionCase, groups: tuple[str, ...]) -> tuple[PlacedPly, ...]:
    """The plies with the holes of these groups; without groups with the connection's own."""
    if not groups:
        return case.plies
    return tuple(
        replace(placed, ply=replace(placed.ply, group=group, also=()))
        for placed, group in zip(case.plies, groups, strict=True)
    )


def _places(case: ConnectionCase, also: Sequence[Fastening]) -> Pose | tuple[Pose | Guide, ...] | None:
    """Where the first ply may lie on the second. Raises BadInput where its sides or pins cannot say."""
    connection = case.connection
    if connection.position is None or isinstance(connection.position, Pose):
        return connection.position
    if isinstance(connection.position, Sides):
        return flush_places(case, connection.position, cast("TurnedOver", connection.turned_over))
    return by_pins([f for f in also if f.joint == "dowel"], cast("TurnedOver", connection.turned_over))


def flush_places(case: ConnectionCase, sides: Sides, turned_over: TurnedOver) -> tuple[Pose | Guide, ...]:
    """Where flush sides let the first of two plies lie. Raises BadInput without outlines or straight sides."""
    outlines = [p.part.profile.outline if p.part.profile else None for p in case.plies]
    first, second = (p.part.number for p in case.plies)
    if outlines[0] is None or outlines[1] is None:
        without = first if outlines[0] is None else second
        raise BadInput(f"{without} has no outline to be flush with: take its drawing, or enter a position")
    return flush(sides, outlines[0], outlines[1], turned_over, (first, second))


def flush_pose(case: ConnectionCase) -> Pose | None:
    """Where two flush sides put the first ply; None where one side leaves a slide or a side is not straight."""
    try:
        places = _places(case, ())
    except BadInput:
        return None
    poses = [p for p in places if isinstance(p, Pose)] if isinstance(places, tuple) else []
    return poses[0] if len(poses) == 1 else None


def best_fit(case: ConnectionCase) -> Fit | None:
    """The first ply fitted on the second, nominal and worst case; None but for two bolted plies that can be placed."""
    try:
        pattern = case.pattern
    except BadInput:  # told by the alignment of the holes
        return None
    return fit(pattern) if pattern else None


def clearance_classes(case: ConnectionCase) -> tuple[dict[str, float], ...]:
    """For each fastener of the connection its clearance holes by name of class; none where no table has its size."""
    return tuple(_classes(named) for named in fasteners_of(case))


def fasteners_of(case: ConnectionCase) -> tuple[str, ...]:
    """The connection's own fastener and those beside it, in the order of the pattern's fastenings."""
    return (case.connection.fastener, *(more.fastener for more in case.connection.also))


def _classes(named: str) -> dict[str, float]:
    try:
        return dict(hole_classes(named))
    except UnknownName:
        return {}


def rings_of(placed: PlacedPly) -> tuple[Contour, ...]:
    """Outline and openings of a ply that has a drawing."""
    profile = placed.part.profile
    return (profile.outline, *profile.openings) if profile and profile.outline else ()


def plate_of(placed: PlacedPly) -> Plate:
    """What is seen of a ply: its rings, every hole of its part, its bend lines and which way they are bent."""
    part = placed.part
    ends = {label: ends_of(stroke) for label, stroke in part.bend_lines.items()}
    said = {bend.label: bend.direction for bend in part.bends}
    bends = tuple(Bent(*line, said.get(label, "")) for label, line in ends.items() if line)
    return Plate(rings_of(placed), part.holes, bends)


def stack_fit(case: ConnectionCase) -> StackFit | None:
    """Three and more bolted plies fitted at once; None for anything else. Raises BadInput where they cannot be."""
    connection = case.connection
    if connection.kind != "bolted" or len(case.plies) <= _BOTH or connection.joint not in get_args(Joint):
        return None
    own, *also = fastenings(case)
    return fit_stack(
        StackCase(
            own.plies, own.fastener_mm, own.largest_fastener_mm, own.joint, cast("TurnedOver", connection.turned_over),
            also=tuple(also), places=_stack_places(case, also),
        )
    )  # fmt: skip


def _stack_places(case: ConnectionCase, also: Sequence[StackFastening]) -> tuple[tuple[Pose, ...], ...]:
    """The ways in which the plies of a stack may lie, each ply on the last. Raises BadInput where they stay free."""
    position = case.connection.position
    if position is None:
        return ()
    last = len(case.plies) - 1
    if isinstance(position, Pose):  # of the first on the others, which lie as drawn
        return ((position, *(Pose() for _ in range(last))),)
    ways: list[tuple[Pose, ...]] = []
    for k in range(last):
        turned_over = cast("TurnedOver", case.connection.turned_over if k == 0 else "no")
        if isinstance(position, Sides):
            sides = position if k == 0 else Sides(tuple((b, b) for _, b in position.pairs))
            places = flush_places(replace(case, plies=(case.plies[k], case.plies[last])), sides, turned_over)
        else:
            places = by_pins([f.between(k, last) for f in also if f.joint == "dowel"], turned_over)
        poses = tuple(p for p in places if isinstance(p, Pose))
        if len(poses) < len(places):
            raise BadInput(
                f"one side or one pin leaves {case.plies[k].part.number} free to slide or turn in the stack: name two, "
                f"or enter a position"
            )
        ways.append(poses)
    return tuple((*way, Pose()) for way in islice(product(*ways), MOST_WAYS))


def _lean(plies: tuple[PlacedPly, ...]) -> float:
    """
    How much more a held fastener is out than its hole, for want of a projected zone: 1 + 2 P / D.

    P is the thickness of what it stands through, D that of the last ply, which holds it; 1 where either is not known.
    """
    *through, engaged = (p.part.thickness for p in plies)
    if engaged is None or not engaged.mm > 0 or any(t is None for t in through):
        return 1.0
    standing = sum(float(t.mm) for t in through if t is not None)
    return unprojected_mm(1.0, clearance_ply_mm=standing, engagement_mm=float(engaged.mm))


def _worst(placed: PlacedPly, bolt_mm: float, lean: float = 1.0, *, framed: bool = False) -> Ply:
    """A ply's holes with how far they may be out (times the lean) and how much smaller they may come out."""
    part = placed.part
    declared = bool(placed.ply.group)
    outline = part.profile.outline if part.profile else None
    if part.form == "cut":
        made = process(part.process)
        bare = part.masks.bare_holes(h.label for h in placed.holes)
        coats_mm = 0.0 if bare else 2 * coat_mm(placed)
        thick_mm = float(part.thickness.mm) if part.thickness is not None else math.nan
        shrink_mm = shrink_of(placed.holes, bolt_mm, part.process, thick_mm) + coats_mm
        zone_mm = made.position_mm + (
            strayed(part, part.group(placed.ply.group), placed.holes).zone_mm if framed else 0.0
        )
        return Ply(
            placed.holes, declared, lean * zone_mm, shrink_mm, coats_mm, _sigmas(lean), outline, placed.others
        )
    spoken_of = {h.label for h in placed.holes}
    doubts = [
        float(doubt.mm)
        for m in part.measured_holes
        for doubt in (m.uncertainty, m.framed if framed else None)
        if doubt and m.hole.label in spoken_of
    ]
    stray_mm = lean * 2 * max(doubts, default=0.0)
    return Ply(
        placed.holes, declared, position_mm=stray_mm, sigmas=_sigmas(lean, _EXPANDED),
        outline=outline, others=placed.others,
    )  # fmt: skip


def _sigmas(lean: float, of_zone: float = 3.0) -> float:
    """
    How many standard deviations half of a leaning hole's zone is, where half of its zone at the face is `of_zone`.

    Both ends of a hole of depth D are out by s each. At P above the face the axis is then out by x + (x - y) P / D,
    that is by s times the root of (1 + P/D)² + (P/D)²; at most, with both ends out to opposite sides, by 1 + 2 P/D
    (ASME Y14.5 appendix B). Own derivation.
    """
    over = (lean - 1) / 2
    return of_zone * lean / math.hypot(1 + over, over)


def shrink_of(holes: Iterable[Hole], bolt_mm: float, process_name: str, thickness_mm: float) -> float:
    """
    How much smaller any hole that could take a bolt of this diameter may come out, by process and thickness.

    A thickness that is not finite is not known.
    """
    sizes = [h.diameter_mm for h in holes if h.diameter_mm < LARGEST_CLEARANCE * bolt_mm]
    thick_mm = thickness_mm if math.isfinite(thickness_mm) else None
    return hole_shrink(process_name, thick_mm, max(sizes, default=bolt_mm)).shrink_mm


def coat_mm(placed: PlacedPly) -> float:
    """The coating on one face of a part that is still to be coated; what was measured has its coat already."""
    part = placed.part
    return float(part.coating_thickness.mm) if part.coating_thickness and part.form == "cut" else 0.0
