"""
The inspection sheet: what to measure of the pieces of a part, with an empty box for every piece.

Holes with the least margin stand first, since they are the first not to fit. How many pieces: all, or as many as
ISO 2859-1 asks for. The picture shows where each hole is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final

from ledger.cases.connections import ConnectionCase
from ledger.domain.dimension_words import dimension_text, figure, hole_size, sizes_text
from ledger.domain.errors import BadInput, visible
from ledger.domain.piece import Piece
from ledger.domain.plates import part_drawing
from ledger.domain.plural import counted
from ledger.domain.quantity import show_mm
from ledger.domain.record import Part
from ledger.domain.shape import Hole
from ledger.judge.as_built import bolted_cases
from ledger.judge.verdicts import Judging
from ledger.papers import flow
from ledger.papers.flow import Flow, Heading, Table, flowed, foot
from ledger.papers.page import Area, Page
from ledger.papers.sheet_picture import draw_on
from ledger.standards.sampling import every_piece, plan
from ledger.store import facts as read
from ledger.store.pieces import pieces
from ledger.store.rows import the_row
from ledger.store.tables import JobFact, PartFact

_EDGE_MM: Final = 14.0
_AT_ONCE: Final = 5  # pieces beside each other
_HOW: Final = (
    "Measure every hole of a group with size and place, in the coordinates of the drawing: only then does a piece "
    "prove that it fits. Write down the instrument and how sure it is. Deburr first; mind sharp edges."
)


def inspection_sheet(judging: Judging, number: str, aql: str = "", paper: str = "A4") -> bytes:
    """The sheet as PDF. Raises UnknownName, and BadInput where nothing came back or the part has no drawing."""
    with judging.store.reading() as facts:
        cases = bolted_cases(judging, facts, number)
        came = [p for p in pieces(facts) if p.part == number]
        if not came:
            raise BadInput(f"no piece of {visible(number)} came back yet; fitup receive records some")
        revision = came[-1].revision
        came = [p for p in came if p.revision == revision]
        part = read.part(facts, the_row(facts, PartFact, number, revision))
        (job,) = read.rows(facts, JobFact)
    if part.profile is None:
        raise BadInput(f"{visible(number)} has no drawing to measure by")
    chosen = plan(len(came), aql) if aql else every_piece(len(came))
    shown = came[: chosen.sample]
    many = (
        "all of them"
        if chosen.whole_lot
        else f"{chosen.sample} of {chosen.lot}, refused with {chosen.refuse} bad"
    )
    title = f"{number} {revision} inspection"
    how = f"{counted(len(came), 'piece')}: measure {many} ({chosen.source})"
    laid = Flow(
        paper,
        title,
        job.firm,
        partial(foot, title),
        first=partial(_picture, part, how),
    )
    rows = [*_dimensions(part), *_holes(part, _margins(cases, number))]
    return flowed(laid, list(_tables(rows, shown)))[0]


def _margins(cases: Sequence[ConnectionCase], number: str) -> dict[str, float]:
    """The least margin of every hole of a part over its connections, mm."""
    found: dict[str, float] = {}
    for case in cases:
        fit, at = case.best_fit, case.place_of(number)
        for pair in fit.pairs if fit and at is not None else ():
            label = (pair.a, pair.b)[min(at or 0, 1)]
            found[label] = min(pair.margin_mm, found.get(label, pair.margin_mm))
    return found


def _dimensions(part: Part) -> Iterator[tuple[str, str, str]]:
    for key in part.dimensions:
        yield key.name, dimension_text(key), sizes_text(key)


def _holes(part: Part, margins: dict[str, float]) -> Iterator[tuple[str, str, str]]:
    """Holes, those with the least margin first: size, and place in x and y."""

    def first(hole: Hole) -> tuple[bool, float]:
        return hole.label not in margins, margins.get(hole.label, 0.0)

    for hole in sorted(part.holes, key=first):
        margin = margins.get(hole.label)
        told = f"margin {show_mm(margin)}" if margin is not None else ""
        yield hole.label, f"{hole_size(hole)} mm", told
        yield f"{hole.label} x", figure(hole.centre[0], 3), ""
        yield f"{hole.label} y", figure(hole.centre[1], 3), ""


def _tables(rows: Sequence[tuple[str, str, str]], shown: Sequence[Piece]) -> Iterator[flow.Piece]:
    yield Heading("How")
    yield Table((1.0,), [(_HOW,)])
    for k in range(0, len(shown), _AT_ONCE):
        some = shown[k : k + _AT_ONCE]
        yield Heading(
            f"Pieces {some[0].name} to {some[-1].name}" if len(some) > 1 else f"Piece {some[0].name}"
        )
        boxes = ("",) * len(some)
        shares = (0.12, 0.18, 0.2, *(0.5 / len(some) for _ in some))
        head = ("feature", "drawn", "limits", *(p.name for p in some))
        yield Table(shares, [(*row, *boxes) for row in rows], head, boxed=True)
        yield Table((0.2, 0.8), [("instrument, ±U", ""), ("by, on", "")], boxed=True)


def _picture(part: Part, how: str, page: Page, number: int, count: int) -> None:
    """A page with the part and the labels of its holes."""
    wide, title = page.width - 2 * _EDGE_MM, f"{part.number} {part.revision} inspection"
    page.text(
        (_EDGE_MM, page.height - _EDGE_MM - 4),
        f"INSPECTION  {part.number} {part.revision}  {part.title}",
        size=11.0,
        bold=True,
    )
    page.text((_EDGE_MM, page.height - _EDGE_MM - 10), how, size=8.0)
    room = Area(_EDGE_MM, page.height - _EDGE_MM - 16, wide, page.height - 2 * _EDGE_MM - 26)
    draw_on(page, room, part_drawing(part))
    foot(title, page, number, count)
