"""
Whether a place on a guide leaves some pairs of holes a given room, for the checker: on its own, without the search.

The places that leave it form closed intervals. Each of them begins where some pair has just that room: where an end of
one core is that far from an end of the other, or from its line. Only those places need be looked at.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from ledger.fit.guide import Guide, Slide

Segment = tuple[complex, complex]  # the two ends of a core, the same for a round hole
ON_MM: Final = 4e-10  # so near its level a pair counts as just at it


@dataclass(frozen=True, slots=True)
class Met:
    """The cores of a pair, each in its own drawing, and how far apart they may lie, in mm."""

    a: Segment
    b: Segment
    room_mm: float


def apart(p: Segment, q: Segment) -> float:
    """The distance between two cores."""
    if p[0] == p[1] and q[0] == q[1]:
        return abs(p[0] - q[0])
    sides = [_left(p[0], q) * _left(p[1], q), _left(q[0], p) * _left(q[1], p)]
    if max(sides) < 0:
        return 0.0
    return min(_off(p[0], q), _off(p[1], q), _off(q[0], p), _off(q[1], p))


def leaves(guide: Guide, pairs: Sequence[Met], margin_mm: float, slack_mm: float) -> bool:
    """Whether at some place every pair keeps this margin, but for the slack."""
    placed = [_on(guide, x) for x in pairs]
    if min(x.room_mm for x in pairs) < margin_mm - slack_mm:
        return False
    if not isinstance(guide, Slide) and _least(guide, placed, 0.0) >= margin_mm - slack_mm:
        return True
    for own in placed:
        for place in _events(guide, own, own.room_mm - margin_mm):
            here = _laid(guide, own.a, place)
            if abs(apart(here, own.b) - (own.room_mm - margin_mm)) <= ON_MM:
                others = [x for x in placed if x is not own]
                if not others or _least(guide, others, place) >= margin_mm - slack_mm:
                    return True
    return False


def _on(guide: Guide, pair: Met) -> Met:
    """The pair with A at the place 0 of the guide, and with the point that A turns about as the origin."""
    a = [z.conjugate() if guide.turned_over else z for z in pair.a]
    if isinstance(guide, Slide):
        turn = cmath.rect(1, math.radians(guide.pose.angle_deg))
        return Met(
            _two(turn * z + complex(guide.pose.x_mm, guide.pose.y_mm) for z in a), pair.b, pair.room_mm
        )
    about = complex(*guide.about_a)
    about = about.conjugate() if guide.turned_over else about
    return Met(_two(z - about for z in a), _two(z - complex(*guide.about_b) for z in pair.b), pair.room_mm)


def _two(ends: Iterator[complex]) -> Segment:
    first, last = ends
    return first, last


def _laid(guide: Guide, core: Segment, place: float) -> Segment:
    if isinstance(guide, Slide):
        move = place * complex(*guide.along)
        return core[0] + move, core[1] + move
    turn = cmath.rect(1, place)
    return turn * core[0], turn * core[1]


def _least(guide: Guide, placed: Sequence[Met], place: float) -> float:
    return min(x.room_mm - apart(_laid(guide, x.a, place), x.b) for x in placed)


def _events(guide: Guide, pair: Met, level: float) -> Iterator[float]:
    if level < 0:
        return
    for p in dict.fromkeys(pair.a):
        for q in dict.fromkeys(pair.b):
            yield from (
                _slide_near(p, q, level, complex(*guide.along))
                if isinstance(guide, Slide)
                else _near(p, q, level)
            )
    for core, ends, sign in ((pair.b, pair.a, 1.0), (pair.a, pair.b, -1.0)):
        if core[0] == core[1]:
            continue
        normal = 1j * (core[1] - core[0]) / abs(core[1] - core[0])
        for p in dict.fromkeys(ends):
            for off in (level, -level):
                value = _dot(core[0], normal) + off
                if isinstance(guide, Slide):
                    rise = sign * _dot(complex(*guide.along), normal)
                    yield from [(value - _dot(p, normal)) / rise] if abs(rise) > 1e-12 else []  # noqa: PLR2004 - along
                else:
                    yield from (sign * x for x in _turned(p / normal, value))


def _slide_near(p: complex, q: complex, level: float, along: complex) -> list[float]:
    """Where p, sliding, is a level away from q."""
    to = (q - p) / along
    short = (level - abs(to.imag)) * (level + abs(to.imag))
    return [to.real - math.sqrt(short), to.real + math.sqrt(short)] if short >= 0 else []


def _near(p: complex, q: complex, level: float) -> list[float]:
    """Where p, turning, is a level away from q."""
    if p == 0 or q == 0:
        return []
    out = abs(abs(p) - abs(q))
    share = (level - out) * (level + out) / (4 * abs(p) * abs(q))
    if not 0 <= share <= 1:
        return []
    half, middle = 2 * math.asin(math.sqrt(share)), cmath.phase(q) - cmath.phase(p)
    return [middle - half, middle + half]


def _turned(z: complex, value: float) -> list[float]:
    """Where the real part of z, turning, has this value."""
    share = (abs(z) - value) / (2 * abs(z)) if z != 0 else -1.0
    if not 0 <= share <= 1:
        return []
    half = 2 * math.asin(math.sqrt(share))
    return [-cmath.phase(z) - half, -cmath.phase(z) + half]


def _dot(p: complex, q: complex) -> float:
    return p.real * q.real + p.imag * q.imag


def _left(p: complex, line: Segment) -> float:
    way, to = line[1] - line[0], p - line[0]
    return way.real * to.imag - way.imag * to.real


def _off(p: complex, core: Segment) -> float:
    way = core[1] - core[0]
    if way == 0:
        return abs(p - core[0])
    share = min(1.0, max(0.0, _dot(p - core[0], way) / abs(way) ** 2))
    return abs(p - core[0] - share * way)
