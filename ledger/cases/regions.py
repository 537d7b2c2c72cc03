"""
The two plies of a connection as regions in one plane, the first laid on the second.

A *region* is material: an outline less its holes and openings; of a ply that goes through *edge-on*, its
overall width by its thickness. A *coat* is the coating on an edge; each of two edges that face each other
takes its own from the gap between them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.cases.answers import DoesNotApply, NoDrawing, NotRun
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.fitting import coat_mm
from ledger.cases.surroundings import SurroundedConnection
from ledger.cases.thirds import spanning
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Point
from ledger.fit.candidates import tabulate
from ledger.fit.features import middle_of
from ledger.fit.gap import Gap, clears, inside, smallest_gap
from ledger.fit.overlap import Region
from ledger.fit.play import Held, play_mm
from ledger.fit.rims import united

IN_ONE_PLANE = ("beside", "passes through", "inside")
PLACES = 6  # a nanometre: below it a gap is arithmetic, not drawing
_BOTH = 2
_SAGITTA_MM = 0.1  # how far the play of an arc may be from that of its chords


def placed_regions(seen: SurroundedConnection) -> tuple[Region, Region]:
    """The first ply in the second one's coordinates, and the second. Raises NotRun or DoesNotApply."""
    if seen.case.connection.kind not in IN_ONE_PLANE:
        raise DoesNotApply
    return laid_regions(seen)


def laid_regions(seen: SurroundedConnection) -> tuple[Region, Region]:
    """Both plies of any connection, the first where it lies on the second. Raises NotRun."""
    case = seen.case
    connection = case.connection
    if len(case.plies) != _BOTH:
        raise NotRun(f"{connection.name} has {len(case.plies)} plies: enter them two by two")
    bolts = bolted_through(seen)
    pose = case.pose or (bolts.pose if bolts else None)
    if pose is None:
        raise NotRun(
            f"position of {case.plies[0].part.number} is not known: enter it in {connection.name}, or bolt both parts "
            f"to a third"
        )
    first, second = (material(p) for p in case.plies)
    return moved(first, pose), second


@dataclass(frozen=True, slots=True)
class Bolted:
    """A third part that both plies are bolted to: where the first lies on the second, and how far they play."""

    third: str
    pose: Pose
    play_mm: float


def bolted_through(seen: SurroundedConnection) -> Bolted | None:
    """The third part to which both plies are bolted so that it goes together; None without one."""
    for span in spanning(seen):
        (of_a, of_b), (one, other) = span.places, (span.first, span.second)
        if _goes(one) and _goes(other) and one.pose and other.pose:
            a_on_third, b_on_third = on_other(one.pose, of_a), on_other(other.pose, of_b)
            play = played_mm(one, of_a, a_on_third) + played_mm(other, of_b, b_on_third)
            return Bolted(span.through.part.number, b_on_third.back.after(a_on_third), play)
    return None


def on_other(pose: Pose, place: int) -> Pose:
    """Where the ply at a place lies on the other, of a pose that lays the first on the second."""
    return pose.back if place else pose


def _goes(other: ConnectionCase) -> bool:
    fit = other.best_fit
    return fit is not None and fit.verdict == "GO"


def played_mm(bolted: ConnectionCase, place: int, pose: Pose, points: Sequence[Point] = ()) -> float:
    """
    How far a ply can move on the other with the largest holes; `pose` lays it there.

    Counted are these points of it, in the other's coordinates; without any its whole outline.
    Holes are taken to come out as much too large as their process may leave them too small.
    """
    fit, pattern = bolted.best_fit, bolted.pattern
    moving, staying = bolted.plies[place].part, bolted.plies[1 - place].part
    outline = moving.profile.outline if moving.profile else None
    if fit is None or pattern is None or outline is None:
        return math.inf
    larger = float(tabulate(pattern).charge.max())
    held = []
    for pair in fit.pairs:
        ours, theirs = (pair.a, pair.b) if place == 0 else (pair.b, pair.a)
        hole, other = moving.hole(ours), staying.hole(theirs)
        if hole is not None and other is not None:
            held.append(Held(tuple(pose.place(p) for p in hole.core), other.core, pair.allowed_mm + larger))
    return play_mm(held, [*points] or [pose.place(p) for p in outline.flattened(_SAGITTA_MM)])


def gap_as_drawn(seen: SurroundedConnection) -> Gap:
    """The tightest place between two plies in one plane, coats not counted. Raises NotRun, DoesNotApply."""
    case = seen.case
    first, second = placed_regions(seen)
    if case.connection.kind == "beside":
        return smallest_gap(first, second)
    if case.connection.kind == "inside":
        return room_inside(case, first.outline)[0]
    return room_in_opening(case, first.outline)


def edge_coats_mm(case: ConnectionCase) -> float:
    """What the coating takes from every gap between the two plies."""
    return sum(coat_mm(p) for p in case.plies if not p.part.masks.bare_edges)


def room_in_opening(case: ConnectionCase, passing: Contour) -> Gap:
    """The gap in the opening of the second ply with the most room: those its group names, else any."""
    second = case.plies[1]
    rims = united(_rims(second))
    if not rims:
        raise NotRun(f"{second.part.number} has no opening for {case.plies[0].part.number} to pass through")
    return max((clears(passing, rim) for rim in rims), key=lambda gap: gap.distance_mm)


def room_inside(case: ConnectionCase, staying: Contour) -> tuple[Gap, str]:
    """
    The gap within which the first ply stays inside the second, and what it is: "bore" or "envelope".

    A bore is the opening that the second ply's group names, else the one in which the middle of the first ply lies.
    Without one, the second ply is an envelope, and its outline counts. But a ply that lies on material, beside an
    opening that could have been meant for it, is measured to the largest opening: it is outside of it.
    """
    second, outline = case.plies[1], material(case.plies[1]).outline
    rims = united(_rims(second))
    if second.ply.group and rims:
        return max((clears(staying, rim) for rim in rims), key=lambda gap: gap.distance_mm), "bore"
    middle = middle_of(staying)
    bores = [rim for rim in rims if inside(rim, middle)]
    if not bores:
        large = abs(staying.area_mm2) / 2
        bores = sorted((r for r in rims if abs(r.area_mm2) >= large), key=lambda r: abs(r.area_mm2))[-1:]
    return (clears(staying, bores[0]), "bore") if bores else (clears(staying, outline), "envelope")


def _rims(placed: PlacedPly) -> tuple[Contour, ...]:
    """The openings and holes of a ply: those of its group, else all."""
    if placed.ply.group:
        return tuple(h.contour() for h in placed.holes)
    openings = placed.part.profile.openings if placed.part.profile else ()
    return (*openings, *(h.contour() for h in placed.part.holes))


def _edge_on(placed: PlacedPly) -> Region:
    """A plate seen on its edge: overall width by thickness about the origin, wherever it is cut across."""
    profile, thickness = placed.part.profile, placed.part.thickness
    size = profile.size_mm if profile else None
    if size is None and thickness is not None:
        raise NoDrawing(f"{placed.part.number} goes through edge-on: take its drawing", placed.part.number)
    if size is None or thickness is None:
        raise NotRun(f"{placed.part.number} goes through edge-on: take its drawing and give its thickness")
    x, y = size[0] / 2, float(thickness.mm) / 2
    return Region(Contour(((-x, -y, 0.0), (x, -y, 0.0), (x, y, 0.0), (-x, y, 0.0))), ())


def material(placed: PlacedPly) -> Region:
    """A ply's material in its own coordinates. Raises NotRun without an outline."""
    if placed.ply.face_up == "edge":
        return _edge_on(placed)
    profile = placed.part.profile
    if profile is None or profile.outline is None:
        raise NoDrawing(f"{placed.part.number} has no outline: take its drawing", placed.part.number)
    return Region(profile.outline, (*profile.openings, *(h.contour() for h in profile.holes)))


def moved(region: Region, pose: Pose) -> Region:
    """A region where a pose lays it."""
    return Region(pose.place_contour(region.outline), tuple(pose.place_contour(c) for c in region.cutouts))
