"""The rows of the part screen: what each says, and what Enter on it opens."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from rich.text import Text

from ledger.domain import fields
from ledger.domain.gate import revisions_text
from ledger.domain.quantity import show_mm
from ledger.domain.readings import as_read
from tui.signs import Signs, finding_texts, said

if TYPE_CHECKING:
    from textual.app import App

    from ledger.domain.connection import Connection
    from ledger.domain.finding import Finding
    from ledger.domain.gate import PermitMade, Verdict
    from ledger.domain.record import Dimension, Part, Question, SitePoint
    from ledger.job import Revised


@dataclass(frozen=True, slots=True)
class PartView:
    """A part, its verdict, its connections, what was permitted on it and its revisions, as read together."""

    part: Part
    verdict: Verdict
    connections: tuple[Connection, ...]
    permits: tuple[PermitMade, ...] = ()
    revisions: tuple[Revised, ...] = ()
    together: tuple[str, ...] = ()
    figures: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """One row. `kind` and `name` say what Enter opens; a heading opens nothing."""

    text: Text
    kind: str = ""
    name: str = ""
    finding: Finding | None = field(default=None)
    heading: bool = False

    @property
    def key(self) -> tuple[str, ...]:
        """What makes it the same row after the part was read again."""
        found = self.finding
        return (found.code, found.where) if found else (self.kind, self.name, "")


def rows_of(app: App[object] | App[None], signs: Signs, view: PartView) -> Iterator[Row]:
    """Every row of a part, stops first."""
    v = view.verdict
    yield _heading(f"stops {len(v.stops)}, warnings {len(v.warnings)}; fingerprint {v.subject[:12]}")
    others = [n for n in view.together if n != view.part.number]
    if others:
        yield Row(said(f"checked together with {', '.join(others)}, as last signed"))
    for text, found in finding_texts(app, signs, (*v.stops, *v.warnings, *v.notes)):
        yield Row(text, finding=found)
    if not (v.stops or v.warnings or v.notes):
        yield Row(said("no findings"))
    for s in v.signed:
        yield Row(said(f"signed {s.role} by {s.person}{' (self-check)' if s.self_check else ''}"))
    yield from _permits(signs, view)
    yield from _record(view)
    yield from _known(view)
    yield from _revisions(view)
    yield _heading("not checked")
    for matter in v.not_checked:
        yield Row(said(f"- {matter}"))


def value_of(part: Part, name: str) -> str:
    """A field of the record as it would be typed."""
    value: Any = fields.value_of(part, name)
    if name in ("thickness", "coating_thickness"):
        return value.written if value else ""
    if name == "unconnected":
        return "yes" if value else "no"
    return "" if value is None else str(value)


def _permits(signs: Signs, view: PartView) -> Iterator[Row]:
    if view.permits:
        yield _heading(f"permits {len(view.permits)}")
    used = {(found.code, found.where) for found in view.verdict.permitted}
    for p in view.permits:
        until = f"until {p.until}" if p.until else "no end date"
        until += f", up to {p.up_to}" if p.up_to else ""
        state = "signature invalid" if not p.sound else "in force" if p.in_force else p.void
        until += f", {revisions_text(p.parts)}" if p.connection else ""
        unused = "" if (p.code, p.where) in used or not p.in_force else ", covers no finding"
        words = f"{p.code} [{p.where}] by {p.person}, {until} ({state}{unused}): {p.reason}"
        yield Row(said(f"{signs.note} {words}"), "permit", str(p.seq))


def _revisions(view: PartView) -> Iterator[Row]:
    yield _heading(f"revisions {len(view.revisions)}")
    for r in reversed(view.revisions):
        state = "locked" if r.locked else "open"
        yield Row(said(f"{r.revision} ({state}): {r.reason or 'first revision'}"), "revision", r.revision)


def _record(view: PartView) -> Iterator[Row]:
    part = view.part
    yield _heading("record")
    for name in (f.name for f in fields.PART_FIELDS if not f.fixed):
        value = value_of(part, name)
        shown = str(part.thickness) if name == "thickness" and part.thickness else value
        yield Row(said(f"{name.replace('_', ' '):<17}{shown or '-'}"), "field", name)
    taken = part.taken
    words = f"{taken.file_name}, {taken.unit}, {taken.dxf_sha256[:12]}" if taken else "not taken yet"
    yield Row(said(f"{'drawing':<17}{words}"), "profile")
    for caption, figures in view.figures:
        yield Row(said(f"{caption:<17}{figures}"))


def _known(view: PartView) -> Iterator[Row]:
    part = view.part
    yield _heading(f"key dimensions {len(part.dimensions)}")
    for d in part.dimensions:
        yield Row(said(_dimension(d)), "dimension", d.name)
    yield from _holes(part)
    yield from _bends(part)
    if part.form != "cut":
        yield _heading(f"points {len(part.points)}, distances {len(part.distances)}")
        for p in part.points:
            yield Row(said(f"point {_point(p)}"), "point", p.label)
        for tie in part.distances:
            words = f"{tie.a} to {tie.b} = {tie.value.written} ±{tie.uncertainty.written}, {tie.instrument}"
            yield Row(said(words), "distance", f"{tie.a} to {tie.b}")
    yield _heading(f"hole groups {len(part.groups)}")
    for g in part.groups:
        yield Row(
            said(f"{g.name}: {' '.join(g.labels)}{f', from {g.reference}' if g.reference else ''}"),
            "group",
            g.name,
        )
    yield _heading(f"connections {len(view.connections)}")
    for m in view.connections:
        others = " on ".join(p.part + (f":{p.group}" if p.group else "") for p in m.plies)
        yield Row(said(f"{m.name}: {m.kind} {m.joint} {m.fastener}  {others}"), "connection", m.name)
    yield _heading(f"questions {len(part.questions)}")
    for q in part.questions:
        yield Row(said(_question(q)), "question", q.ident)


def _holes(part: Part) -> Iterator[Row]:
    """Every hole with its operation, and operations whose hole is gone."""
    yield _heading(f"holes {len(part.holes)}")
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
        yield _heading(f"bend lines {len(drawn)}")
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
    return f"{p.label}{size}{at}{' ' + p.side if p.side else ''}"


def _question(q: Question) -> str:
    state = f"-> {q.answer}" if q.answer else f"(open{'; ' + q.words if q.words else ''})"
    return f"{q.ident}: {q.text} {state}"


def _heading(words: str) -> Row:
    return Row(Text(words, style="bold underline"), heading=True)
