"""Whether a bend line runs between two points of a flat drawing."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from ledger.domain.shape import Point, Stroke


def crosses_bend(a: Point, b: Point, bends: Iterable[Stroke]) -> bool:
    """Whether the straight way from `a` to `b` meets a bend line; touching one counts."""
    return any(
        _meet(a, b, (p[0], p[1]), (q[0], q[1])) for stroke in bends for p, q in pairwise(stroke.vertices)
    )


def _meet(a: Point, b: Point, p: Point, q: Point) -> bool:
    """Both ends of each lie on either side of the other, or on it; two on one line do not count."""
    apart = (_side(a, b, p), _side(a, b, q)), (_side(p, q, a), _side(p, q, b))
    return all(first * second <= 0 and (first or second) for first, second in apart)


def _side(a: Point, b: Point, p: Point) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
