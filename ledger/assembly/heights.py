"""
How high faces come to be over each other, where flat parts are laid on each other.

A *layer* is one part laid on another: on its upper face or, where that is said, on its lower one, and turned over or
not. Heights are sums of the parts' thicknesses (coats included), so they are kept as shares: of how many thicknesses,
by part, a height is made.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

Shares = dict[str, float]


@dataclass(frozen=True, slots=True)
class Layer:
    """Part `upper` laid on part `lower` by a connection; on the face that is drawn, unless `underneath`."""

    connection: str
    upper: str
    lower: str
    underneath: bool = False
    turned_over: bool = False


@dataclass(frozen=True, slots=True)
class Level:
    """Where the middle of a part is over that of the first, in shares of thicknesses, and whether its top is up."""

    shares: Shares
    top_up: bool


@dataclass(frozen=True, slots=True)
class Step:
    """Two ways to a part that do not lead to the same height: `connection` closes the ring, off by these shares."""

    connection: str
    part: str
    shares: Shares


def levels(first: str, layers: Iterable[Layer]) -> tuple[dict[str, Level], tuple[Step, ...]]:
    """The level of every part that hangs on the first, and where two ways to one differ."""
    found = {first: Level({}, top_up=True)}
    left: list[Layer] = list(layers)
    steps: list[Step] = []
    while True:
        near = [x for x in left if x.upper in found or x.lower in found]
        if not near:
            return found, tuple(steps)
        layer = min(near, key=lambda x: not (x.upper in found and x.lower in found))
        left.remove(layer)
        if layer.lower in found:
            reached, known = layer.upper, found[layer.lower]
            level = Level(
                _moved(known.shares, layer, 1 if known.top_up != layer.underneath else -1),
                known.top_up != layer.turned_over,
            )
        else:
            reached, known = layer.lower, found[layer.upper]
            top_up = known.top_up != layer.turned_over
            level = Level(_moved(known.shares, layer, -1 if top_up != layer.underneath else 1), top_up)
        if reached not in found:
            found[reached] = level
        else:
            off = _difference(level.shares, found[reached].shares)
            if off:
                steps.append(Step(layer.connection, reached, off))


def height_of(shares: Mapping[str, float], thickness_mm: Mapping[str, float]) -> float:
    """A height in mm. Raises KeyError for a part whose thickness is not known."""
    return sum(share * thickness_mm[part] for part, share in sorted(shares.items()))


def between_tops(start: str, end: str, found: Mapping[str, Level]) -> Shares:
    """From the upper face of one part to that of another."""
    shares = _difference(found[end].shares, found[start].shares)
    for part, sign in ((end, 0.5), (start, -0.5)):
        shares[part] = shares.get(part, 0.0) + sign
    return {part: share for part, share in shares.items() if share}


def _moved(shares: Shares, layer: Layer, sign: int) -> Shares:
    found = dict(shares)
    for part in (layer.upper, layer.lower):
        found[part] = found.get(part, 0.0) + sign * 0.5
    return found


def _difference(one: Shares, other: Shares) -> Shares:
    every = {part: one.get(part, 0.0) - other.get(part, 0.0) for part in {**one, **other}}
    return {part: share for part, share in every.items() if share}
