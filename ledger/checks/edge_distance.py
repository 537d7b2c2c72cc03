"""
Bolt holes keep their distance from edges and from each other.

Distances run from the centre of the hole. Of the spacing only the least one along the force is looked at, because
the direction of the force is not known here. Structural use needs local codes and a licensed engineer.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._case import MateCase, PlacedPly
from ledger.checks._frame import DoesNotApply, NotChecked, check
from ledger.checks._webs import LEEWAY_MM, between, labels, to_edges
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.standards.edges import Distances, hole_distances
from ledger.standards.fasteners import Fastener, fastener
from ledger.standards.materials import material

_CAUTION = "structural use: local codes and a licensed engineer decide"


@check(
    on=MateCase,
    source="inch bolts ANSI/AISC 360-16 J3.3 and table J3.4; metric bolts EN 1993-1-8:2005 table 3.3; aluminium: "
    "Aluminum Design Manual, in part from memory",
    codes=("edge_near", "holes_near"),
    severity="warning",
    not_checked="greatest edge distance and spacing, rows across the force (p2), and what the bolts carry",
)
def edge_distance(case: MateCase) -> Iterator[Finding | NotChecked]:
    """
    A bolt near an edge tears out, and two near each other tear the plate between them.

    A hole that is near an edge on the drawing is also the one that comes out open when the sheet lies askew.
    """
    mate = case.mate
    if mate.kind != "bolted" or not mate.fastener.strip():
        raise DoesNotApply
    bolt = fastener(mate.fastener)
    for placed in case.plies:
        if placed.part.form != "cut":
            continue
        if placed.part.profile is None or placed.part.profile.outline is None:
            yield NotChecked(f"edge distances of {placed.part.number}: it has no outline")
            continue
        yield from _edges(case, placed, bolt)
        yield from _spacing(case, placed, bolt)


def _wanted(placed: PlacedPly, bolt: Fastener, hole_mm: float) -> Distances:
    known = material(placed.part.material)
    soft = known is not None and known.name.startswith("aluminium")
    return hole_distances(bolt, hole_mm, aluminium=soft)


def _edges(case: MateCase, placed: PlacedPly, bolt: Fastener) -> Iterator[Finding]:
    part = placed.part
    if part.profile is None:
        return
    away = to_edges(placed.holes, part.profile)
    short = [
        (away[h.label] - wanted.edge_mm, h.label, away[h.label], wanted)
        for h in placed.holes
        for wanted in (_wanted(placed, bolt, h.diameter_mm),)
        if not away[h.label] + LEEWAY_MM >= wanted.edge_mm
    ]
    if not short:
        return
    _, label, least, wanted = min(short, key=lambda s: s[:2])
    yield Finding(
        "edge_near",
        f"{part.number}: the centre of {label} is {least:.2f} mm from an edge, {wanted.edge_mm:.2f} mm is the least "
        f"({wanted.source.partition(':')[0]}); so are {labels(s[1] for s in short)}; {_CAUTION}",
        severity="warning",
        where=f"{case.mate.name}/{part.number}/edges",
        remedy=f"move {label} in by {show_mm(wanted.edge_mm - least)}, or let the plate be larger there",
        measured=f"{least:.2f} mm",
        limit=f"{wanted.edge_mm:.2f} mm",
    )


def _spacing(case: MateCase, placed: PlacedPly, bolt: Fastener) -> Iterator[Finding]:
    part = placed.part
    widest = max((_wanted(placed, bolt, h.diameter_mm).spacing_mm for h in placed.holes), default=0.0)
    short = []
    for a, b, apart in between(placed.holes, widest):
        wanted = max(
            (_wanted(placed, bolt, h.diameter_mm) for h in (a, b)), key=lambda found: found.spacing_mm
        )
        if not apart + LEEWAY_MM >= wanted.spacing_mm:
            short.append((apart, f"{a.label} and {b.label}", wanted))
    if not short:
        return
    apart, pair, wanted = min(short, key=lambda s: s[:2])
    yield Finding(
        "holes_near",
        f"{part.number}: {pair} are {apart:.2f} mm apart, {wanted.spacing_mm:.2f} mm is the least "
        f"({wanted.source.partition(':')[0]}); {len(short)} pair(s) are too near; {_CAUTION}",
        severity="warning",
        where=f"{case.mate.name}/{part.number}/spacing",
        remedy="set the holes further apart, or use a smaller bolt",
        measured=f"{apart:.2f} mm",
        limit=f"{wanted.spacing_mm:.2f} mm",
    )
