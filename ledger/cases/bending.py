"""
Whether bend lines run between points of a flat drawing, and how far what is beyond them may be out.

A hole group is placed from its *reference*: another group, a hole, or the origin of the drawing. Each bend on the
straight way between them may be off either way, so the zone in which the group lies grows by twice as much.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from ledger.domain.record import HoleGroup, Part
from ledger.domain.shape import Hole, Point, Stroke
from ledger.standards.bending import off_per_bend

_ORIGIN: Point = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Strayed:
    """By how much the diametral zone of a group grows, mm, for which bends, and what it is placed from."""

    zone_mm: float = 0.0
    bends: tuple[str, ...] = ()
    reference: str = ""


def crosses_bend(a: Point, b: Point, bends: Iterable[Stroke]) -> bool:
    """Whether the straight way from `a` to `b` meets a bend line; touching one counts."""
    return any(
        _meet(a, b, (p[0], p[1]), (q[0], q[1])) for stroke in bends for p, q in pairwise(stroke.vertices)
    )


def strayed(part: Part, group: HoleGroup | None, holes: Iterable[Hole]) -> Strayed:
    """
    How much further out the holes of a connection may be for the bends between them and what they are placed from.
    """
    known = list(holes)
    if part.profile is None or not part.profile.bends or not known:
        return Strayed()
    reference = group.reference if group else ""
    start = _reference(part, reference)
    there = _middle(known)
    if start is None:
        return Strayed()
    crossed = tuple(k for k, line in part.bend_lines.items() if crosses_bend(start, there, [line]))
    stated = (part.bend(label) for label in crossed)
    off = sum(float(b.tolerance.mm) if b and b.tolerance else off_per_bend()[0] for b in stated)
    return Strayed(2 * off, crossed, reference or "the origin of its drawing")


def _reference(part: Part, name: str) -> Point | None:
    if not name:
        return _ORIGIN
    other = part.group(name)
    holes = [part.hole(label) for label in (other.labels if other else (name,))]
    known = [h for h in holes if h is not None]
    return _middle(known) if known else None


def _middle(holes: list[Hole]) -> Point:
    return (
        math.fsum(h.centre[0] for h in holes) / len(holes),
        math.fsum(h.centre[1] for h in holes) / len(holes),
    )


def _meet(a: Point, b: Point, p: Point, q: Point) -> bool:
    """Both ends of each lie on either side of the other, or on it; two on one line do not count."""
    apart = (_side(a, b, p), _side(a, b, q)), (_side(p, q, a), _side(p, q, b))
    return all(first * second <= 0 and (first or second) for first, second in apart)


def _side(a: Point, b: Point, p: Point) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
