"""
What a piece that came back fits: its measured holes in place of the drawn ones, in every bolted connection of its part.

Where size and place of every hole that a connection speaks of were measured, these count with their uncertainty, and
nothing of what the process may do: the piece is there. Where only some were, the others may still be anything that the
process allows, and all are taken so. Only holes are judged here; everything else is as it was drawn.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final, Literal

from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.domain.errors import BadInput, FitupError
from ledger.domain.piece import Feature, Piece
from ledger.domain.quantity import Length, show_mm
from ledger.domain.record import Dimension, MeasuredHole, Part
from ledger.domain.shape import Hole
from ledger.judge.verdicts import Judging
from ledger.standards.acceptance import Acceptance, accepted
from ledger.store import facts as read
from ledger.store.pieces import pieces
from ledger.store.rows import the_row
from ledger.store.tables import ConnectionFact, PartFact

DRILL_STEP_MM: Final = 0.1
MOST_LARGER_MM: Final = 5.0
_BOTH, _FEW = 2, 4


@dataclass(frozen=True, slots=True)
class Rework:
    """The hole of a piece to be opened, and to what diameter, so that its connection goes together."""

    hole: str
    diameter_mm: float

    @property
    def words(self) -> str:
        """`open H1 to 14.6 mm`."""
        return f"open {self.hole} to {self.diameter_mm:.1f} mm"


@dataclass(frozen=True, slots=True)
class FitAsBuilt:
    """
    A piece in one connection. `fits` is None where it could not be told, and `why` says what is missing: it is never
    told to fit unless all the holes that count were measured. `wrong` are holes of the piece that are in the way.
    """

    connection: str
    fits: bool | None
    margin_mm: float | None = None
    worst_mm: float | None = None
    wrong: tuple[str, ...] = ()
    rework: Rework | None = None
    why: str = ""

    @property
    def words(self) -> str:
        """In a line."""
        if self.fits is None:
            return f"{self.connection}: not known: {self.why}"
        margin = f", margin {show_mm(self.margin_mm)}" if self.margin_mm is not None else ""
        if self.fits:
            return f"{self.connection}: fits as built{margin}"
        holes = f" ({', '.join(self.wrong)})" if self.wrong else ""
        more = f"; {self.rework.words} and it fits" if self.rework else "; no single larger hole helps"
        return f"{self.connection}: does not fit{holes}{margin}{more}"

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        rework = {"hole": self.rework.hole, "diameter_mm": self.rework.diameter_mm} if self.rework else None
        return {
            "connection": self.connection, "fits": self.fits, "margin_mm": self.margin_mm, "worst_mm": self.worst_mm,
            "wrong": list(self.wrong), "rework": rework, "why": self.why,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Held:
    """A key dimension of a piece against its limits: what was read, and what it proves (ISO 14253-1)."""

    name: str
    read: str
    limits: str
    acceptance: Acceptance

    @property
    def words(self) -> str:
        """In a line."""
        found = self.acceptance
        told = {"conforms": "holds", "not proven": "not proven", "does not conform": "does not hold"}[
            found.outcome
        ]
        by = f", {show_mm(found.outside_mm)} outside" if found.outside_mm > 0 else ""
        return f"{self.name}: {told}{by}; read {self.read}, required {self.limits}"

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        found = self.acceptance
        return {
            "dimension": self.name, "read": self.read, "limits": self.limits, "outcome": found.outcome,
            "outside_mm": found.outside_mm, "guard_mm": found.guard_mm,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class PieceFound:
    """
    A piece with what it fits and what of its dimensions holds. `unread` are key dimensions with limits that nobody has
    measured of it, `critical` those of them without which nothing is proven.
    """

    piece: Piece
    fits: tuple[FitAsBuilt, ...]
    dimensions: tuple[Held, ...] = ()
    unread: tuple[str, ...] = ()
    critical: tuple[str, ...] = ()

    @property
    def verdict(self) -> Literal["fits", "does not fit", "not known"]:
        """Of the whole piece: it fits where every connection is proven to, and no dimension is proven to be off."""
        if any(f.fits is False for f in self.fits) or any(d.acceptance.rejectable for d in self.dimensions):
            return "does not fit"
        known = bool(self.fits or self.dimensions) and all(f.fits for f in self.fits) and not self.critical
        return (
            "fits"
            if known and all(d.acceptance.outcome == "conforms" for d in self.dimensions)
            else "not known"
        )

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "piece": self.piece.name, "revision": self.piece.revision, "order": self.piece.order,
            "state": self.piece.state, "verdict": self.verdict,
            "features": [f.to_json() for f in self.piece.features],
            "connections": [f.to_json() for f in self.fits], "dimensions": [d.to_json() for d in self.dimensions],
            "not_measured": list(self.unread),
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """Which piece goes into which connection, where several connections take the same holes of its part."""

    connection: str
    piece: str
    margin_mm: float


@dataclass(frozen=True, slots=True)
class Inspected:
    """The pieces of a part, and where connections take the same holes, which piece goes where (empty: no way)."""

    part: str
    pieces: tuple[PieceFound, ...]
    places: tuple[Place, ...] = ()
    no_place: str = ""

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        places = [
            {"connection": p.connection, "piece": p.piece, "margin_mm": p.margin_mm} for p in self.places
        ]
        found = [p.to_json() for p in self.pieces]
        return {"part": self.part, "pieces": found, "places": places, "no_place": self.no_place}


def inspected(judging: Judging, number: str) -> Inspected:
    """Every piece of a part in every bolted connection of it. Raises UnknownName."""
    with judging.store.reading() as facts:
        bench = judging.bench(facts, [number] if not read.part_lines(facts) else _open(facts, number))
        found = [p for p in pieces(facts) if p.part == number]
        named = sorted(r.name for r in read.rows(facts, ConnectionFact) if r.kind == "bolted")
        connections = [bench.records.connection(name) for name in named]
        cases = [bench.connection_case(c) for c in connections if number in {p.part for p in c.plies}]
        parts = {p.revision: read.part(facts, the_row(facts, PartFact, number, p.revision)) for p in found}
    each = tuple(
        PieceFound(
            p,
            tuple(fit_as_built(case, parts[p.revision], p) for case in cases),
            tuple(_held(parts[p.revision], p)),
            *_unread(parts[p.revision], p),
        )
        for p in found
    )
    places, why = _placed(cases, number, each)
    return Inspected(number, each, places, why)


def _open(facts: Any, number: str) -> list[str]:
    lines = read.part_lines(facts)
    return [line.number for line in lines if not line.locked and line.number != number]


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
        if hole is None or hole.is_slot:
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


def _placed(
    cases: Sequence[ConnectionCase], number: str, each: Sequence[PieceFound]
) -> tuple[tuple[Place, ...], str]:
    """
    Which piece goes where: the least margin as large as can be, then all of them together.

    Asked where several connections take the same holes of the part, and there are pieces for all of them.
    """
    groups = Counter(p.ply.group for c in cases for p in c.plies if p.part.number == number)
    shared = [g for g, count in groups.items() if count > 1]
    if len(shared) != 1 or not each:
        return (), ""
    places = [
        c.connection.name
        for c in cases
        if any(p.part.number == number and p.ply.group == shared[0] for p in c.plies)
    ]
    if len(each) < len(places):
        return (), f"{len(each)} of {len(places)} pieces are here"
    return assigned(places, each)


def assigned(places: Sequence[str], each: Sequence[PieceFound]) -> tuple[tuple[Place, ...], str]:
    """
    A piece for every place, so that the least of their margins is as large as it can be, then their sum.

    Exact: a threshold by bisection over the margins, each tried by an assignment of least cost.
    """
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    margins = np.full((len(places), len(each)), -math.inf)
    for k, piece in enumerate(each):
        for fit in piece.fits:
            if fit.fits and fit.margin_mm is not None and fit.connection in places:
                margins[places.index(fit.connection), k] = fit.margin_mm
    steps = np.unique(margins[np.isfinite(margins)])

    def tried(least: float) -> Any:
        cost = np.where(margins >= least, -np.where(np.isfinite(margins), margins, 0.0), 1e9)
        rows, columns = linear_sum_assignment(cost)
        return (rows, columns) if cost[rows, columns].max() < 1e9 else None  # noqa: PLR2004 - the price of what does not go

    low, high = 0, len(steps) - 1
    if high < 0 or tried(steps[0]) is None:
        return (), "no way: not every place has a piece that fits"
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if tried(steps[middle]) is not None else (low, middle - 1)
    rows, columns = tried(steps[low])
    found = (
        Place(places[r], each[c].piece.name, float(margins[r, c])) for r, c in zip(rows, columns, strict=True)
    )
    return tuple(found), ""
