"""Where washers, heads and nuts lie: on which plies of a mate, and at which of their holes."""

from __future__ import annotations

from ledger.checks._case import MateCase, PlacedPly
from ledger.domain.record import JOINTS, Mate
from ledger.domain.shape import Hole

_ONE_SIDED = ("tapped", "stud", "captive nut", "dowel")


def has_seats(mate: Mate) -> bool:
    """Whether its fasteners have a washer, a head or a nut that lies on a plate."""
    if mate.kind != "bolted" or mate.joint not in JOINTS or not mate.fastener.strip():
        return False
    return mate.joint not in ("dowel", "countersunk tapped")


def seated(case: MateCase) -> list[PlacedPly]:
    """The plies on whose outer face a washer, a head or a nut lies."""
    first, last = case.plies[0], case.plies[-1]
    if case.mate.joint.startswith("countersunk"):
        return [last] if case.mate.joint == "countersunk" else []
    return [first] if case.mate.joint in _ONE_SIDED else [first, last]


def bolted(case: MateCase, placed: PlacedPly) -> list[Hole]:
    """The holes that fasteners go through: those that the fit paired, else all that the mate speaks of."""
    fit, place = case.best_fit, case.plies.index(placed)
    if fit is None or not fit.pairs:
        return list(placed.holes)
    labels = {(p.a, p.b)[place] for p in fit.pairs} | {(w.a, w.b)[place] for w in fit.wrong}
    return [h for h in placed.holes if h.label in labels]
