"""What is said of pieces that came back: what they fit as built, which dimensions hold, which piece goes where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from ledger.domain.piece import Piece
from ledger.domain.quantity import show_mm
from ledger.standards.acceptance import Acceptance


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
        more = (
            f"; {self.rework.words} and it fits" if self.rework else "; no single clearance hole opened helps"
        )
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
    A piece with what it fits and what of its dimensions holds.

    Of each of `choices`, connections that take the same holes of its part, it goes into one. `unread` are key
    dimensions with limits that nobody has measured of it, `critical` those of them without which nothing is proven.
    """

    piece: Piece
    fits: tuple[FitAsBuilt, ...]
    dimensions: tuple[Held, ...] = ()
    unread: tuple[str, ...] = ()
    critical: tuple[str, ...] = ()
    choices: tuple[tuple[str, ...], ...] = ()

    @property
    def verdict(self) -> Literal["fits", "does not fit", "not known"]:
        """
        Of the whole piece: it fits where every connection that it must go into is proven to, and of each choice one,
        and every dimension that was read holds; it does not where one of these is proven not to.
        """
        outcomes = [[f.fits for f in group] for group in self._groups()]
        if any(all(fits is False for fits in group) for group in outcomes) or any(
            d.acceptance.rejectable for d in self.dimensions
        ):
            return "does not fit"
        known = bool(outcomes or self.dimensions) and all(any(group) for group in outcomes)
        held = all(d.acceptance.outcome == "conforms" for d in self.dimensions)
        return "fits" if known and held and not self.critical else "not known"

    def _groups(self) -> Iterator[tuple[FitAsBuilt, ...]]:
        """The connections by choice; what must fit is a choice of one."""
        for names in self.choices:
            yield tuple(f for f in self.fits if f.connection in names)
        free = {name for names in self.choices for name in names}
        yield from ((f,) for f in self.fits if f.connection not in free)

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "piece": self.piece.name, "revision": self.piece.revision, "order": self.piece.order,
            "state": self.piece.state, "verdict": self.verdict,
            "features": [f.to_json() for f in self.piece.features],
            "connections": [f.to_json() for f in self.fits], "choices": [list(c) for c in self.choices],
            "dimensions": [d.to_json() for d in self.dimensions], "not_measured": list(self.unread),
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """Which piece goes into which connection, where several connections take the same holes of its part."""

    connection: str
    piece: str
    margin_mm: float

    @property
    def words(self) -> str:
        """In a line."""
        return f"{self.piece} goes into {self.connection}, margin {show_mm(self.margin_mm)}"


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


def piece_lines(found: PieceFound) -> Iterator[str]:
    """A piece in lines: its verdict, then every connection and dimension."""
    piece = found.piece
    state = f", {piece.state}" if piece.state else ""
    yield f"{piece.name}  {found.verdict}  (revision {piece.revision}, order {piece.order}{state})"
    for fit in found.fits:
        yield f"  {fit.words}"
    for held in found.dimensions:
        yield f"  {held.words}"
    if found.unread:
        critical = f"; {', '.join(found.critical)} critical" if found.critical else ""
        yield f"  not measured: {', '.join(found.unread)}{critical}"


def inspected_lines(found: Inspected) -> Iterator[str]:
    """All pieces of a part, and which goes where."""
    if not found.pieces:
        yield f"no piece of {found.part} came back yet; fitup receive records some"
    for piece in found.pieces:
        yield from piece_lines(piece)
    yield from (place.words for place in found.places)
    if found.no_place:
        yield found.no_place
