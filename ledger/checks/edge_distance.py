"""
Bolt holes keep their distance from edges and from each other.

Distances run from the center of the hole. The direction of the force is not known here: a spacing that would do along
it only is a note, and so are the greatest distances, which count for plates that are exposed or in compression.
Structural use needs local codes and a licensed engineer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.checks._webs import LEEWAY_MM, between, labels, nearest_of, to_edges
from ledger.domain.finding import Finding
from ledger.domain.plural import counted
from ledger.domain.quantity import show_mm
from ledger.domain.shape import Hole
from ledger.standards.edges import Distances, greatest_distances, hole_distances
from ledger.standards.fasteners import Fastener, fastener
from ledger.standards.materials import material
from ledger.standards.processes import process

_SHEARED = "punched"  # a punched outline is a sheared edge
_CAUTION = "structural use: local codes and a licensed engineer decide"


@check(
    on=ConnectionCase,
    source="inch bolts, and metric ones to ASTM, ANSI/AISC 360-16 J3.3 to J3.5 and tables J3.4, J3.4M; other metric "
    "bolts EN 1993-1-8:2005 table 3.3; aluminum: Aluminum Design Manual, in part from memory",
    codes=("edge_near", "holes_near", "holes_near_across", "edge_far", "holes_far"),
    severity="warning",
    not_checked="the direction of the force, staggered rows, and what the bolts carry",
)
def edge_distance(case: ConnectionCase) -> Iterator[Finding | NotChecked]:
    """
    A bolt near an edge tears out, and two near each other tear the plate between them.

    A hole that is near an edge on the drawing is also the one that comes out open when the sheet lies askew.
    """
    connection = case.connection
    if connection.kind != "bolted" or not connection.fastener.strip():
        raise DoesNotApply
    bolt = fastener(connection.fastener)
    for placed in case.plies:
        if placed.part.form != "cut":
            continue
        if placed.part.profile is None or placed.part.profile.outline is None:
            yield NotChecked(f"edge distances of {placed.part.number}: it has no outline")
            continue
        yield from _edges(case, placed, bolt)
        yield from _spacing(case, placed, bolt)
        yield from _far(case, placed, bolt)


def _expected(placed: PlacedPly, bolt: Fastener, hole: Hole) -> Distances:
    known = material(placed.part.material)
    soft = known is not None and known.name.startswith("aluminium")
    sheared = bool(placed.part.process.strip()) and process(placed.part.process).name == _SHEARED
    slot = math.dist(hole.core[0], hole.core[-1])
    return hole_distances(bolt, hole.diameter_mm, slot_mm=slot, aluminium=soft, sheared=sheared)


def _edges(case: ConnectionCase, placed: PlacedPly, bolt: Fastener) -> Iterator[Finding]:
    part = placed.part
    if part.profile is None:
        return
    away = to_edges(placed.holes, part.profile)
    short = [
        (away[h.label] - expected.edge_mm, h.label, away[h.label], expected)
        for h in placed.holes
        for expected in (_expected(placed, bolt, h),)
        if not away[h.label] + LEEWAY_MM >= expected.edge_mm
    ]
    if not short:
        return
    _, label, least, expected = min(short, key=lambda s: s[:2])
    found = Finding(
        "edge_near",
        f"{part.number}: the center of {label} is {least:.2f} mm from an edge, minimum {expected.edge_mm:.2f} mm "
        f"({expected.source.partition(':')[0]}); so are {labels(s[1] for s in short)}; {_CAUTION}",
        severity="warning",
        where=f"{case.connection.name}/{part.number}/edges",
        fix=joined(
            [
                (part, f"move {label} of {part.number} in by {show_mm(expected.edge_mm - least)}"),
                (part, "let the plate be larger there"),
            ],
            "use a smaller bolt, or bolt through other holes",
        ),
        measured=f"{least:.2f} mm",
        limit=f"{expected.edge_mm:.2f} mm",
    )
    alike = len({s[3].edge_mm for s in short}) == 1  # else one value would not tell how near each of them is
    yield found.held_to(least, expected.edge_mm) if alike else found


def _spacing(case: ConnectionCase, placed: PlacedPly, bolt: Fastener) -> Iterator[Finding]:
    expected = {h.label: _expected(placed, bolt, h) for h in placed.holes}
    widest = max((max(w.spacing_mm, w.across_mm or 0.0) for w in expected.values()), default=0.0)
    short, tight = [], []
    for a, b, apart in between(placed.holes, widest):
        along = max((expected[h.label] for h in (a, b)), key=lambda found: found.spacing_mm)
        pair = (apart, f"{a.label} and {b.label}", along)
        if not apart + LEEWAY_MM >= along.spacing_mm:
            short.append(pair)
        elif along.across_mm is not None and not apart + LEEWAY_MM >= along.across_mm:
            tight.append(pair)
    if short:
        yield _near(case, placed, short)
    if tight:
        yield _near_across(case, placed, tight)


def _near(case: ConnectionCase, placed: PlacedPly, short: list[tuple[float, str, Distances]]) -> Finding:
    apart, pair, expected = min(short, key=lambda s: s[:2])
    found = Finding(
        "holes_near",
        f"{placed.part.number}: {pair} are {apart:.2f} mm apart, minimum {expected.spacing_mm:.2f} mm "
        f"({expected.source.partition(':')[0]}); {counted(len(short), 'pair is', 'pairs are')} too close; {_CAUTION}",
        severity="warning",
        where=f"{case.connection.name}/{placed.part.number}/spacing",
        fix=joined(
            [
                (placed.part, f"set the holes of {placed.part.number} further apart"),
                (None, "use a smaller bolt"),
            ]
        ),
        measured=f"{apart:.2f} mm",
        limit=f"{expected.spacing_mm:.2f} mm",
    )
    alike = len({s[2].spacing_mm for s in short}) == 1
    return found.held_to(apart, expected.spacing_mm) if alike else found


def _near_across(
    case: ConnectionCase, placed: PlacedPly, tight: list[tuple[float, str, Distances]]
) -> Finding:
    apart, pair, expected = min(tight, key=lambda s: s[:2])
    return Finding(
        "holes_near_across",
        f"{placed.part.number}: {pair} are {apart:.2f} mm apart, enough along the force; across it "
        f"minimum {expected.across_mm or 0.0:.2f} mm ({expected.source.partition(':')[0]}); {_CAUTION}",
        severity="note",
        where=f"{case.connection.name}/{placed.part.number}/spacing across",
        measured=f"{apart:.2f} mm",
        limit=f"{expected.across_mm or 0.0:.2f} mm",
    )


def _far(case: ConnectionCase, placed: PlacedPly, bolt: Fastener) -> Iterator[Finding]:
    """Further apart than exposed plates may be; told of the part's outermost hole and the loneliest one."""
    part = placed.part
    if part.profile is None or part.thickness is None or not part.thickness.mm > 0 or not placed.holes:
        return
    most = greatest_distances(bolt, float(part.thickness.mm))
    where, source = f"{case.connection.name}/{part.number}", most.source.partition(":")[0]
    edge, label = min((away, label) for label, away in to_edges(part.holes, part.profile).items())
    if not edge - LEEWAY_MM <= most.edge_mm:
        yield Finding(
            "edge_far",
            f"{part.number}: {label} is nearest to an edge, at {edge:.2f} mm; maximum {most.edge_mm:.2f} mm where "
            f"exposed ({source})",
            severity="note",
            where=f"{where}/edges far",
            measured=f"{edge:.2f} mm",
            limit=f"{most.edge_mm:.2f} mm",
        )
    lonely = max(nearest_of(placed.holes).items(), key=lambda item: item[1], default=("", 0.0))
    if not lonely[1] - LEEWAY_MM <= most.spacing_mm:
        yield Finding(
            "holes_far",
            f"{part.number}: spacing at {lonely[0]} is {lonely[1]:.2f} mm; maximum {most.spacing_mm:.2f} mm where "
            f"exposed or in compression ({source})",
            severity="note",
            where=f"{where}/spacing far",
            measured=f"{lonely[1]:.2f} mm",
            limit=f"{most.spacing_mm:.2f} mm",
        )
