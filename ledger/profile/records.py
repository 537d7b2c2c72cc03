"""
Rules for the raw tags of single entities, by kind.

Libraries fill in what a damaged entity lacks (a radius of 1, an end at the origin) and let the last of two equal
group codes win. Here a geometry code must stand once, be there, and make sense: radius above zero, knots sorted
and counted. Raises Unreadable naming the entity.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from ledger.domain.errors import Unreadable, visible
from ledger.domain.plural import counted
from ledger.profile.tokens import Tag, Value, real, whole, word

MOST_CONTROL_POINTS = 10_000
MOST_DEGREE = 10
MOST_COPIES = 50_000
_LAYER, _HANDLE = 8, 5

# Codes without which the entity has no shape.
_NEEDED: dict[str, tuple[int, ...]] = {
    "LINE": (10, 20, 11, 21),
    "CIRCLE": (10, 20, 40),
    "ARC": (10, 20, 40, 50, 51),
    "ELLIPSE": (10, 20, 11, 21, 40),
    "INSERT": (2, 10, 20),
    "VERTEX": (),
    "SPLINE": (71,),
    "LWPOLYLINE": (90,),
    "POLYLINE": (),
}
# Codes of which one reader takes the first and another the last.
_ONCE: dict[str, frozenset[int]] = {
    "LINE": frozenset((10, 20, 30, 11, 21, 31, 210, 220, 230)),
    "CIRCLE": frozenset((10, 20, 30, 40, 210, 220, 230)),
    "ARC": frozenset((10, 20, 30, 40, 50, 51, 210, 220, 230)),
    "ELLIPSE": frozenset((10, 20, 30, 11, 21, 31, 40, 41, 42, 210, 220, 230)),
    "INSERT": frozenset((2, 10, 20, 30, 41, 42, 43, 44, 45, 50, 70, 71, 210, 220, 230)),
    "VERTEX": frozenset((10, 20, 30, 42)),
    "SPLINE": frozenset((70, 71, 72, 73, 74)),
    "LWPOLYLINE": frozenset((70, 90)),
    "POLYLINE": frozenset((70,)),
}


def check_entity(kind: str, record: list[Tag]) -> None:
    """Look at one entity's own tags. Raises Unreadable."""
    if kind not in _NEEDED:
        return
    seen = Counter(code for code, _ in record)
    for code in _NEEDED[kind]:
        if not seen[code]:
            raise Unreadable(_said(kind, record, f"lacks group {code}"))
    for code in _ONCE[kind]:
        if seen[code] > 1:
            raise Unreadable(_said(kind, record, f"has group {code} {counted(seen[code], 'time')}"))
    if kind in ("CIRCLE", "ARC"):
        _radius(kind, record)
    elif kind == "SPLINE":
        _spline(record, seen)
    elif kind == "LWPOLYLINE" and whole(_value(record, 90)) != seen[10]:
        raise Unreadable(_said(kind, record, f"says {word(_value(record, 90))} vertices and has {seen[10]}"))
    elif kind == "INSERT":
        _copies(record, seen)


def _radius(kind: str, record: list[Tag]) -> None:
    radius = real(_value(record, 40))
    if not radius > 0:
        raise Unreadable(_said(kind, record, f"has a radius of {radius:g}"))


def _spline(record: list[Tag], seen: Counter[int]) -> None:
    degree = whole(_value(record, 71))
    if not 1 <= degree <= MOST_DEGREE:
        raise Unreadable(_said("SPLINE", record, f"has degree {degree}; 1 to {MOST_DEGREE} are read"))
    for code, stated in ((10, 73), (11, 74), (40, 72)):
        if seen[stated] and whole(_value(record, stated)) != seen[code]:
            count = word(_value(record, stated))
            raise Unreadable(_said("SPLINE", record, f"says {count} in group {stated} and has {seen[code]}"))
    points = max(seen[10], seen[11])
    if points > MOST_CONTROL_POINTS:
        raise Unreadable(
            _said("SPLINE", record, f"has {counted(points, 'point')}; at most {MOST_CONTROL_POINTS} are read")
        )
    if seen[10]:
        _knots(record, seen, degree)


def _knots(record: list[Tag], seen: Counter[int], degree: int) -> None:
    if seen[40] != seen[10] + degree + 1 or seen[10] <= degree:
        raise Unreadable(
            _said(
                "SPLINE",
                record,
                f"has {counted(seen[40], 'knot')} for {counted(seen[10], 'control point')} of degree {degree}",
            )
        )
    knots = [real(value) for code, value in record if code == 40]  # noqa: PLR2004 - a knot
    if any(b < a for a, b in pairwise(knots)):
        raise Unreadable(_said("SPLINE", record, "has knots that go backwards"))
    if not knots[degree] < knots[-degree - 1]:
        raise Unreadable(_said("SPLINE", record, "has no length between its knots"))
    weights = [real(value) for code, value in record if code == 41]  # noqa: PLR2004 - a weight
    if weights and (len(weights) != seen[10] or not all(w > 0 for w in weights)):
        raise Unreadable(_said("SPLINE", record, "has weights that do not fit its control points"))


def _copies(record: list[Tag], seen: Counter[int]) -> None:
    for code in (70, 71):
        if seen[code] and not 0 <= whole(_value(record, code)) <= MOST_COPIES:
            raise Unreadable(_said("INSERT", record, f"says {word(_value(record, code))} rows or columns"))


def _value(record: list[Tag], code: int) -> Value:
    return next(value for c, value in record if c == code)


def _said(kind: str, record: list[Tag], what: str) -> str:
    layer = next((visible(word(v)) for c, v in record if c == _LAYER), "0")
    handle = next((f" {visible(word(v))}" for c, v in record if c == _HANDLE), "")
    return f"{kind}{handle} on layer {layer} {what}; delete it in the drawing and export it again"
