"""
What a piece that came back fits: its measured holes in place of the drawn ones, in every bolted connection of its part.

Where size and place of every hole that a connection speaks of were measured, these count with their uncertainty, and
nothing of what the process may do: the piece is there. Where only some were, the others may still be anything that the
process allows, and all are taken so. Only holes are judged here; everything else is as it was drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.domain.errors import BadInput, FitupError
from ledger.domain.piece import Feature, Piece
from ledger.domain.quantity import Length
from ledger.domain.record import Dimension, MeasuredHole, Part
from ledger.domain.shape import Hole
from ledger.judge.piece_places import choices_of, placed
from ledger.judge.verdicts import Judging
from ledger.standards.acceptance import accepted
from ledger.store import facts as read
from ledger.store.pieces import pieces
from ledger.store.rows import the_row
from ledger.store.tables import PartFact
from ledger.words.as_built import FitAsBuilt, Held, Inspected, PieceFound, Rework

DRILL_STEP_MM: Final = 0.1
MOST_LARGER_MM: Final = 5.0
_BOTH, _FEW = 2, 4
_CLEAR: Final = ("through", "drilled on site")
_HELD_BY_LAST: Final = ("tapped", "stud", "captive nut")


def bolted_cases(judging: Judging, facts: Session, number: str) -> tuple[ConnectionCase, ...]:
    """
    The bolted connections of a part, with open revisions of the other parts where there are any. Raises UnknownName.
    """
    newest_part(facts, number)
    others = [x.number for x in read.part_lines(facts) if not x.locked and x.number != number]
    bench = judging.bench(facts, others)
    mine = bench.records.connections_of(number)
    return tuple(bench.connection_case(c) for c in mine if c.kind == "bolted")


def inspected(judging: Judging, number: str) -> Inspected:
    """Every piece of a part in every bolted connection of it. Raises UnknownName."""
    with judging.store.reading() as facts:
        cases = bolted_cases(judging, facts, number)
        came = [p for p in pieces(facts) if p.part == number]
        parts = {p.revision: read.part(facts, the_row(facts, PartFact, number, p.revision)) for p in came}
    choices = choices_of(cases, number)
    found = tuple(_found(cases, parts[p.revision], p, choices) for p in came)
    places, why = placed(choices, found)
    return Inspected(number, found, places, why)


def _found(
    cases: Sequence[ConnectionCase], part: Part, piece: Piece, choices: tuple[tuple[str, ...], ...]
) -> PieceFound:
    fits = tuple(fit_as_built(case, part, piece) for case in cases)
    return PieceFound(piece, fits, tuple(_held(part, piece)), *_unread(part, piece), choices)


def fit_as_built(case: ConnectionCase, part: Part, piece: Piece) -> FitAsBuilt:
    """One piece of a part in one connection."""
    name = case.connection.name
    if len(case.plies) != _BOTH:
        return FitAsBuilt(name, None, why="three and more plies are not checked piece by piece")
    if not any(f.value or f.at for f in piece.features):
        return FitAsBuilt(name, None, why="nothing of this piece was measured")
    at = _place_of(case, part)
    try:
        built, left = _with_piece(case, at, part, piece)
        fits, margin, worst, wrong = _ruled(built, at)
    except FitupError as why:
        return FitAsBuilt(name, None, why=str(why))
    if fits and left:
        few = ", ".join(left[:_FEW]) + (f" and {len(left) - _FEW} more" if len(left) > _FEW else "")
        return FitAsBuilt(name, None, margin, worst, why=f"measure size and place of {few}")
    rework = None if fits else _rework(case, part, piece, wrong)
    return FitAsBuilt(name, fits, margin, worst, wrong, rework)


def _place_of(case: ConnectionCase, part: Part) -> int:
    return next(k for k, p in enumerate(case.plies) if p.part.number == part.number)


def _ruled(case: ConnectionCase, at: int) -> tuple[bool, float | None, float | None, tuple[str, ...]]:
    """Whether it goes together, its margins, and the holes of the piece that are in the way, else the tightest."""
    ruling, fit = case.ruling, case.best_fit
    if ruling is None or fit is None:
        raise BadInput("its holes cannot be fitted")
    wrong = tuple(label for ply, label in sorted(case.wrong) if ply == at)
    if not wrong and fit.tightest and ruling.verdict != "GO":
        wrong = (fit.tightest[at],)
    return ruling.verdict == "GO", fit.margin_mm, fit.worst_case_margin_mm, wrong


def _with_piece(
    case: ConnectionCase, at: int, part: Part, piece: Piece
) -> tuple[ConnectionCase, tuple[str, ...]]:
    """The case with the piece in place of its part, and the holes that count and were not measured."""
    placed = replace(case.plies[at], part=part)
    holes = {h.label: h for h in placed.all_holes} if placed.ply.group else {h.label: h for h in part.holes}
    if not holes:
        raise BadInput(f"no holes known of {part.number}")
    left = tuple(label for label, h in holes.items() if not _is_measured(piece, h))
    built = _partly(part, piece) if left else _measured(part, piece, holes)
    plies = list(case.plies)
    plies[at] = PlacedPly(placed.ply, built, "")
    return ConnectionCase(case.connection, tuple(plies), case.odds), left


def _is_measured(piece: Piece, hole: Hole) -> bool:
    feature = piece.feature(hole.label)
    return feature is not None and feature.value is not None and feature.at is not None and not hole.is_slot


def _measured(part: Part, piece: Piece, holes: Iterable[str]) -> Part:
    """
    The part as what is there: its measured holes with their uncertainty, as small as they may be.

    Holes that the connection does not speak of stay as they are drawn.
    """
    taken = part.taken
    labels = set(holes)
    coat_mm = 2 * float(part.coating_thickness.mm) if part.coating_thickness else 0.0
    bare = {label for label in labels if part.masks.bare_holes([label])}
    measured = []
    for hole in part.holes:
        feature = piece.feature(hole.label)
        if hole.label in labels and feature and feature.value and feature.at:
            made = _as_read(hole, feature, 0.0 if feature.coated or hole.label in bare else coat_mm)
            measured.append(MeasuredHole(made, feature.uncertainty, "measured"))
        else:
            measured.append(MeasuredHole(hole, None, "given"))
    drawn = replace(taken, profile=replace(taken.profile, holes=())) if taken else None
    return replace(part, form="bought", taken=drawn, measured_holes=tuple(measured), coating_thickness=None)


def _as_read(hole: Hole, feature: Feature, coat_mm: float) -> Hole:
    """A hole where it was read, and as small as it may be, once the coats that it still gets are on."""
    if feature.value is None or feature.at is None:
        return hole
    centre = (float(feature.at[0].mm), float(feature.at[1].mm))
    size = float(feature.value.mm) - float(feature.uncertainty.mm) - coat_mm
    return replace(hole, core=(centre,), diameter_mm=max(size, 1e-6), made_of="measured")


def _partly(part: Part, piece: Piece) -> Part:
    """The part as drawn, but for what was measured of round holes; all of it still as exact as its process is."""
    taken = part.taken
    if taken is None:
        raise BadInput(f"{part.number} has no drawing")
    holes = []
    for hole in taken.profile.holes:
        feature = piece.feature(hole.label)
        if feature is None or hole.is_slot:
            holes.append(hole)
            continue
        sure = float(feature.uncertainty.mm)
        size = max(float(feature.value.mm) - sure, 1e-6) if feature.value else hole.diameter_mm
        core = ((float(feature.at[0].mm), float(feature.at[1].mm)),) if feature.at else hole.core
        holes.append(replace(hole, diameter_mm=size, core=core))
    return replace(part, taken=replace(taken, profile=replace(taken.profile, holes=tuple(holes))))


def _rework(case: ConnectionCase, part: Part, piece: Piece, wrong: Sequence[str]) -> Rework | None:
    """The first hole that, opened alone by whole tenths, lets the piece go together; the smallest that does."""
    for label in wrong:
        hole = part.hole(label)
        if hole is None or hole.is_slot or not _is_clearance(case, part, label):
            continue
        feature = piece.feature(label)
        now = float(feature.value.mm) if feature and feature.value else hole.diameter_mm
        least, most = 1, round(MOST_LARGER_MM / DRILL_STEP_MM)
        start = math.floor(now / DRILL_STEP_MM) * DRILL_STEP_MM
        if not _opened(case, part, piece, label, start + most * DRILL_STEP_MM):
            continue
        while least < most:
            middle = (least + most) // 2
            if _opened(case, part, piece, label, start + middle * DRILL_STEP_MM):
                most = middle
            else:
                least = middle + 1
        return Rework(label, round(start + most * DRILL_STEP_MM, 3))
    return None


def _is_clearance(case: ConnectionCase, part: Part, label: str) -> bool:
    """Whether a fastener passes a hole with room, so that it may be opened: it holds no thread, pin or head."""
    at = _place_of(case, part)
    connection, own = case.connection, {h.label for h in case.plies[at].holes}
    joints = [connection.joint] if label in own else []
    joints += [more.joint for more in connection.also if label in _of_group(part, more.groups[at])]
    holds = at == len(case.plies) - 1
    return bool(joints) and all(j in _CLEAR or (j in _HELD_BY_LAST and not holds) for j in joints)


def _of_group(part: Part, name: str) -> tuple[str, ...]:
    group = part.group(name)
    return group.labels if group else ()


def _opened(case: ConnectionCase, part: Part, piece: Piece, label: str, diameter_mm: float) -> bool:
    """Whether the piece goes together with one hole opened to this diameter."""
    drilled = Length(f"{diameter_mm:.4f} mm", Decimal(f"{diameter_mm:.4f}"))
    features = tuple(replace(f, value=drilled) if f.name == label else f for f in piece.features)
    if piece.feature(label) is None:
        own = part.taken
        holes = tuple(
            replace(h, diameter_mm=diameter_mm) if h.label == label else h
            for h in (own.profile.holes if own else ())
        )
        part = replace(part, taken=replace(own, profile=replace(own.profile, holes=holes))) if own else part
    try:
        at = _place_of(case, part)
        built, _ = _with_piece(case, at, part, replace(piece, features=features))
        return _ruled(built, at)[0]
    except FitupError:
        return False


def _held(part: Part, piece: Piece) -> Iterator[Held]:
    """The key dimensions that were read, against their limits."""
    for dimension in part.dimensions:
        feature, limits = piece.feature(dimension.name), dimension.limits
        if feature is None or feature.value is None or limits is None:
            continue
        low, high = _limits(dimension)
        found = accepted(float(feature.value.mm), low, high, float(feature.uncertainty.mm))
        read_as = f"{feature.value.written} ±{feature.uncertainty.written}"
        yield Held(dimension.name, read_as, f"{dimension.nominal.written} {limits.written}", found)


def _unread(part: Part, piece: Piece) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The key dimensions with limits that were not read of a piece, and those of them that are critical."""
    read_of = {f.name for f in piece.features if f.value is not None}
    left = [d for d in part.dimensions if d.limits and d.name not in read_of]
    return tuple(d.name for d in left), tuple(d.name for d in left if d.critical)


def _limits(dimension: Dimension) -> tuple[float | None, float | None]:
    nominal, limits = float(dimension.nominal.mm), dimension.limits
    low = None if limits is None or limits.lower_mm is None else nominal + float(limits.lower_mm)
    high = None if limits is None or limits.upper_mm is None else nominal + float(limits.upper_mm)
    return low, high
