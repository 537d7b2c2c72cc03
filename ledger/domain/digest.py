"""
Digests: what a signature is tied to, each built only from the level below.

*own* names a part by itself; *interface* is what one connection reads of a part; *connection digest* is a connection
with all its interfaces, equal from either side; *subject* is a part with its connections and the policy: what people
sign. A note, a letter or another group on one part does not reach the other's subject; its outline does, and its
material where a connection's checks read it: edge distances of bolted plates, and threads.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ledger.domain import fields
from ledger.domain.canonical import digest
from ledger.domain.connection import Clearance, Connection, Ply
from ledger.domain.quantity import Length
from ledger.domain.readings import as_read
from ledger.domain.record import HoleGroup, Part
from ledger.domain.shape import Contour, Hole, Stroke
from ledger.domain.verdict import Policy

_TAPPED = ("tapped", "countersunk tapped")  # the last ply's material says how much thread must bite
_READS_OPENINGS = ("beside", "passes through", "inside", "tab and slot")
# What a fingerprint names even where nothing is recorded: what was there first. Any other field only where it is.
_ALWAYS = (
    "title", "form", "hand", "opposite_of", "material", "thickness", "coating", "coating_thickness", "process",
    "quantity", "unconnected", "note",
)  # fmt: skip
_PLACES = 6  # a nanometre: below what any drawing means, above the noise of reading it


def own(part: Part) -> str:
    """A's facts, the digest of its file's bytes and of what was read from them."""
    return digest("own", _own(part))


def interface(part: Part, ply: Ply, connection: Connection) -> str:
    """Only what a connection's checks read of the part: no bytes, no letter, no note, no other connection."""
    return interface_shown(part, ply, connection.kind, material=reads_material(part, ply, connection))


def reads_material(part: Part, ply: Ply, connection: Connection) -> bool:
    """Whether a connection's checks read what the part is made of: of bolted plates, and of what is tapped."""
    tapped = connection.joint in _TAPPED and connection.plies[-1:] == (ply,)
    return connection.kind == "bolted" and (part.form == "cut" or tapped)


def interface_shown(part: Part, ply: Ply, kind: str, *, material: bool) -> str:
    """The interface that a part shows to every connection of a kind that reads as much of it."""
    group = part.group(ply.group)
    labels = group.labels if group else tuple(h.label for h in part.holes)
    labels = tuple(dict.fromkeys((*labels, *(label for g in _also(part, ply) for label in g.labels))))
    holes = [part.hole(label) for label in labels]
    doubts = {m.hole.label: m.uncertainty for m in part.measured_holes}
    framed = {m.hole.label: _length(m.framed) for m in part.measured_holes if m.framed}
    operations = [f.to_json() for f in part.operations if f.label in labels]
    others = frozenset[str]() if group else part.grouped_apart_from(ply.also)
    elsewhere = [h for h in part.holes if h.label in others]
    profile = part.profile
    openings = profile.openings if profile and kind in _READS_OPENINGS else ()
    return digest(
        "interface",
        {
            "holes": sorted([_hole(h), _length(doubts.get(h.label))] if h else [] for h in holes)
            if all(holes)
            else ["lost", *labels],
            "operations": operations,
            "outline": _contour(profile.outline) if profile and profile.outline else None,
            "openings": sorted(_contour(c) for c in openings),
            "bends": sorted(_stroke(s) for s in profile.bends) if profile else [],
            "thickness": _length(part.thickness),
            "coating": part.coating,
            "coating_thickness": _length(part.coating_thickness),
            "process": part.process,
            "form": part.form,
            "face_up": ply.face_up,
            **({"also": [sorted(_places(part, g)) for g in _also(part, ply)]} if ply.also else {}),
            **({"elsewhere": sorted(_hole(h) for h in elsewhere)} if elsewhere else {}),
            **({"framed": [framed.get(label) for label in sorted(labels)]} if framed else {}),
            **({"masked": part.masked.written} if part.masked else {}),
            **({"material": part.material} if material else {}),
            **_seen_bent(part, ply),
        },
    )


def _also(part: Part, ply: Ply) -> list[HoleGroup]:
    """The groups of the part that the connection's other fasteners go through."""
    return [g for g in map(part.group, ply.also) if g is not None]


def _places(part: Part, group: HoleGroup) -> list[list[str]]:
    return [_hole(h) if h else ["lost", label] for label in group.labels for h in [part.hole(label)]]


def connection_digest(connection: Connection, interfaces: Iterable[str]) -> str:
    """The connection's facts and the interfaces of its plies in their order: equal from either side."""
    return digest("connection", {"connection": _connection(connection), "interfaces": list(interfaces)})


def subject(part: Part, connection_digests: Iterable[str], policy: Policy, twin: Part | None = None) -> str:
    """What a signature names. Of a twin of the other hand only the drawn geometry counts, so no circle arises."""
    return digest(
        "subject",
        {
            "own": own(part),
            "connections": sorted(connection_digests),
            "policy": policy.to_json(),
            "twin": twin.taken.geometry if twin and twin.taken else None,
        },
    )


def _own(part: Part) -> dict[str, Any]:
    taken = part.taken
    said = {name: fields.value_of(part, name) for name in _ALWAYS}
    return {
        "number": part.number,
        "revision": part.revision,
        **{name: _length(value) if isinstance(value, Length) else value for name, value in said.items()},
        "dxf": taken.dxf_sha256 if taken else None,
        "geometry": taken.geometry if taken else None,
        "unit": taken.unit if taken else None,
        "measured_holes": [
            [_hole(m.hole), m.hole.label, _length(m.uncertainty), m.source]
            for m in part.measured_holes
            if m.framed is None
        ],
        "operations": [f.to_json() for f in part.operations],
        "groups": [[g.name, list(g.labels)] for g in part.groups],
        "dimensions": [d.to_json() for d in part.dimensions],
        "questions": [q.to_json() for q in part.questions],
        **fields.to_json(part),
        **_surveyed(part),
        **_written(part),
        **_bent(part),
    }


def _written(part: Part) -> dict[str, Any]:
    """What a record may say besides, where it says it."""
    more = (f.name for f in fields.PART_FIELDS if f.counts and f.name not in _ALWAYS)
    found = {name: fields.value_of(part, name) for name in more}
    return {
        name: _length(value) if isinstance(value, Length) else value
        for name, value in found.items()
        if value not in ("", None)
    }


def _surveyed(part: Part) -> dict[str, Any]:
    """Points and distances, where there are any: what was read, so that no rounding of a solution counts."""
    if not (part.points or part.distances):
        return {}
    points = [
        [p.label, _length(p.diameter), [_length(v) for v in p.at], _length(p.uncertainty), str(p.side or "")]
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


def _bent(part: Part) -> dict[str, Any]:
    """What is known of its bends, and what groups are placed from, where anything is."""
    bends: dict[str, Any] = {"bent": [b.to_json() for b in part.bends]} if part.bends else {}
    placed = [[g.name, g.reference] for g in part.groups if g.reference]
    bends |= {"bend_data": part.bend_data.words} if part.bend_data and part.bends else {}
    return bends | ({"placed_from": placed} if placed else {})


def _seen_bent(part: Part, ply: Ply) -> dict[str, Any]:
    """What a connection's checks read of bends: how they are bent, and where its group is placed from."""
    group = part.group(ply.group)
    if not part.bends and not (group and group.reference):
        return {}
    bend_data = part.bend_data.words if part.bend_data and part.bends else None
    reference = group.reference if group else ""
    other = part.group(reference)
    labels = other.labels if other else (reference,)
    holes = [h for h in (part.hole(label) for label in labels) if h]
    return {
        "bent": [b.to_json() for b in part.bends],
        "placed_from": [_hole(h) for h in holes],
        "bend_data": bend_data,
    }


def _connection(connection: Connection) -> dict[str, Any]:
    return {
        "name": connection.name,
        "kind": connection.kind,
        "plies": [{"part": p.part, "group": p.group, "face_up": p.face_up} for p in connection.plies],
        "joint": connection.joint,
        "fastener": connection.fastener,
        "turned_over": connection.turned_over,
        "position": connection.position_written,
        "gap": connection.gap.written if connection.gap else None,
        "clearances": [_clearance(c) for c in connection.clearances],
        "frozen": [list(f) for f in connection.frozen_interfaces],
        **(
            {"also": [[a.fastener, a.joint, list(a.groups)] for a in connection.also]}
            if connection.also
            else {}
        ),
        **{n: said for n in ("weld_side", "weld_class", "holes_made") if (said := getattr(connection, n))},
        **_bolts(connection),
    }


def _bolts(connection: Connection) -> dict[str, Any]:
    """What is stated of its bolts, where anything is."""
    if connection.bolt_length is None and connection.washers is None:
        return {}
    return {"bolt_length": _length(connection.bolt_length), "washers": connection.washers}


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
            "against": [interface_digest for _, _, interface_digest in reading.against],
            **({"how": reading.how} if as_read(reading.how) else {}),
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
