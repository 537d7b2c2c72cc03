"""
A value that follows from others with limits: its range in the worst case, and what that is made of.

The worst case is sought at the corners, every input at one of its limits, not along straight lines: a linear sum of
sensitivities can be too small on one side and too large on the other. Of few inputs all corners are tried; of more they
are climbed one input at a time, from the side to which each leads by itself. The spread is the root of the sum of
squares of what each input does alone, for inputs that stray independently (JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

ALL_CORNERS: Final = 10
ROUNDS: Final = 20
NOTHING: Final = 1e-6
Value = Callable[[Sequence[float]], float]


@dataclass(frozen=True, slots=True)
class Input:
    """A name, a nominal value and its limits."""

    name: str
    nominal: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one input does to the value by itself, from its nominal: the change at most downwards and upwards."""

    name: str
    down: float
    up: float

    @property
    def half(self) -> float:
        """Half of the range that it makes."""
        return (self.up - self.down) / 2


@dataclass(frozen=True, slots=True)
class Spread:
    """
    A value with its range in the worst case, the root of the sum of squares, and contributions, largest first.

    `note` says what of the range is taken on the safe side.
    """

    value: float
    low: float
    high: float
    root_sum_square: float
    contributions: tuple[Contribution, ...]
    note: str = ""


def spread_of(of: Value, inputs: Sequence[Input]) -> Spread:
    """The range of a value over the limits of its inputs; monotone in each, as lengths of a stack-up are."""
    nominal = [x.nominal for x in inputs]
    value = of(nominal)
    alone = [_alone(of, nominal, k, x, value) for k, x in enumerate(inputs)]
    low, high = (_corner(of, inputs, sign) for sign in (-1, 1))
    return Spread(value, low, high, root_sum_square(alone), ordered(alone))


def root_sum_square(contributions: Sequence[Contribution]) -> float:
    """The spread of what strays independently."""
    return math.sqrt(math.fsum(c.half**2 for c in contributions))


def ordered(contributions: Sequence[Contribution]) -> tuple[Contribution, ...]:
    """Largest first, without those that do nothing."""
    return tuple(sorted((c for c in contributions if c.half > NOTHING), key=lambda c: -c.half))


def _alone(of: Value, nominal: list[float], k: int, own: Input, value: float) -> Contribution:
    ends = [of([*nominal[:k], end, *nominal[k + 1 :]]) - value for end in (own.low, own.high)]
    return Contribution(own.name, min(0.0, *ends), max(0.0, *ends))


def _corner(of: Value, inputs: Sequence[Input], sign: int) -> float:
    """The lowest or highest value at a corner."""
    if len(inputs) <= ALL_CORNERS:
        return sign * max(sign * of(corner) for corner in product(*((x.low, x.high) for x in inputs)))
    nominal = [x.nominal for x in inputs]
    at = [
        max((x.low, x.high), key=lambda end, k=k: sign * of([*nominal[:k], end, *nominal[k + 1 :]]))  # type: ignore[misc]
        for k, x in enumerate(inputs)
    ]
    best = of(at)
    for _ in range(ROUNDS):
        before = best
        for k, x in enumerate(inputs):
            other = [*at[:k], x.low if at[k] == x.high else x.high, *at[k + 1 :]]
            new = of(other)
            if sign * new > sign * best:
                at, best = other, new
        if best == before:
            break
    return best
