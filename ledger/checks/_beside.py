"""
Two parts that are bolted on one face of a third: where they lie on it, and how far they can be shifted.

They lie *in one plane* there, flat against the same face. A pattern that goes together in several *ways* lays its part
in several places; all of them are looked at, or nothing is claimed.
"""

from __future__ import annotations

import math
from typing import Final

from ledger.cases.connections import ConnectionCase
from ledger.cases.regions import on_other
from ledger.cases.thirds import Spanning
from ledger.checks._flanges import flange_of
from ledger.checks._on_face import touched_face
from ledger.checks._seats import bolted_holes
from ledger.domain.pose import Pose
from ledger.fit.candidates import tabulate

MOST: Final = 64  # pairs of ways that are looked at
_FIXING: Final = 2  # bolts


def in_one_plane(span: Spanning) -> bool:
    """Whether both parts lie flat on the same face of the third, each by bolts of its own that go together."""
    connections = tuple(zip((span.first, span.second), span.places, strict=True))
    faces = {touched_face(connection, 1 - place) for connection, place in connections}
    if len(faces) > 1 or "" in faces or any(m.plies[p].ply.face_up == "edge" for m, p in connections):
        return False
    if any((fit := m.best_fit) is None or fit.verdict != "GO" or fit.pose is None for m, _ in connections):
        return False
    taken = [
        {h.label for h in bolted_holes(m, p)}
        for m, p in ((span.first, span.through), (span.second, span.through_second))
    ]
    return not taken[0] & taken[1] and not _on_two_flanges(span)


def _on_two_flanges(span: Spanning) -> bool:
    """Whether the third part is bent, and both are bolted to different flanges of it."""
    held = ((span.first, span.through), (span.second, span.through_second))
    flanges = [flange_of(ply.part, bolted_holes(connection, ply)) for connection, ply in held]
    return all(flanges) and flanges[0] != flanges[1]


def unknown_place(span: Spanning) -> str:
    """Why it is not known where both lie in that plane; empty where it is."""
    for connection, place in zip((span.first, span.second), span.places, strict=True):
        part, fit = connection.plies[place].part, connection.best_fit
        if part.profile is None or part.profile.outline is None:
            return f"{part.number} has no outline"
        if fit is not None and len(fit.pairs) < _FIXING and connection.connection.position is None:
            return f"{part.number} turns freely on its bolt"
        if fit is not None and fit.ways > len(ways(connection, place)):
            return f"{part.number} can be bolted on in {fit.ways} ways"
    if len(ways(span.first, span.places[0])) * len(ways(span.second, span.places[1])) > MOST:
        return "they can be bolted on in too many ways: enter their positions"
    return ""


def shift_mm(span: Spanning) -> float:
    """
    How far both can be shifted in their holes towards or away from each other, without turning.

    Counted is the pair of holes with the most room, and of slots their length: never too little, in any of the ways.
    """
    return math.fsum(map(most_room_mm, (span.first, span.second)))


def most_room_mm(connection: ConnectionCase) -> float:
    """How far a part can be shifted in the pair of holes with the most room; inf where that is not known."""
    fit, (first, second) = connection.best_fit, connection.plies
    if fit is None or connection.pattern is None:
        return math.inf
    larger = float(tabulate(connection.pattern).charge.max())
    rooms = []
    for pair in fit.pairs:
        holes = first.part.hole(pair.a), second.part.hole(pair.b)
        slots = sum(math.dist(h.core[0], h.core[-1]) for h in holes if h is not None)
        rooms.append(pair.allowed_mm + larger + slots)
    return max(rooms, default=math.inf)


def ways(connection: ConnectionCase, place: int) -> list[Pose]:
    """Where the ply at a place can lie on the other, the shown way first."""
    fit = connection.best_fit
    if fit is None or fit.pose is None:
        return []
    poses = [way.pose for way in fit.assemblies] or [fit.pose]
    return [on_other(pose, place) for pose in poses]
