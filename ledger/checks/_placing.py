"""
The two plies of a mate as regions in one plane, the first laid on the second.

A *region* is material: an outline less its holes and openings; of a ply that goes through *edge-on*, its
overall width by its thickness. A *coat* is the finish on an edge; each of two edges that face each other
takes its own from the gap between them.
"""

from __future__ import annotations

from ledger.checks._case import MateCase, PlacedPly
from ledger.checks._fitting import coat_mm
from ledger.checks._frame import DoesNotApply, NotRun
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour
from ledger.fit.gap import Gap, clears
from ledger.fit.overlap import Region

IN_ONE_PLANE = ("beside", "passes", "inside")
PLACES = 6  # a nanometre: below it a gap is arithmetic, not drawing
_BOTH = 2


def placed_regions(case: MateCase) -> tuple[Region, Region]:
    """The first ply in the second one's coordinates, and the second. Raises NotRun or DoesNotApply."""
    if case.mate.kind not in IN_ONE_PLANE:
        raise DoesNotApply
    return laid_regions(case)


def laid_regions(case: MateCase) -> tuple[Region, Region]:
    """Both plies of any mate, the first where it lies on the second. Raises NotRun."""
    mate = case.mate
    if len(case.plies) != _BOTH:
        raise NotRun(f"{mate.name} has {len(case.plies)} plies: declare them two by two")
    pose = case.pose
    if pose is None:
        raise NotRun(
            f"it is not known where {case.plies[0].part.number} lies: state its position in {mate.name}"
        )
    first, second = (_material(p) for p in case.plies)
    return _moved(first, pose), second


def edge_coats_mm(case: MateCase) -> float:
    """What the finish takes from every gap between the two plies."""
    return sum(coat_mm(p) for p in case.plies if not p.part.masks.bare_edges)


def room_in_opening(case: MateCase, passing: Contour) -> Gap:
    """The gap in the opening of the second ply with the most room: those its group names, else any."""
    second = case.plies[1]
    if second.ply.group:
        rims = [h.contour() for h in second.holes]
    else:
        openings = second.part.profile.openings if second.part.profile else ()
        rims = [*openings, *(h.contour() for h in second.part.holes)]
    if not rims:
        raise NotRun(f"{second.part.number} has no opening for {case.plies[0].part.number} to pass through")
    return max((clears(passing, rim) for rim in rims), key=lambda gap: gap.distance_mm)


def _edge_on(placed: PlacedPly) -> Region:
    """A plate seen on its edge: overall width by thickness about the origin, wherever it is cut across."""
    profile, thickness = placed.part.profile, placed.part.thickness
    size = profile.size_mm if profile else None
    if size is None or thickness is None:
        raise NotRun(f"{placed.part.number} goes through edge-on: take its drawing and give its thickness")
    x, y = size[0] / 2, float(thickness.mm) / 2
    return Region(Contour(((-x, -y, 0.0), (x, -y, 0.0), (x, y, 0.0), (-x, y, 0.0))), ())


def _material(placed: PlacedPly) -> Region:
    if placed.ply.face_up == "edge":
        return _edge_on(placed)
    profile = placed.part.profile
    if profile is None or profile.outline is None:
        raise NotRun(f"{placed.part.number} has no outline: take its drawing")
    return Region(profile.outline, (*profile.openings, *(h.contour() for h in profile.holes)))


def _moved(region: Region, pose: Pose) -> Region:
    return Region(pose.place_contour(region.outline), tuple(pose.place_contour(c) for c in region.cutouts))
