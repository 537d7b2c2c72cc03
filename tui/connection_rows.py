"""The rows and marks of the connection screen: the fit, wrong holes with their moves, clearances, findings."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rich.text import Text

from ledger.domain.plates import rim_of
from ledger.domain.quantity import show_mm
from ledger.words.bolts import bolt_words
from ledger.words.connections import connection_words
from tui.fixes import KIND_OF
from tui.raster import Mark
from tui.signs import Signs, finding_texts, said

if TYPE_CHECKING:
    from textual.app import App

    from ledger.domain.connection import Clearance
    from ledger.domain.finding import Finding
    from ledger.domain.shape import Point
    from ledger.job import ConnectionView, Fit, Wrong


_ABOUT_BOLTS = ("bolt_short", "bolt_long", "bolt_odd_length", "bolt_required", "thread_short")


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its text, the place it speaks of, and what Enter opens: clearance, part, record or bolts."""

    text: Text
    where: str = ""
    clearance: str = ""
    number: str = ""
    recorded: bool = False
    bolts: bool = False


def legend(view: ConnectionView) -> str:
    """Which plate is drawn how, and the position of the first one."""
    first, second, *more = (p.part.number for p in view.plies)
    if more:
        where = "" if view.laid else ", position not known"
        return f"{first} (solid) on {', '.join((second, *more))} (dashed){where}"
    pose = view.pose
    if pose is None:
        return f"{first} (solid) and {second} (dashed), position not known"
    over = ", turned over" if pose.turned_over else ""
    place = f"({pose.x_mm:.1f}, {pose.y_mm:.1f}) mm, {pose.angle_deg:.2f} deg{over}"
    return f"{first} (solid) on {second} (dashed) at {place}"


def marks_of(signs: Signs, view: ConnectionView) -> list[Mark]:
    """A glyph and a number at each wrong hole, in the picture's coordinates (the second ply's)."""
    if view.fit is None:
        return [Mark(place, signs.no_go, "bold reverse") for place in view.in_the_way]
    second = view.plies[1].part
    marks = []
    for number, wrong in enumerate(view.fit.wrong, 1):
        hole = second.hole(wrong.b)
        if hole:
            marks.append(
                Mark(hole.centre, f"{signs.no_go}{number}", "bold reverse", rim=rim_of(hole), must=True)
            )
    return marks


def rows_of(app: App[object] | App[None], signs: Signs, view: ConnectionView) -> Iterator[Row]:
    """Every row, what is wrong first."""
    first, second = (p.part.number for p in view.plies[:2])
    name = view.connection.name
    if view.fit:
        yield Row(said(_fit(view.fit, view.ruled, view.odds), "bold"), f"{name}/fit")
        for n, wrong in enumerate(view.fit.wrong, 1):
            yield Row(_wrong(signs, n, wrong, first, second), f"{name}/{first}/{wrong.a}")
    for clearance in view.connection.clearances:
        yield Row(said(_clearance(clearance)), f"{name}/{clearance.name}", clearance=clearance.name)
    told = {f"{name}/{first}/{w.a}" for w in view.fit.wrong if w.kind == "offset"} if view.fit else set()
    numbers = [p.part.number for p in view.plies]
    for text, found in finding_texts(app, signs, (f for f in view.findings if f.where not in told)):
        opens = _opens(found, name, numbers) if found else {}
        yield Row(text, found.where if found else "", **opens)
    yield Row(said(f"recorded: {connection_words(view.connection)}"), f"{name}/recorded", recorded=True)
    if view.connection.kind == "bolted":
        stated = bolt_words(view.connection) or "length not entered"
        yield Row(said(f"bolts: {view.connection.fastener}, {stated}"), f"{name}/bolts", bolts=True)
    for p in view.fit.pairs if view.fit else ():
        room = (
            f"off by {show_mm(p.offset_mm)}, allowed {show_mm(p.allowed_mm)}, margin {show_mm(p.margin_mm)}"
        )
        yield Row(said(f"{p.a} of {first} on {p.b} of {second}: {room}"))
    for placed, standing in zip(view.plies, view.standings, strict=True):
        words = f"open {placed.part.number} {placed.part.revision} ({standing})"
        yield Row(said(words), f"{name}/{placed.part.number}", number=placed.part.number)


def _opens(found: Finding, connection: str, numbers: Collection[str]) -> dict[str, Any]:
    """What Enter on a finding opens: a reading, the record, the bolts, or the part that it is about."""
    rest = found.where.removeprefix(f"{connection}/")
    kind = KIND_OF.get(found.code)
    if found.code in _ABOUT_BOLTS:
        return {"bolts": True}
    if kind == "reading":
        return {"clearance": rest}
    if kind == "record":
        return {"recorded": True}
    owners = [n for n in numbers if rest == n or rest.startswith(f"{n}/")]
    return {"number": max(owners, key=len, default="")}


def _fit(fit: Fit, ruled: str, odds: str) -> str:
    if fit.margin_mm is None:
        return f"holes: {fit.verdict}; {'; '.join(fit.notes)}"
    worst = show_mm(fit.worst_case_margin_mm) if fit.worst_case_margin_mm is not None else "none"
    tight = f", tightest {' on '.join(fit.tightest)}" if fit.tightest else ""
    proof = "proven" if fit.proven else "not proven"
    return (
        f"holes: {ruled or fit.verdict}{f', {odds}' if odds else ''}, margin {show_mm(fit.margin_mm)} nominal, "
        f"{worst} worst case{tight}; {proof}"
    )


def _wrong(signs: Signs, number: int, wrong: Wrong, first: str, second: str) -> Text:
    lead = f"{signs.no_go}{number} {wrong.a} of {first}, {wrong.b} of {second}: "
    if wrong.kind != "offset":
        return said(f"{lead}too small by {show_mm(-wrong.allowed_mm)} on the radius", "bold")
    out = f"{show_mm(wrong.offset_mm)} off, the joint allows {show_mm(wrong.allowed_mm)}"
    text = Text().append_text(said(lead + out, "bold"))
    text.append("\n    fix: ", style="bold")
    here, there = _move(wrong.move_a_mm), _move(wrong.move_b_mm)
    moves = f"move {wrong.a} by {here} in {first}, or {wrong.b} by {there} in {second}"
    return text.append_text(said(moves))


def _clearance(c: Clearance) -> str:
    r = c.reading
    measured = f"{r.words}, {r.by} {r.when}" if r else "not measured"
    weight = " (critical)" if c.critical else ""
    return f"clearance {c.name}{weight}: expected {c.required.written}; {measured}"


def _move(by: Point) -> str:
    return f"({by[0]:+.2f}, {by[1]:+.2f}) mm"
