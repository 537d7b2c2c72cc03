"""
Bodies and the links between them, as numbers to compute with. All lengths in mm, angles in radians.

A *body* is one part, or several whose places on each other are entered. It turns and shifts in the plane; body 0
stays. A *point* is the axis of a bolt through three and more bodies; it shifts only, and follows the bodies. A *link*
is a pair of cores, one of each of two of them, that may be so far apart as its *room* says. The *margin* of a set of
poses is the greatest m with |gap| <= room - share m for every link; the share is 1 between two bodies, 1/2 from a body
to a point, so that three plates on one bolt have the margin of a stack. Links with the share 0 keep their rooms
whatever the margin; those with a *loose* point have its place added to their gaps: holes that may still be moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ledger.fit.joint import Real
from ledger.fit.layout import Core, Plane, as_plane, between

Index = npt.NDArray[np.intp]
NONE: Core = ((0.0, 0.0),)


@dataclass(frozen=True, slots=True)
class Link:
    """A core of body `one` and a core of `other`, in their bodies' coordinates; `other` may be a point."""

    one: int
    other: int
    a: Core
    b: Core
    room_mm: float
    share: float = 1.0
    loose: int = -1


@dataclass(frozen=True, slots=True)
class Links:
    """
    Links side by side. Bodies are numbered from 0, points after them.

    `a` and `b` are the middles of the cores about each body's own middle (`homes`), `ha` and `hb` their half vectors.
    """

    bodies: int
    points: int
    one: Index
    other: Index
    a: Plane
    b: Plane
    ha: Plane
    hb: Plane
    room: Real
    share: Real
    homes: Plane
    loose: Index

    @property
    def reach(self) -> Real:
        """The farthest core of every body from its middle; at least 1."""
        far = np.ones(self.bodies + self.points)
        np.maximum.at(far, self.one, np.abs(self.a) + np.abs(self.ha))
        np.maximum.at(far, self.other, np.abs(self.b) + np.abs(self.hb))
        return far

    @property
    def slotted(self) -> bool:
        return bool(self.ha.any() or self.hb.any())

    def with_room(self, room: Real) -> Links:
        """The same links with other rooms."""
        return replace(self, room=room)

    def seen_from(self, body: int) -> Links:
        """The same with this body as the one that stays, in place of body 0."""
        swap = np.arange(self.bodies + self.points)
        swap[0], swap[body] = body, 0
        homes = self.homes.copy()
        homes[0], homes[body] = self.homes[body], self.homes[0]
        return replace(self, one=swap[self.one], other=swap[self.other], homes=homes)


def lay_out(bodies: int, points: int, links: Sequence[Link]) -> Links:
    """Links as numbers, every body about the middle of its cores."""
    one, other = (np.array([getattr(x, side) for x in links], dtype=np.intp) for side in ("one", "other"))
    (a, ha), (b, hb) = as_plane([x.a for x in links]), as_plane([x.b for x in links])
    total, count = np.zeros(bodies + points, dtype=complex), np.zeros(bodies + points)
    for at, middles in ((one, a), (other, b)):
        np.add.at(total, at, middles)
        np.add.at(count, at, 1)
    homes = np.asarray(total / np.maximum(count, 1), dtype=np.complex128)
    homes[bodies:] = 0
    return Links(
        bodies, points, one, other, a - homes[one], b - homes[other], ha, hb,
        np.array([x.room_mm for x in links], dtype=float), np.array([x.share for x in links], dtype=float), homes,
        np.array([x.loose for x in links], dtype=np.intp),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """Where every body and point is: turns (unit complex) and the places of their middles, mm."""

    turns: Plane
    shifts: Plane

    @property
    def angles(self) -> Real:
        return np.asarray(np.angle(self.turns))

    def about(self, body: int) -> Place:
        """The same seen from a body, which then is number 0 and has no turn."""
        back = self.turns[body].conjugate()
        turns, shifts = self.turns * back, (self.shifts - self.shifts[body]) * back
        for each in (turns, shifts):
            each[[0, body]] = each[[body, 0]]
        return Place(turns, shifts)


def gaps(links: Links, place: Place) -> Plane:
    """The vector of every link from the nearest point of the other's core to that of the one's."""
    one, other = place.turns[links.one], place.turns[links.other]
    apart = one * links.a + place.shifts[links.one] - other * links.b - place.shifts[links.other]
    apart = apart + np.where(links.loose >= 0, place.shifts[links.loose], 0)
    return between(apart, one * links.ha, other * links.hb) if links.slotted else apart


def margins(links: Links, place: Place) -> Real:
    """What every link leaves at these poses, mm; infinite with the share 0."""
    shared = links.share > 0
    left = links.room - np.abs(gaps(links, place))
    return np.asarray(np.where(shared, left / np.where(shared, links.share, 1.0), np.inf))
