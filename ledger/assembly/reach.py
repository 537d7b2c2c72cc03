"""
How far a place of one body can be from a place of another, over all poses in which everything still goes together.

The farthest way is sought along a direction: as much as a far-off mark lets the place come near to it. Rooms are kept,
whatever they leave; the poses begin where everything has room.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ledger.assembly.arrangement import Arrangement
from ledger.assembly.links import Links, Place
from ledger.assembly.poses import best_poses
from ledger.domain.shape import Point
from ledger.fit.joint import Real

FAR_MM: Final = 1e5
ROUNDS: Final = 3


@dataclass(frozen=True, slots=True)
class Ends:
    """
    From a place of a part to a place of another, each in its own drawing; `along` a direction of the start's drawing.
    """

    start: tuple[str, Point]
    end: tuple[str, Point]
    along: complex | None = None

    def measured_mm(self, way: complex) -> float:
        """How long a way is along the direction, else by itself."""
        return abs(way) if self.along is None else (way * self.along.conjugate()).real


def way_between(made: Arrangement, place: Place, ends: Ends) -> complex:
    """From the one place to the other at these poses, in the directions of the start's drawing."""
    (one, p), (other, q) = ends.start, ends.end
    poses = made.poses(place)
    x, y = poses[one].bring(poses[other].place(q))
    return complex(x - p[0], y - p[1])


def farthest(made: Arrangement, room: Real, place: Place, ends: Ends, sign: int) -> complex:
    """
    The way between two places at the poses where it is longest (sign 1) or shortest (-1), along the ends' direction,
    else in its own length. `place` leaves room everywhere.
    """
    along = ends.along
    best = way_between(made, place, ends)
    begun = place
    for _ in range(1 if along is not None else ROUNDS):
        ahead = along if along is not None else (best / abs(best) if best else 1 + 0j)
        found = _towards(made, made.drawn.with_room(room), begun, ends, sign * ahead)
        if found is None:
            return best
        best = way_between(made, found, ends)
    return best


def _towards(made: Arrangement, links: Links, place: Place, ends: Ends, ahead: complex) -> Place | None:
    """The poses with the end as far as can be from the start in a direction of the start's drawing."""
    (one, p), (other, q) = ends.start, ends.end
    (first, inside), (last, within) = made.bodies[one], made.bodies[other]
    if first == last:
        return None
    tip = (p[0] + ahead.real * FAR_MM, p[1] + ahead.imag * FAR_MM)
    mark = _on_body(made, first, inside.place(tip))
    own = _on_body(made, last, within.place(q))
    far = FAR_MM + 4 * float(links.reach.max()) + abs(way_between(made, place, ends))
    pulled = replace(
        links,
        one=np.append(links.one, last), other=np.append(links.other, first), loose=np.append(links.loose, -1),
        a=np.append(links.a, own), b=np.append(links.b, mark), ha=np.append(links.ha, 0), hb=np.append(links.hb, 0),
        room=np.append(links.room, far), share=np.append(0 * links.share, 1.0),
    )  # fmt: skip
    return best_poses(pulled, place).place


def _on_body(made: Arrangement, body: int, p: Point) -> complex:
    """A place in a body's coordinates, about its middle."""
    return complex(p[0], -p[1] if made.over[body] else p[1]) - complex(made.drawn.homes[body])
