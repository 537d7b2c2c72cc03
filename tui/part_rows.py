"""The tabs of the part screen: which rows each has, what each row says and what Enter on it opens."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import TYPE_CHECKING, Final

from ledger.domain.plural import counted
from ledger.domain.verdict import revisions_text
from tui.part_known import connection_rows, known_rows, record_rows
from tui.part_row import PartView, Row, heading
from tui.signs import Signs, finding_lines, said

if TYPE_CHECKING:
    from textual.app import App

TABS: Final = ("findings", "record", "dimensions", "connections", "history")


def tabs_of(app: App[object] | App[None], signs: Signs, view: PartView) -> dict[str, tuple[Row, ...]]:
    """The rows of every tab, by its name."""
    return {
        "findings": tuple(_findings(app, signs, view)),
        "record": tuple(record_rows(view)),
        "dimensions": tuple(known_rows(view)),
        "connections": tuple(connection_rows(view)),
        "history": tuple(_history(signs, view)),
    }


def rows_of(app: App[object] | App[None], signs: Signs, view: PartView) -> Iterator[Row]:
    """The rows of all tabs, one after the other."""
    return chain(*tabs_of(app, signs, view).values())


def _findings(app: App[object] | App[None], signs: Signs, view: PartView) -> Iterator[Row]:
    """Each finding in a line, stops first; then what no check looked at."""
    v = view.verdict
    for text, found in finding_lines(app, signs, (*v.stops, *v.warnings, *v.notes)):
        yield Row(text, "" if found else "look", finding=found)
    others = [n for n in view.together if n != view.part.number]
    if others:
        yield Row(said(f"{signs.note} checked together with {', '.join(others)}, as last signed"), "sign")
    if v.go:
        locked = "locked: Enter shows its history" if view.part.locked else "nothing stops it: Enter locks"
        yield Row(said(f"{signs.go} {locked}"), "history" if view.part.locked else "lock")
    if v.not_checked:
        words = f"{signs.note} not checked: {counted(len(v.not_checked), 'matter')}; Enter lists them"
        yield Row(said(words), "not checked")


def _history(signs: Signs, view: PartView) -> Iterator[Row]:
    """Revisions, who signed, what was permitted."""
    yield heading(f"revisions {len(view.revisions)}")
    for r in reversed(view.revisions):
        state = "locked" if r.locked else "open"
        yield Row(said(f"{r.revision} ({state}): {r.reason or 'first revision'}"), "changes", r.revision)
    if view.verdict.signed:
        yield heading(f"signatures {len(view.verdict.signed)}")
    for s in view.verdict.signed:
        yield Row(said(f"{s.role} by {s.person}{' (self-check)' if s.self_check else ''}"), "sign")
    yield from _permits(signs, view)
    yield Row(said(f"fingerprint {view.verdict.subject[:12]}"), "changes")


def _permits(signs: Signs, view: PartView) -> Iterator[Row]:
    if view.permits:
        yield heading(f"permits {len(view.permits)}")
    used = {(found.code, found.where) for found in view.verdict.permitted}
    for p in view.permits:
        until = f"until {p.until}" if p.until else "no end date"
        until += f", up to {p.up_to}" if p.up_to else ""
        state = "signature invalid" if not p.sound else "in force" if p.in_force else p.void
        until += f", {revisions_text(p.parts)}" if p.connection else ""
        unused = "" if (p.code, p.where) in used or not p.in_force else ", covers no finding"
        words = f"{p.code} [{p.where}] by {p.person}, {until} ({state}{unused}): {p.reason}"
        yield Row(said(f"{signs.note} {words}"), "permit", str(p.seq))
