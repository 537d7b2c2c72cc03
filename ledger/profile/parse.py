"""
DXF bytes to a profile, in this process: load, walk, join, nest, and say what was found.

Runs in the child that can be killed (`child`); the bytes have been scanned before (`scan`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from ledger.domain.errors import Unreadable, visible
from ledger.domain.finding import SEVERITIES, Finding
from ledger.domain.shape import Profile, Stroke
from ledger.profile.affine import scaled
from ledger.profile.contours import join
from ledger.profile.crossing import Plates
from ledger.profile.departures import departures
from ledger.profile.layers import Layers, layer_table
from ledger.profile.load import load
from ledger.profile.nest import nest
from ledger.profile.piece import Piece
from ledger.profile.recognise import no_profile
from ledger.profile.ring import backward, without_noise
from ledger.profile.scan import Scan
from ledger.profile.threads import without_threads
from ledger.profile.twins import without_twins
from ledger.profile.units import Reckoning, Unit, doubt, doubtful, reckon
from ledger.profile.walk import Drawn, walk
from ledger.profile.weigh import Reading, readings, side_by_side, speaks_against

MOST_MM = 1e6
MOST_POINTS = 400_000
MOST_OF_A_CODE = 20
_MOST_OF = {"drawing_words": 200, "dimension_differs": 200}  # they are compared with the record one by one
_UNIT_CODES = ("unit_missing", "unit_doubtful")


def parse(data: bytes, seen: Scan, *, unit: str | None, roles: Mapping[str, str] | None) -> Profile:
    """The profile of a scanned file. Raises Unreadable, and BadInput for an unknown unit or role."""
    reckoning = reckon(seen.insunits, seen.measurement, unit)
    document, recovered = load(data, seen)
    layers = Layers(layer_table(document), roles)
    drawn = walk(document, scaled(reckoning.used.mm), layers, seen)
    _size_allowed(drawn, reckoning)
    cut, threads = without_threads(drawn.cut)
    contours = join(cut, drawn.empty)
    rings, doubled = without_twins(contours.rings)
    plates = Plates(rings)
    nested = nest(plates, contours.broken, threads)
    findings = [
        *reckoning.findings,
        *no_profile(drawn, contours),
        *_recovered(recovered),
        *drawn.findings(),
        *contours.findings,
        *doubled,
        *plates.findings,
        *nested.findings,
        *departures(nested.holes),
    ]
    profile = Profile(
        outline=nested.outline,
        holes=nested.holes,
        openings=nested.openings,
        outlines=nested.outlines,
        marks=_strokes(drawn.marks),
        bends=_strokes(drawn.bends),
        findings=_in_order(findings),
        unit_declared=reckoning.declared.name if reckoning.declared else None,
        unit_used=reckoning.used.name,
        unit_sure=reckoning.sure,
        layers=tuple(sorted(drawn.layers)),
    )
    return _doubted(profile, reckoning.used) if unit is None else _stated(profile, reckoning)


def _stated(profile: Profile, reckoning: Reckoning) -> Profile:
    """The profile in the unit that the user stated: doubted only where the header's own unit is much likelier."""
    size, holes, own = profile.size_mm, [h.diameter_mm for h in profile.holes], reckoning.declared
    if size is None or own is None or own == reckoning.used:
        return profile
    seen = readings(reckoning.used, size, holes)
    if not doubtful(size, holes) or not any(r.unit == own and r.plausible for r in seen):
        return profile
    says = f"the file says its unit is {own.name}; entered is"
    found = _weighed(doubt(reckoning.used, size, holes, says=says), seen)
    return replace(profile, findings=_in_order([*profile.findings, found]))


def _doubted(profile: Profile, used: Unit) -> Profile:
    """The profile with what speaks for and against its unit; without any size nothing does."""
    size, holes = profile.size_mm, [h.diameter_mm for h in profile.holes]
    if size is None:
        return profile
    seen = readings(used, size, holes)
    findings = list(profile.findings)
    if profile.unit_sure:
        if not (doubtful(size, holes) or speaks_against(seen, used)):
            return profile
        findings.append(doubt(used, size, holes))
    weighed = [_weighed(f, seen) if f.code in _UNIT_CODES else f for f in findings]
    return replace(profile, unit_sure=False, findings=_in_order(weighed))


def _weighed(finding: Finding, seen: Sequence[Reading]) -> Finding:
    return replace(finding, message=f"{finding.message}; the drawing is {side_by_side(seen)}")


def _size_allowed(drawn: Drawn, reckoning: Reckoning) -> None:
    pieces = [*drawn.cut, *drawn.marks, *drawn.bends]
    if sum(len(p.vertices) for p in pieces) > MOST_POINTS:
        raise Unreadable(
            f"the curves need more than {MOST_POINTS} points; draw them as arcs and export again"
        )
    for piece in pieces:
        if not all(abs(v) <= MOST_MM for v in piece.box):
            raise Unreadable(
                f"{piece.where} reaches past {MOST_MM / 1e6:g} km when read in {reckoning.used.name}; "
                "enter the unit the drawing was made in (--unit), or delete that entity"
            )


def _recovered(recovered: bool) -> Iterator[Finding]:
    if recovered:
        yield Finding(
            "only_recovered",
            "the file is damaged; it was read by guessing at what is missing",
            where="the file",
            fix="write a clean copy, look at it, and take that as a new file",
        )


def _strokes(pieces: Sequence[Piece]) -> tuple[Stroke, ...]:
    """Marks and bend lines in an order of their own; each runs from its lower, left end."""
    strokes = []
    for piece in pieces:
        vertices = piece.vertices
        if piece.closed:
            ring = piece.contour().canonical().vertices
            vertices = (*ring, (*ring[0][:2], 0.0))
        elif (piece.end[1], piece.end[0]) < (piece.start[1], piece.start[0]):
            vertices = backward(vertices)
        strokes.append(Stroke(without_noise(vertices), visible(piece.layer)))
    return tuple(sorted(strokes, key=lambda s: (s.vertices, s.layer)))


def _in_order(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Stops first; the same whatever the order of entities. Of one code at most MOST_OF_A_CODE are told."""
    ordered = sorted(findings, key=lambda f: (SEVERITIES.index(f.severity), f.code, f.where, f.message))
    told: Counter[str] = Counter()
    out: list[Finding] = []
    totals = Counter(f.code for f in ordered)
    for finding in ordered:
        told[finding.code] += 1
        most = _MOST_OF.get(finding.code, MOST_OF_A_CODE)
        if told[finding.code] <= most:
            out.append(finding)
        elif told[finding.code] == most + 1:
            more = totals[finding.code] - most
            out.append(
                Finding(
                    finding.code,
                    f"and {more} more like these",
                    finding.severity,
                    "the drawing",
                    finding.fix,
                )
            )
    return tuple(out)
