"""What is known of a part as rows: its record, key dimensions, holes with their operations, bends, points, groups."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from ledger.domain import fields
from ledger.domain.quantity import show_mm
from ledger.domain.readings import as_read
from tui.part_row import Row, heading
from tui.signs import said

if TYPE_CHECKING:
    from ledger.domain.record import Dimension, Part, Question, SitePoint
    from tui.part_row import PartView

_NOT_ENTERED = 6  # so many names of empty fields are told on the row that enters one


def record_rows(view: PartView) -> Iterator[Row]:
    """The fields that have a value, the drawing, what follows from both; then one row for what is not entered."""
    part = view.part
    empty = []
    for name in (f.name for f in fields.PART_FIELDS if not f.fixed):
        value = value_of(part, name)
        shown = str(part.thickness) if name == "thickness" and part.thickness else value
        if shown and not (name == "unconnected" and shown == "no"):
            yield Row(said(f"{name.replace('_', ' '):<19}{shown}"), "field", name)
        else:
            empty.append(name)
    taken = part.taken
    words = (
        f"{taken.file_name}, {taken.unit}, {taken.dxf_sha256[:12]}" if taken else "none yet: Enter takes one"
    )
    yield Row(said(f"{'drawing':<19}{words}"), "profile")
    for caption, figures in view.figures:
        yield Row(said(f"{caption:<19}{figures}"), "look")
    if empty:
        names = ", ".join(n.replace("_", " ") for n in empty[:_NOT_ENTERED])
        more = ", …" if len(empty) > _NOT_ENTERED else ""
        yield Row(said(f"{'not entered':<19}{names}{more}"), "fields", " ".join(empty))
    for some in fields.PART_LISTS:
        for one in some.of(part):
            yield Row(said(f"{some.caption:<19}{one.shown(part)}"), "look")
    if part.questions:
        yield heading(f"questions {len(part.questions)}")
    for q in part.questions:
        yield Row(said(_question(q)), "question", q.ident)
    for words in view.evidence:
        yield Row(said(f"{'evidence':<19}{words}"), "look")


def known_rows(view: PartView) -> Iterator[Row]:
    """Key dimensions, holes, bends, points, groups: each kind that there is, under its heading."""
    part = view.part
    if part.dimensions:
        yield heading(f"key dimensions {len(part.dimensions)}")
    for d in part.dimensions:
        yield Row(said(_dimension(d)), "dimension", d.name)
    yield from _holes(part)
    yield from _bends(part)
    if part.points or part.distances:
        yield heading(f"points {len(part.points)}, distances {len(part.distances)}")
    for p in part.points:
        yield Row(said(f"point {_point(p)}"), "point", p.label)
    for tie in part.distances:
        words = f"{tie.a} to {tie.b} = {tie.value.written} ±{tie.uncertainty.written}, {tie.instrument}"
        yield Row(said(words), "distance", f"{tie.a} to {tie.b}")
    if part.groups:
        yield heading(f"hole groups {len(part.groups)}")
    for g in part.groups:
        words = f"{g.name}: {' '.join(g.labels)}{f', from {g.reference}' if g.reference else ''}"
        yield Row(said(words), "group", g.name)
    if not part.dimensions:
        yield Row(said("no key dimensions yet: Enter records one"), "dimension", "")


def connection_rows(view: PartView) -> Iterator[Row]:
    """Every connection of the part, and what is found there."""
    wrong = [f.where for f in view.verdict.stops]
    for m in view.connections:
        others = " on ".join(p.part + (f":{p.group}" if p.group else "") for p in m.plies)
        count = sum(1 for where in wrong if where == m.name or where.startswith(f"{m.name}/"))
        stops = f"  {count} to fix or to wait for" if count else ""
        yield Row(said(f"{m.name}: {m.kind} {m.joint} {m.fastener}  {others}{stops}"), "connection", m.name)
    if not view.connections:
        yield Row(
            said("in no connection yet: Enter records one, or that it connects to nothing"), "no connection"
        )


def value_of(part: Part, name: str) -> str:
    """A field of the record as it would be typed."""
    value: Any = fields.value_of(part, name)
    if name in ("thickness", "coating_thickness"):
        return value.written if value else ""
    if name == "unconnected":
        return "yes" if value else "no"
    return "" if value is None else str(value)


def _holes(part: Part) -> Iterator[Row]:
    """Every hole with its operation, and operations whose hole is gone."""
    if part.holes or part.operations:
        yield heading(f"holes {len(part.holes)}")
    operations = {f.label: f"{f.operation} {f.thread}".strip() for f in part.operations}
    for h in part.holes:
        kind = "slot" if h.is_slot else "hole"
        at = f"({h.centre[0]:.3f}, {h.centre[1]:.3f})"
        words = f"{h.label:<6}{kind} {show_mm(h.diameter_mm)} at {at}  {operations.get(h.label, '')}"
        yield Row(said(words), "hole", h.label)
    for f in part.operations:
        if part.hole(f.label) is None:
            yield Row(
                said(
                    f"{f.label:<6}{operations[f.label]}; hole no longer in the drawing: x removes the operation"
                ),
                "operation",
                f.label,
            )


def _bends(part: Part) -> Iterator[Row]:
    """Bend lines, where there are any: as entered, what is assumed, what the bend takes."""
    from ledger.domain.bend import lost_bends
    from ledger.words.bends import bent

    drawn = part.bend_lines
    lost = {b.label: b for b in lost_bends(part.profile.bends if part.profile else (), part.bends)}
    if drawn or lost:
        yield heading(f"bend lines {len(drawn)}")
    for label in drawn:
        stated = None if label in lost else part.bend(label)
        words = stated.words if stated else "not entered"
        found = bent(part, stated) if stated else None
        if found:
            words = f"{words}; {found.words}"
        yield Row(said(f"{label:<6}{words}"), "bend", label)
    for label, bend in lost.items():
        if label not in drawn:
            yield Row(
                said(f"{label:<6}{bend.words}; bend line no longer in the drawing: x removes the bend data"),
                "bend",
                label,
            )


def _dimension(d: Dimension) -> str:
    limits = f" {d.limits.written}" if d.limits else ""
    measured_on = f", on {d.measured_on}" if d.measured_on else ""
    more = "".join(f", {word}" for word in d.marks)
    value = f"{d.formula} = {d.fault or d.nominal}" if d.formula else str(d.nominal)
    sure = f" ±{d.uncertainty.written}" if d.uncertainty else ""
    with_what = f" {d.instrument}" if d.instrument else ""
    with_what += f", {as_read(d.how)}" if as_read(d.how) else ""
    return f"{d.name} = {value}{limits}, {d.source}{sure}{with_what}{measured_on}{more}"


def _point(p: SitePoint) -> str:
    size = f" Ø {p.diameter.written}" if p.diameter else ""
    at = (
        f" at {', '.join(v.written for v in p.at)} ±{p.uncertainty.written}" if p.at and p.uncertainty else ""
    )
    return f"{p.label}{size}{at}{f' {p.side}' if p.side else ''}"


def _question(q: Question) -> str:
    state = f"-> {q.answer}" if q.answer else f"(open{'; ' + q.words if q.words else ''})"
    return f"{q.ident}: {q.text} {state}"
