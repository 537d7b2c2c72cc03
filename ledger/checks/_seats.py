"""On which plies of a connection heads and nuts lie, in which holes, and what is clamped between them."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import NotChecked
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.fitting import coat_mm
from ledger.domain.connection import JOINTS, Connection
from ledger.domain.shape import Hole

ONE_SIDED = ("tapped", "stud", "captive nut", "dowel")
HELD = ("tapped", "countersunk tapped", "stud")  # the last ply is not clamped but holds the thread
_WASHERS = {"through": 2, "drilled on site": 2, "countersunk tapped": 0, "dowel": 0}


def has_seats(connection: Connection) -> bool:
    """Whether its fasteners have a washer, a head or a nut that lies on a plate."""
    if connection.kind != "bolted" or connection.joint not in JOINTS or not connection.fastener.strip():
        return False
    return connection.joint not in ("dowel", "countersunk tapped")


def seated(case: ConnectionCase) -> list[PlacedPly]:
    """The plies on whose outer face a washer, a head or a nut lies."""
    first, last = case.plies[0], case.plies[-1]
    if case.connection.joint.startswith("countersunk"):
        return [last] if case.connection.joint == "countersunk" else []
    return [first] if case.connection.joint in ONE_SIDED else [first, last]


def bolted_holes(case: ConnectionCase, placed: PlacedPly) -> list[Hole]:
    """The holes that fasteners go through: those that the fit paired, else all that the connection speaks of."""
    fit, place = case.best_fit, case.plies.index(placed)
    if fit is None or not fit.pairs:
        return list(placed.holes)
    labels = {(p.a, p.b)[place] for p in fit.pairs} | {(w.a, w.b)[place] for w in fit.wrong}
    return [h for h in placed.holes if h.label in labels]


def clamped(case: ConnectionCase) -> tuple[PlacedPly, ...]:
    """The plies between head and nut, or between head and thread."""
    return case.plies[:-1] if case.connection.joint in HELD else case.plies


def washers(case: ConnectionCase) -> int:
    """How many washers are on each bolt: as stated, else as usual."""
    stated = case.connection.washers
    return usual_washers(case.connection.joint) if stated is None else stated


def usual_washers(joint: str) -> int:
    """How many washers a fastener has where nobody says: one under the head and one under the nut."""
    return _WASHERS.get(joint, 1)


def unlooked(case: ConnectionCase, matter: str) -> Iterator[NotChecked]:
    """What is looked at for the connection's own fastener only, of every other one that is tightened."""
    names = [a.fastener for a in case.connection.also if a.joint not in ("dowel", "drilled on site")]
    if names:
        yield NotChecked(f"{matter} of {', '.join(dict.fromkeys(names))} of {case.connection.name}")


def plies_mm(plies: tuple[PlacedPly, ...]) -> float | None:
    """How thick plies are together with their coats; None where one's thickness is not known."""
    thick = [p.part.thickness for p in plies]
    if any(t is None or not t.mm > 0 for t in thick):
        return None
    return sum(float(t.mm) for t in thick if t) + sum(2 * coat_mm(p) for p in plies)
