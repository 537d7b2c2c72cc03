"""
Digests: what a sign-off is tied to, each built only from the level below.

*own* names a part by itself; *face* is what one mate reads of a part; *mate digest* is a mate with all its faces,
equal from either side; *subject* is a part with its mates and the policy: what people sign.
A note, a letter or another group on one part does not reach the other's subject; its outline does.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from ledger.domain.canonical import digest
from ledger.domain.gate import Policy
from ledger.domain.quantity import Length
from ledger.domain.record import Clearance, Mate, Part, Ply
from ledger.domain.shape import Contour, Hole, Stroke

_PLACES = 6  # a nanometre: below what any drawing means, above the noise of reading it


def own(part: Part) -> str:
    """A's facts, the digest of its file's bytes and of what was read from them."""
    return digest("own", _own(part))


def face(part: Part, ply: Ply, kind: str) -> str:
    """Only what a mate's checks read of the part: no bytes, no letter, no note, no other mate."""
    group = part.group(ply.group)
    labels = group.labels if group else tuple(h.label for h in part.holes)
    holes = [part.hole(label) for label in labels]
    doubts = {m.hole.label: m.uncertainty for m in part.measured_holes}
    framed = {m.hole.label: _length(m.framed) for m in part.measured_holes if m.framed}
    finishes = [f.to_json() for f in part.hole_finishes if f.label in labels]
    profile = part.profile
    openings = profile.openings if profile and kind in ("beside", "passes", "inside") else ()
    return digest(
        "face",
        {
            "holes": sorted([_hole(h), _length(doubts.get(h.label))] if h else [] for h in holes)
            if all(holes)
            else ["lost", *labels],
            "finishes": finishes,
            "outline": _contour(profile.outline) if profile and profile.outline else None,
            "openings": sorted(_contour(c) for c in openings),
            "bends": sorted(_stroke(s) for s in profile.bends) if profile else [],
            "thickness": _length(part.thickness),
            "finish": part.finish,
            "finish_thickness": _length(part.finish_thickness),
            "process": part.process,
            "form": part.form,
            "face_up": ply.face_up,
            **({"framed": [framed.get(label) for label in sorted(labels)]} if framed else {}),
        },
    )


def mate_digest(mate: Mate, faces: Iterable[str]) -> str:
    """The mate's facts and the faces of its plies in their order: equal from either side."""
    return digest("mate", {"mate": _mate(mate), "faces": list(faces)})


def subject(part: Part, mate_digests: Iterable[str], policy: Policy, twin: Part | None = None) -> str:
    """What a sign-off names. Of a twin of the other hand only the drawn geometry counts, so no circle arises."""
    return digest(
        "subject",
        {
            "own": own(part),
            "mates": sorted(mate_digests),
            "policy": policy.to_json(),
            "twin": twin.taken.geometry if twin and twin.taken else None,
        },
    )


def _own(part: Part) -> dict[str, Any]:
    taken = part.taken
    return {
        "number": part.number,
        "revision": part.revision,
        "title": part.title,
        "form": part.form,
        "hand": part.hand,
        "opposite_of": part.opposite_of,
        "material": part.material,
        "thickness": _length(part.thickness),
        "finish": part.finish,
        "finish_thickness": _length(part.finish_thickness),
        "process": part.process,
        "grain": part.grain,
        "quantity": part.quantity,
        "stands_alone": part.stands_alone,
        "note": part.note,
        "dxf": taken.dxf_sha256 if taken else None,
        "geometry": taken.geometry if taken else None,
        "unit": taken.unit if taken else None,
        "measured_holes": [
            [_hole(m.hole), m.hole.label, _length(m.uncertainty), m.source]
            for m in part.measured_holes
            if m.framed is None
        ],
        "hole_finishes": [f.to_json() for f in part.hole_finishes],
        "groups": [[g.name, list(g.labels)] for g in part.groups],
        "dimensions": [d.to_json() for d in part.dimensions],
        "questions": [q.to_json() for q in part.questions],
        **_surveyed(part),
    }


def _surveyed(part: Part) -> dict[str, Any]:
    """Points and distances, where there are any: what was read, so that no rounding of a solution counts."""
    if not (part.points or part.distances):
        return {}
    points = [
        [p.label, _length(p.diameter), [_length(v) for v in p.at], _length(p.uncertainty), p.side]
        for p in part.points
    ]
    distances = [
        [
            d.a,
            d.b,
            *(_length(v) for v in (d.value, d.standard, d.uncertainty)),
            d.instrument,
            list(d.readings),
        ]
        for d in part.distances
    ]
    return {"points": points, "distances": distances}


def _mate(mate: Mate) -> dict[str, Any]:
    return {
        "name": mate.name,
        "kind": mate.kind,
        "plies": [asdict(p) for p in mate.plies],
        "joint": mate.joint,
        "fastener": mate.fastener,
        "flip": mate.flip,
        "located": mate.located_written,
        "gap": mate.gap.written if mate.gap else None,
        "clearances": [_clearance(c) for c in mate.clearances],
        "frozen": [list(f) for f in mate.frozen_faces],
    }


def _clearance(clearance: Clearance) -> dict[str, Any]:
    reading = clearance.reading
    return {
        "name": clearance.name,
        "required": clearance.required.written,
        "critical": clearance.critical,
        "reading": None
        if reading is None
        else {
            "value": _length(reading.value),
            "uncertainty": _length(reading.uncertainty),
            "instrument": reading.instrument,
            "by": reading.by,
            "when": reading.when,
            "against": [face_digest for _, _, face_digest in reading.against],
        },
    }


def _length(length: Length | None) -> dict[str, Any] | None:
    return length.to_json() if length else None


def _number(value: float) -> str:
    return f"{round(value, _PLACES) + 0.0:.{_PLACES}f}"


def _hole(hole: Hole) -> list[str]:
    ends = sorted([_number(x), _number(y)] for x, y in hole.core)
    return [_number(hole.diameter_mm), *(n for end in ends for n in end)]


def _stroke(stroke: Stroke) -> list[str]:
    ends = [[_number(n) for n in vertex] for vertex in stroke.vertices]
    return [n for vertex in min(ends, ends[::-1]) for n in vertex]


def _contour(contour: Contour) -> list[str]:
    return [_number(n) for vertex in contour.canonical().vertices for n in vertex]
