"""
Cases of checks as TOML, into the values that a check is given.

A profile is written compactly. `plate = "120 80"` is a rectangle from the origin, `"x y x y"` one between corners;
`disc = "x y diameter"`; `ring = "x y, x y bulge, ..."`. `holes` are `"x y diameter"`, slots `"x y x y width"`, a label
may follow; without one they are H1, H2 ... in the order written. `openings` are plates or rings. `at = "turned over,
turned 37 deg, shifted 5 0"` moves the whole drawing, in that order. A part that is not cut has no drawing unless it has
a plate: its holes are measured ones. `bend_lines` are `"B1 90 deg up, R 3 mm"`, of the bend line with that label, or
with `@ x y, x y` behind of one that lay there.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ledger.cases.build import Build
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.parts import PartCase, SurroundedPart
from ledger.cases.rings import blocks, is_fitted, joined_with
from ledger.cases.surroundings import (
    AssembledPart,
    BuiltPart,
    CountedConnection,
    JoinedConnection,
    SurroundedConnection,
)
from ledger.checks._frame import Check
from ledger.domain import digest
from ledger.domain.amounts import read_amount
from ledger.domain.bend import Bend, bend_lines, ends_of, read_bend_angle
from ledger.domain.bend_words import read_bend
from ledger.domain.connection import Clearance, Connection, Ply, Reading
from ledger.domain.density import read_density
from ledger.domain.finding import Finding
from ledger.domain.masks import read_masks
from ledger.domain.measured_on import read_measured_on
from ledger.domain.pose import Pose
from ledger.domain.position import read_also, read_position
from ledger.domain.quantity import Decimal, Length, read_bounds, read_length, read_measured
from ledger.domain.record import (
    Dimension,
    Distance,
    HoleGroup,
    Input,
    MeasuredHole,
    Operation,
    Part,
    Question,
    SitePoint,
    TakenProfile,
    Trial,
)
from ledger.domain.required_odds import USUAL
from ledger.domain.shape import Contour, Hole, Profile, Stroke
from ledger.domain.side import read_side
from ledger.domain.verdict import Outcome
from ledger.standards.instruments import measured
from ledger.standards.size_limits import limits_of

FIXTURES = Path(__file__).parents[2] / "fixtures"
_DRAWN = {"plate", "disc", "ring", "holes", "openings", "bends", "at", "findings", "unit_sure"}
_TAKEN = {"bend_lines", "lost", "reads_the_same", "drawing"}
_PLY = {"group", "face_up", "standing", "fastener", "number"}
_DEFAULTS = {
    "revision": "A",
    "title": "",
    "form": "cut",
    "material": "mild steel",
    "thickness": "10 mm",
    "process": "laser",
    "quantity": 1,
}


@dataclass(frozen=True)
class Written:
    """One case as written: what check, what it is called, what must come out."""

    check: str
    name: str
    data: dict[str, Any]

    @property
    def ident(self) -> str:
        return f"{self.check}: {self.name}"


def written_cases() -> list[Written]:
    """Every case of every check, in the order of the files."""
    return [
        Written(path.parent.name, row["name"], row)
        for path in sorted(FIXTURES.glob("*/cases.toml"))
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["case"]
    ]


def case_of(data: dict[str, Any]) -> PartCase | ConnectionCase:
    """The part, or the connection, that the TOML table means."""
    return arguments_of(data)[PartCase if "part" in data else ConnectionCase]


def told_by(check: Check, data: dict[str, Any], subject: str = "subject") -> Outcome:
    """What a check says of the TOML table, as it is given it."""
    return check.run(arguments_of(data)[check.on], subject)


def arguments_of(data: dict[str, Any]) -> dict[type, Any]:
    """What the TOML table means to a check, by the type of its argument."""
    return _of_part(data) if "part" in data else _of_connection(data)


def _of_part(data: dict[str, Any]) -> dict[type, Any]:
    twin = part_of(data["twin"], "TWIN") if "twin" in data else None
    others = tuple(part_of(t, f"OTHER-{k}") for k, t in enumerate(data.get("others", ()), 1))
    connections = tuple(data.get("connections", ["CONNECTION"]))
    together = tuple(data.get("together", ()))
    left = data.get("others_left", 0)
    blocking = tuple((q.pop("part"), Question(**q)) for q in map(dict, data.get("blocking", ())))
    case = PartCase(part_of(data["part"], "PLATE"), connections, twin)
    late = tuple(data.get("late", ()))
    return {
        PartCase: case,
        SurroundedPart: SurroundedPart(
            case, others, left, together, blocking, late, tuple(data.get("asked", ()))
        ),
        AssembledPart: AssembledPart(case.part.number),
        BuiltPart: BuiltPart(case.part.number, Build()),
    }


def _of_connection(data: dict[str, Any]) -> dict[type, Any]:
    names = {"a": "TURN", "b": "BASE", "c": "SHIM"}
    plies = [(data[key], part_of(data[key], number)) for key, number in names.items() if key in data]
    connection = connection_of(data, plies)
    placed = tuple(
        PlacedPly(ply, part, digest.interface(part, ply, connection))
        for ply, (_, part) in zip(connection.plies, plies, strict=True)
    )
    interfaces = {p.part.number: p.interface for p in placed}
    near = (_neighbour(data["neighbour"], placed),) if "neighbour" in data else ()
    if "third" in data:
        near = tuple(_on_third(data["third"], p, n) for n, p in enumerate(placed))
    if "welded_on" in data:
        near = tuple(_welded_on(data["welded_on"], *placed))
    viewed = data.get("viewed_from", plies[0][1].number)
    measured_on = tuple(tuple(d for d in p.part.dimensions if d.measured_on) for p in placed)
    standings = tuple(table.get("standing", "in the set") for table, _ in plies)
    odds = data.get("odds", USUAL)
    case = ConnectionCase(_with_faces(connection, interfaces, data), placed, odds)
    more = [replace(m, odds=odds) for m in _more(data.get("more", ()), placed)]
    return {
        ConnectionCase: case,
        SurroundedConnection: SurroundedConnection(case, near),
        JoinedConnection: _joined(case, more),
        AssembledPart: assembled(viewed, (case, *more)),
        BuiltPart: BuiltPart(viewed, Build((case, *more))),
        CountedConnection: CountedConnection(case, standings, viewed, measured_on, near),
    }


def _more(tables: Any, placed: tuple[PlacedPly, ...]) -> Iterator[ConnectionCase]:
    """
    Further connections CONNECTION-2, CONNECTION-3 ...: `plies` are those of the case by name, or tables of a part of
    their own.
    """
    known = {p.part.number: p for p in placed}
    for count, table in enumerate(tables, 2):
        plies = []
        for ply in table["plies"]:
            number = ply["number"]
            if number not in known:
                part = part_of(ply, number)
                known[number] = PlacedPly(Ply(number), part, "0" * 64)
            plies.append((ply, known[number].part))
        connection = connection_of(
            {"connection": table.get("connection", {}), "fastener": table.get("fastener", "M12")}, plies
        )
        yield _in_the_set(replace(connection, name=f"CONNECTION-{count}"), tuple(part for _, part in plies))


def _at(every: tuple[ConnectionCase, ...]) -> dict[str, list[ConnectionCase]]:
    """The connections of every part."""
    return {
        p.part.number: [m for m in every if m.place_of(p.part.number) is not None]
        for c in every
        for p in c.plies
    }


def _joined(case: ConnectionCase, more: list[ConnectionCase]) -> JoinedConnection:
    at = _at((case, *more))
    return JoinedConnection(case, joined_with(case, lambda number: at[number]))


def assembled(number: str, every: tuple[ConnectionCase, ...]) -> AssembledPart:
    """A part in the rings that these connections make."""
    at, named = _at(every), {c.connection.name: c for c in every}
    bolted = {
        n: [(c.connection.name, tuple(sorted(p.part.number for p in c.plies))) for c in of if is_fitted(c)]
        for n, of in at.items()
    }
    own = {c.connection.name for c in at.get(number, ())}
    rings = []
    for names in blocks(bolted):
        if names & own:
            found = {n for name in names for n in (name, *_names(joined_with(named[name], lambda k: at[k])))}
            rings.append(tuple(named[name] for name in sorted(found)))
    return AssembledPart(number, tuple(rings))


def _names(cases: tuple[ConnectionCase, ...]) -> list[str]:
    return [c.connection.name for c in cases]


def _on_third(table: dict[str, Any], placed: PlacedPly, place: int) -> ConnectionCase:
    """The connection in which a ply is bolted on the part FRAME; the first ply on its group `a`, the second on `b`."""
    frame = part_of(table, "FRAME")
    plies = [({"group": table.get("group", "")}, placed.part), ({"group": "ab"[place]}, frame)]
    connection = replace(
        connection_of({"fastener": table.get("fastener", "M12")}, plies), name=f"{placed.part.number}-FRAME"
    )
    return _in_the_set(connection, (placed.part, frame))


def _welded_on(table: dict[str, Any], first: PlacedPly, second: PlacedPly) -> Iterator[ConnectionCase]:
    """The weld SEAM of the part FRAME on the first ply, and the connection that bolts FRAME on the second's `group`."""
    frame = part_of(table["part"], "FRAME")
    plies = [(table["part"], frame), ({}, first.part)]
    yield _in_the_set(
        replace(connection_of({"connection": table["connection"]}, plies), name="SEAM"), (frame, first.part)
    )
    plies = [(table["part"], frame), ({"group": table["group"]}, second.part)]
    bolted = connection_of({"fastener": table.get("fastener", "M12")}, plies)
    yield _in_the_set(replace(bolted, name="FRAME-BASE"), (frame, second.part))


def _in_the_set(connection: Connection, parts: tuple[Part, ...]) -> ConnectionCase:
    return ConnectionCase(
        connection,
        tuple(
            PlacedPly(ply, part, digest.interface(part, ply, connection))
            for ply, part in zip(connection.plies, parts, strict=True)
        ),
    )


def _neighbour(table: dict[str, Any], placed: tuple[PlacedPly, ...]) -> ConnectionCase:
    """The connection NEXT-CONNECTION, in which a part NEXT is laid on the ply named by `on`."""
    on = next(p for p in placed if p.part.number == table["on"])
    part = part_of(table["part"], "NEXT")
    lower = {"face_up": table.get("face_up", "top"), "group": table.get("group", "")}
    plies = [(table["part"], part), (lower, on.part)]
    connection = replace(
        connection_of(
            {"connection": table.get("connection", {}), "fastener": table.get("fastener", "M8")}, plies
        ),
        name="NEXT-CONNECTION",
    )
    return _in_the_set(connection, (part, on.part))


def part_of(table: dict[str, Any], number: str) -> Part:
    """A part; what is not written is a plate that could be ordered."""
    fields = {**_DEFAULTS, "number": number} | {
        k: v for k, v in table.items() if k not in _DRAWN | _TAKEN | _PLY
    }
    profile = profile_of(table)
    drawn = table.get("drawing", fields["form"] == "cut" or "plate" in table)
    measured = () if drawn else tuple(_measured(h, fields) for h in profile.holes)
    for name in ("doubt", "doubts", "hole_source"):
        fields.pop(name, None)
    for name in ("thickness", "coating_thickness"):
        fields[name] = _length(fields.get(name))
    for name, reader in (("masked", read_masks), ("density", read_density)):
        fields[name] = reader(fields[name]) if fields.get(name) else None
    fields["quantity"] = fields["quantity"] or None
    placed_from = fields.pop("placed_from", {})
    fields["groups"] = tuple(
        HoleGroup(k, tuple(v), placed_from.get(k, "")) for k, v in fields.get("groups", {}).items()
    )
    fields["operations"] = tuple(Operation(*f.split()) for f in fields.pop("operations", ()))
    fields["bends"] = tuple(_bend_lines(table.get("bend_lines", ()), profile))
    fields["dimensions"] = tuple(dimension_of(d) for d in fields.get("dimensions", ()))
    fields["points"] = tuple(_point(p) for p in fields.get("points", ()))
    fields["distances"] = tuple(_distance(d) for d in fields.get("distances", ()))
    fields["trials"] = tuple(Trial(**{"geometry": "b" * 64, **t}) for t in fields.get("trials", ()))
    fields["questions"] = tuple(Question(**q) for q in fields.get("questions", ()))
    return Part(taken=_taken(profile, table) if drawn else None, measured_holes=measured, **fields)


def profile_of(table: dict[str, Any]) -> Profile:
    """The drawing of a part's table. Holes alone lie in a plate 25 mm larger all round."""
    holes = tuple(_hole(text, k) for k, text in enumerate(table.get("holes", ()), 1))
    outline = _outline(table, holes)
    openings = tuple(_ring(text) for text in table.get("openings", ()))
    bends = tuple(Stroke(_ring(text, closed=False)) for text in table.get("bends", ()))
    pose = _pose(table.get("at", ""))
    outline = pose.place_contour(outline) if outline else None
    return Profile(
        outline=outline,
        outlines=(outline,) if outline else (),
        holes=tuple(
            Hole(h.label, tuple(pose.place(p) for p in h.core), h.diameter_mm, h.made_of) for h in holes
        ),
        openings=tuple(pose.place_contour(c) for c in openings),
        bends=tuple(Stroke(pose.place_contour(Contour(s.vertices)).vertices) for s in bends),
        findings=tuple(Finding(*f) for f in table.get("findings", ())),
        unit_sure=table.get("unit_sure", True),
    )


def _bend_lines(written: Any, profile: Profile) -> Any:
    """The bends as stated; a later one of the same label replaces an earlier one."""
    found = {}
    for text in written:
        said, _, place = text.partition(" @ ")
        label, _, words = said.partition(" ")
        line = ends_of(Stroke(_ring(place, closed=False)) if place else bend_lines(profile.bends)[label])
        fields = read_bend(words)
        lengths = {n: _length(fields.get(n)) for n in ("radius", "allowance", "deduction", "tolerance")}
        k_factor = Decimal(fields["k_factor"]) if "k_factor" in fields else None
        angle = read_bend_angle(fields["angle"])
        found[label] = Bend(label, line, angle, fields["direction"], k_factor=k_factor, **lengths)
    return found.values()


def dimension_of(table: dict[str, Any]) -> Dimension:
    nominal = read_amount(table["nominal"])
    limits = limits_of(table["limits"], nominal) if "limits" in table else None
    frozen_mm = Decimal(table["frozen_mm"]) if "frozen_mm" in table else None
    read = ("nominal", "limits", "frozen_mm", "source", "inputs", "uncertainty", "measured_on")
    rest = {k: v for k, v in table.items() if k not in read}
    rest["inputs"] = tuple(Input(*i.split("|"), locked=False) for i in table.get("inputs", ()))
    rest["measured_on"] = read_measured_on(table.get("measured_on", ""))
    rest["uncertainty"] = read_amount(table["uncertainty"]) if "uncertainty" in table else None
    return Dimension(
        nominal=nominal, limits=limits, frozen_mm=frozen_mm, source=table.get("source", "given"), **rest
    )


def connection_of(data: dict[str, Any], plies: list[tuple[dict[str, Any], Part]]) -> Connection:
    """The connection, without the interfaces that its readings and freezes name."""
    table = {"kind": "bolted", **data.get("connection", {})}
    bolted = (
        {"joint": "through", "fastener": data.get("fastener", "M12")} if table["kind"] == "bolted" else {}
    )
    fields = {**bolted, **table, "name": "CONNECTION"}
    position = fields.get("position", "")
    fields["position_written"] = position
    fields["position"] = read_position(position) if position else None
    also = tuple(map(read_also, fields.get("also", ())))
    fields["also"] = also
    fields["bolt_length"] = _length(fields.get("bolt_length"))
    fields["gap"] = read_bounds(fields["gap"]) if "gap" in fields else None
    for name in ("clearances", "frozen"):
        fields.pop(name, None)
    named = tuple(
        Ply(part.number, t.get("group", ""), t.get("face_up", "top"), tuple(a.groups[n] for a in also))
        for n, (t, part) in enumerate(plies)
    )
    return Connection(plies=named, **fields)


def _with_faces(connection: Connection, interfaces: dict[str, str], data: dict[str, Any]) -> Connection:
    table = data.get("connection", {})
    known = {"now": interfaces, "before": dict.fromkeys(interfaces, "0" * 64)}
    frozen = tuple((number, known[state][number]) for number, state in table.get("frozen", {}).items())
    clearances = tuple(_clearance(c, known) for c in table.get("clearances", ()))
    return Connection(
        **{name: getattr(connection, name) for name in Connection.__slots__}
        | {"clearances": clearances, "frozen_interfaces": frozen}
    )


def _clearance(table: dict[str, Any], known: dict[str, dict[str, str]]) -> Clearance:
    reading = None
    if "reading" in table:
        read = read_measured(table["reading"])
        states = table.get("against", dict.fromkeys(known["now"], "now"))
        against = tuple((part, "A", known[state].get(part, "1" * 64)) for part, state in states.items())
        instrument = read.instrument or "feeler"
        late = table.get("overdue", "")
        reading = Reading(read.value, read.uncertainty, instrument, "ann", "2026-03-01", against, late)
    return Clearance(table["name"], read_bounds(table["required"]), table.get("critical", False), reading)


def _taken(profile: Profile, table: dict[str, Any]) -> TakenProfile:
    same = table.get("reads_the_same", True)
    return TakenProfile(profile, "plate.dxf", "a" * 64, "b" * 64, "mm", tuple(table.get("lost", ())), same)


def _measured(hole: Hole, fields: dict[str, Any]) -> MeasuredHole:
    doubt = fields.get("doubts", {}).get(hole.label, fields.get("doubt"))
    return MeasuredHole(hole, _length(doubt), fields.get("hole_source", "measured"))


def _point(text: str) -> SitePoint:
    """A label, and a side behind it, or coordinates: `P1 at 0 mm, 0 mm, 10 mm ±1 mm`."""
    label, _, side = text.partition(" ")
    if side.startswith("at "):
        at, _, sure = side.removeprefix("at ").partition("±")
        sure, _, late = sure.partition(" late")
        overdue = "station 1 was due 2026-01-31" if sure != side.rpartition("±")[2] else late
        place = tuple(_length(v) for v in at.split(","))
        return SitePoint(label, None, place, _length(sure), instrument="station 1", overdue=overdue)
    return SitePoint(label, side=read_side(side) if side else None)


def _distance(text: str) -> Distance:
    """Two labels and what was read."""
    a, b, reading = text.split(" ", 2)
    reading, _, overdue = reading.partition(" overdue: ")
    found = measured(reading)
    plain = (found.value, found.standard, found.uncertainty, found.instrument)
    return Distance(a, b, *plain, overdue=overdue)


def _length(text: str | None) -> Length | None:
    return read_length(text, signed=True) if text else None


def _hole(text: str, place: int) -> Hole:
    words = text.split()
    label = words.pop() if words[-1].startswith("H") else f"H{place}"
    numbers = [float(w) for w in words]
    core = tuple(zip(numbers[0:-1:2], numbers[1:-1:2], strict=True))
    return Hole(label, core, numbers[-1], "slot" if len(core) == 2 else "circle")


def _outline(table: dict[str, Any], holes: tuple[Hole, ...]) -> Contour | None:
    if "disc" in table:
        x, y, diameter = map(float, table["disc"].split())
        return Hole("", ((x, y),), diameter).contour()
    if table.get("plate") == "" or not (holes or "ring" in table or "plate" in table):
        return None
    if "ring" in table or "plate" in table:
        return _ring(table.get("ring") or table["plate"])
    xs, ys = zip(*(p for h in holes for p in h.core), strict=True)
    x, y, far_x, far_y = min(xs) - 25, min(ys) - 25, max(xs) + 25, max(ys) + 25
    return Contour(((x, y, 0.0), (far_x, y, 0.0), (far_x, far_y, 0.0), (x, far_y, 0.0)))


def _ring(text: str, *, closed: bool = True) -> Any:
    """A ring, or the vertices of an open line."""
    rows = [[float(n) for n in row.split()] for row in text.split(",")]
    if len(rows) == 1 and closed:
        x, y, far_x, far_y = rows[0] if len(rows[0]) == 4 else [0.0, 0.0, *rows[0]]
        rows = [[x, y], [far_x, y], [far_x, far_y], [x, far_y]]
    vertices = tuple((r[0], r[1], r[2] if len(r) > 2 else 0.0) for r in rows)
    return Contour(vertices) if closed else vertices


def _pose(text: str) -> Pose:
    angle = x = y = 0.0
    turned_over = False
    for step in filter(None, (s.split() for s in text.split(","))):
        if step == ["turned", "over"]:
            turned_over = True
        elif step[0] == "turned":
            angle = float(step[1])
        elif step[0] == "shifted":
            x, y = float(step[1]), float(step[2])
        else:
            raise ValueError(f"a drawing is not moved by {' '.join(step)!r}")
    return Pose(angle, x, y, turned_over)
