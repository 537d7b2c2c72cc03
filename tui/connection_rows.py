"""
The rows and the picture of the connection screen: what is wrong, every pair of holes, clearances, findings.

A pair is a line: its holes, how far apart they are, how far they may be, a bar of the one against the other.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from rich.style import Style
from rich.text import Text

from ledger.domain.drawing import Drawing, Label, around
from ledger.domain.plates import arrow_lines, rim_of
from ledger.domain.quantity import show_mm
from ledger.domain.todo import todo_of
from ledger.words.bolts import bolt_words
from ledger.words.connections import connection_words
from tui.fixes import KIND_OF
from tui.raster import Mark
from tui.signs import Signs, finding_lines, known_of, said, tone

if TYPE_CHECKING:
    from textual.app import App

    from ledger.domain.connection import Clearance
    from ledger.domain.finding import Finding
    from ledger.domain.shape import Box, Point
    from ledger.job import ConnectionView, Fit, Wrong

_ABOUT_BOLTS = ("bolt_short", "bolt_long", "bolt_odd_length", "bolt_required", "thread_short")
_BAR: Final = 12  # cells of the bar; two thirds of it are what is allowed
_NEAR_MM: Final = 6.0  # at least so much is looked at around a pair
_SAID_ANEW: Final = ("wrong", "move")
_OWN_LENGTH: Final = 18.0  # an arrow is as long as its move in a picture so many times as large
_TIMES: Final = 3.0  # and so many times the size of its holes


@dataclass(frozen=True, slots=True)
class Row:
    """
    One row: its text, the place it speaks of, and what Enter opens: clearance, part, record, bolts, or a `pair` to
    zoom to. `known` is what is told of it below the picture.
    """

    text: Text
    where: str = ""
    clearance: str = ""
    number: str = ""
    recorded: bool = False
    bolts: bool = False
    pair: str = ""
    finding: Finding | None = None
    known: Text | None = None


def title_of(signs: Signs, view: ConnectionView) -> str:
    """What becomes of the connection, its worst margin, and which plate is drawn how."""
    fit, wrong = view.fit, bool(view.fit and view.fit.wrong)
    if fit is None:
        return legend(view)
    verdict = view.ruled or fit.verdict
    sign = signs.go if verdict == "GO" and not wrong else signs.no_go
    fixes = sum(1 for f in view.findings if f.severity == "stop" and todo_of(f) == "fix")
    worst = fit.worst_case_margin_mm if fit.worst_case_margin_mm is not None else fit.margin_mm
    margin = f"  worst margin {show_mm(worst)}" if worst is not None else ""
    return f"holes {sign} {verdict}{margin}{f'  fix {fixes}' if fixes else ''}  {legend(view)}"


def legend(view: ConnectionView) -> str:
    """Which plate is drawn how."""
    first, second, *more = (p.part.number for p in view.plies)
    join = "on" if view.laid or view.pose is not None else "and"
    where = "" if join == "on" else ", position not known"
    return f"{first} (solid) {join} {', '.join((second, *more))} (dashed){where}"


def position_words(view: ConnectionView) -> str:
    """Where the first plate lies on the second; empty where that is not known, or there are more."""
    pose = view.pose if len(view.plies) == 2 else None  # noqa: PLR2004 - two plates
    if pose is None:
        return ""
    over = ", turned over" if pose.turned_over else ""
    return f"({pose.x_mm:.1f}, {pose.y_mm:.1f}) mm, {pose.angle_deg:.2f} deg{over}"


def picture_of(view: ConnectionView) -> Drawing:
    """The drawing of the connection in which every wrong hole says whose it is, with its move at its true length."""
    fit = view.fit
    if fit is None or not fit.wrong or fit.pose is None:
        return view.drawing
    first, second = (p.part for p in view.plies[:2])
    lines = [line for line in view.drawing.lines if line.role != "move"]
    labels = [label for label in view.drawing.labels if label.role not in _SAID_ANEW]
    for wrong in fit.wrong:
        own = next((label for label in view.drawing.labels if label.text == wrong.a), None)
        other = second.hole(wrong.b)
        if other:
            labels.append(Label(f"{wrong.b} {second.number}", rim_of(other), "lower"))
        if own is None:
            continue
        labels.append(replace(own, text=f"{wrong.a} {first.number}"))
        if wrong.kind == "offset" and wrong.offset_mm > 0:
            arrow = arrow_lines(own.middle, fit.pose.turn(wrong.move_a_mm), _OWN_LENGTH * wrong.offset_mm)
            lines += arrow
            rim = around((x, y, x, y) for line in arrow for x, y, _ in line.vertices)
            labels.append(Label(f"{wrong.offset_mm:.2f} mm", rim, "move"))
    return replace(view.drawing, lines=tuple(lines), labels=tuple(labels))


def marks_of(signs: Signs, view: ConnectionView) -> list[Mark]:
    """A sign at each hole of a stack that is in the way."""
    if view.fit is not None:
        return []
    return [Mark(place, signs.no_go, "bold reverse") for place in view.in_the_way]


def box_of(view: ConnectionView, pair: str) -> Box | None:
    """What to look at to see a pair of holes (`H5/H4`), in the picture's coordinates; None where it is not known."""
    a, _, b = pair.partition("/")
    hole = view.plies[1].part.hole(b)
    rims = [rim_of(hole)] if hole else []
    rims += [label.rim for label in view.drawing.labels if label.text == a]
    if not rims:
        return None
    x0, y0, x1, y1 = around(rims)
    more = max(_NEAR_MM, (_TIMES - 1) / 2 * max(x1 - x0, y1 - y0))
    return (x0 - more, y0 - more, x1 + more, y1 + more)


def worst_pair(view: ConnectionView) -> str:
    """The pair to open the picture at: the hole that is farthest off; none where nothing is wrong."""
    wrong = view.fit.wrong if view.fit else ()
    worst = max(wrong, key=lambda w: w.offset_mm - w.allowed_mm, default=None)
    return f"{worst.a}/{worst.b}" if worst else ""


def rows_of(app: App[object] | App[None], signs: Signs, view: ConnectionView) -> Iterator[Row]:
    """Every row, what is wrong first."""
    first, second = (p.part.number for p in view.plies[:2])
    name, fit = view.connection.name, view.fit
    if fit:
        for wrong in fit.wrong:
            yield _wrong_row(app, signs, wrong, view)
        yield Row(said(_fit(fit, view.ruled, view.odds)), f"{name}/fit", known=said(position_words(view)))
    for clearance in view.connection.clearances:
        yield Row(said(_clearance(clearance)), f"{name}/{clearance.name}", clearance=clearance.name)
    told = {f"{name}/{first}/{w.a}" for w in fit.wrong if w.kind == "offset"} if fit else set()
    numbers = [p.part.number for p in view.plies]
    for text, found in finding_lines(app, signs, (f for f in view.findings if f.where not in told)):
        opens = _opens(found, name, numbers) if found else {}
        known = known_of(found) if found else None
        yield Row(text, found.where if found else "", finding=found, known=known, **opens)
    if fit and fit.pairs:
        yield from _pair_rows(app, signs, fit, first, second)
    yield Row(said(f"recorded: {connection_words(view.connection)}"), f"{name}/recorded", recorded=True)
    if view.connection.kind == "bolted":
        stated = bolt_words(view.connection) or "length not entered"
        yield Row(said(f"bolts: {view.connection.fastener}, {stated}"), f"{name}/bolts", bolts=True)
    for placed, standing in zip(view.plies, view.standings, strict=True):
        words = f"open {placed.part.number} {placed.part.revision} ({standing})"
        yield Row(said(words), f"{name}/{placed.part.number}", number=placed.part.number)


def _pair_rows(
    app: App[object] | App[None], signs: Signs, fit: Fit, first: str, second: str
) -> Iterator[Row]:
    """The table of pairs, the tightest first."""
    yield Row(
        said(
            f"  {first} · {second}: off / allowed"
            if signs.braille
            else f"  {first} - {second}: off / allowed"
        )
    )
    wide = max(len(p.a) + len(p.b) for p in fit.pairs) + 3
    for p in sorted(fit.pairs, key=lambda p: p.margin_mm):
        good = p.margin_mm >= 0
        lead = f"{signs.go if good else signs.no_go} {f'{p.a} {signs.note} {p.b}':<{wide}}"
        text = Text(no_wrap=True).append(lead, tone(app, "success" if good else "error"))
        text.append(f"{p.offset_mm:7.2f} / {p.allowed_mm:.2f}  ")
        text.append(bar(signs, p.offset_mm, p.allowed_mm), tone(app, "success" if good else "error"))
        yield Row(text, pair=f"{p.a}/{p.b}", known=said(f"margin {show_mm(p.margin_mm)}"))


def bar(signs: Signs, off_mm: float, allowed_mm: float) -> str:
    """How far two holes are apart against what is allowed, which is marked at two thirds of the bar."""
    full, empty, limit = ("█", "░", "│") if signs.braille else ("#", ".", "|")
    at = _BAR * 2 // 3
    filled = min(round(off_mm / allowed_mm * at), _BAR) if allowed_mm > 0 else _BAR
    cells = full * filled + empty * (_BAR - filled)
    return f"{cells[:at]}{limit}{cells[at:]}"


def _wrong_row(app: App[object] | App[None], signs: Signs, wrong: Wrong, view: ConnectionView) -> Row:
    """A hole that is off: by how much, and which hole to move in which drawing."""
    first, second = (p.part.number for p in view.plies[:2])
    where = f"{view.connection.name}/{first}/{wrong.a}"
    found = next((f for f in view.findings if f.where == where), None)
    text = Text().append(f"{signs.no_go} fix   ", style=tone(app, "error") + Style(bold=True))
    if wrong.kind != "offset":
        text.append_text(said(f"{wrong.a} of {first}, {wrong.b} of {second}: ", "bold"))
        text.append_text(said(f"too small by {show_mm(-wrong.allowed_mm)} on the radius", "bold"))
    else:
        out = f"{show_mm(wrong.offset_mm)} off, allows {show_mm(wrong.allowed_mm)}"
        text.append_text(said(f"{wrong.a} of {first} on {wrong.b} of {second}: {out}", "bold"))
        here, there = _move(wrong.move_a_mm), _move(wrong.move_b_mm)
        text.append("\n  ").append_text(said(f"move {wrong.a} by {here} in {first},"))
        text.append("\n  ").append_text(said(f"  or {wrong.b} by {there} in {second}"))
        text.append("\n  ").append(bar(signs, wrong.offset_mm, wrong.allowed_mm), tone(app, "error"))
    known = known_of(found) if found else None
    return Row(text, where, pair=f"{wrong.a}/{wrong.b}", finding=found, known=known)


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


def _clearance(c: Clearance) -> str:
    r = c.reading
    measured = f"{r.words}, {r.by} {r.when}" if r else "not measured"
    weight = " (critical)" if c.critical else ""
    return f"clearance {c.name}{weight}: expected {c.required.written}; {measured}"


def _move(by: Point) -> str:
    return f"({by[0]:+.2f}, {by[1]:+.2f}) mm"
