"""
Bends of a bent part: what is known of each bend line of its drawing.

A *bend line* is where the flat plate is bent; it has a label B1, B2 … as holes have. The *angle* is how far the
flange is turned from flat: 90 degrees is square. *Up* bends it towards the face that is drawn. The *radius* is the
inside one. The *K-factor* places the fibre that keeps its length, as a share of the thickness from the inside. A
*bend table* gives an *allowance*, the length of that fibre, or a *deduction*, which is what both outside legs together
have more than the flat plate. The *tolerance* is how far, either way, what lies beyond the bend may be off.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from ledger.domain.errors import BadInput, visible
from ledger.domain.quantity import Length, plain, read_angle
from ledger.domain.shape import Point, Stroke

DIRECTIONS: tuple[str, ...] = ("up", "down")
LARGEST_K: Final = Decimal("0.5")
_FLAT, _SHUT = 0, 180
_SAME_MM: Final = 0.5  # a line that lies where it lay
_FOLLOWS_MM: Final = 10.0  # a line that moved so far, and lies parallel, is still the same bend
_PARALLEL: Final = math.sin(math.radians(1.0))
_STRAIGHT_MM: Final = 0.01
_NUMBER = re.compile(r"[0-9]{0,3}\.?[0-9]{1,6}")
_LABEL = re.compile(r"B[1-9][0-9]{0,3}")


@dataclass(frozen=True, slots=True)
class Bend:
    """One bend as stated. What is None was not stated; at most one of K-factor, allowance and deduction is."""

    label: str
    line: tuple[Point, Point]
    angle: Decimal
    direction: str
    radius: Length | None = None
    k_factor: Decimal | None = None
    allowance: Length | None = None
    deduction: Length | None = None
    tolerance: Length | None = None

    @property
    def words(self) -> str:
        """The bend as it was stated, on one line."""
        said = [f"{plain(self.angle)}° {self.direction}"]
        if self.radius:
            said.append(f"inside R {self.radius}")
        if self.k_factor is not None:
            said.append(f"K {plain(self.k_factor)}")
        for name, value in (("allowance", self.allowance), ("deduction", self.deduction)):
            if value:
                said.append(f"{name} {value}")
        if self.tolerance:
            said.append(f"±{self.tolerance} beyond it")
        return ", ".join(said)

    def to_json(self) -> dict[str, Any]:
        """Plain values for digests and for JSON."""
        lengths = {n: getattr(self, n) for n in ("radius", "allowance", "deduction", "tolerance")}
        return {
            "label": self.label,
            "line": [[f"{v:.6f}" for v in end] for end in self.line],
            "angle": plain(self.angle),
            "direction": self.direction,
            "k_factor": None if self.k_factor is None else plain(self.k_factor),
            **{name: value.to_json() if value else None for name, value in lengths.items()},
        }


@dataclass(frozen=True, slots=True)
class BendData:
    """What a vendor bends a material of a thickness with, where they said so; None what they did not say."""

    vendor: str
    radius: Length | None = None
    k_factor: Decimal | None = None

    @property
    def words(self) -> str:
        """It on one line."""
        said = [f"inside R {self.radius}"] if self.radius else []
        said += [f"K {plain(self.k_factor)}"] if self.k_factor is not None else []
        return f"{self.vendor}: {', '.join(said)}"


def is_bend_label(text: str) -> bool:
    """Whether a word is a label of a bend line: B1, B2 …"""
    return _LABEL.fullmatch(text) is not None


def ends_of(stroke: Stroke) -> tuple[Point, Point] | None:
    """Both ends of a straight line; None for one that is curved, has a corner or has no length."""
    points = [(v[0], v[1]) for v in stroke.vertices]
    a, b = points[0], points[-1]
    length = math.dist(a, b)
    if not length > 0 or any(v[2] for v in stroke.vertices[:-1]):
        return None
    off = (abs((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / length for p in points)
    return (a, b) if all(o <= _STRAIGHT_MM for o in off) else None


def bend_lines(strokes: Iterable[Stroke], known: Iterable[Bend] = ()) -> Mapping[str, Stroke]:
    """
    The bend lines of a drawing by label. One that was spoken of keeps its label as long as it lies where it lay, or has
    moved a little; the others take the free labels in their order.
    """
    left = list(strokes)
    found: dict[str, Stroke] = {}
    for most in (_SAME_MM, _FOLLOWS_MM):
        for bend in known:
            near = [(_apart(bend.line, s), k) for k, s in enumerate(left)] if bend.label not in found else []
            if near and min(near)[0] <= most:
                found[bend.label] = left.pop(min(near)[1])
    place = 0
    for stroke in left:
        place += 1
        while f"B{place}" in found:
            place += 1
        found[f"B{place}"] = stroke
    return dict(sorted(found.items(), key=lambda item: (len(item[0]), item[0])))


def lost_bends(strokes: Iterable[Stroke], known: Iterable[Bend]) -> tuple[Bend, ...]:
    """The bends that were spoken of and whose line is not on the drawing any more."""
    known = tuple(known)
    there = bend_lines(strokes, known)
    return tuple(
        b for b in known if b.label not in there or not _apart(b.line, there[b.label]) <= _FOLLOWS_MM
    )


def read_bend_angle(text: str) -> Decimal:
    """A bend angle, above 0 and below 180 degrees. Raises BadInput."""
    angle = read_angle(text)
    if not _FLAT < angle < _SHUT:
        what = (
            "flat: leave the line out"
            if angle <= _FLAT
            else "a bend shut on itself, which is not reckoned here"
        )
        raise BadInput(
            f"read {visible(text)!r} as a bend angle; expected how far the flange turns from flat, above 0 and below "
            f"180 degrees; {plain(angle)}° is {what}"
        )
    return angle


def read_k_factor(text: str) -> Decimal:
    """A K-factor above 0 and at most 0.5. Raises BadInput."""
    found = _NUMBER.fullmatch(text.strip())
    value = Decimal(found[0]) if found else Decimal(0)
    if not 0 < value <= LARGEST_K:
        raise BadInput(
            f"read {visible(text)!r} as a K-factor; expected a number above 0 and at most {LARGEST_K}: the fiber that "
            "keeps its length is between the inside and the middle of the plate"
        )
    return value


def _apart(line: tuple[Point, Point], stroke: Stroke) -> float:
    """How far the ends of two lines are from each other; infinite unless both are straight and parallel."""
    ends = ends_of(stroke)
    if ends is None:
        return math.inf
    (ax, ay), (bx, by) = line
    (px, py), (qx, qy) = ends
    across = abs((bx - ax) * (qy - py) - (by - ay) * (qx - px))
    if not across <= _PARALLEL * math.dist(*line) * math.dist(*ends):
        return math.inf
    return min(
        max(math.dist(line[0], ends[0]), math.dist(line[1], ends[1])),
        max(math.dist(line[0], ends[1]), math.dist(line[1], ends[0])),
    )
