"""
What a measured piece proves to a customer: ISO 14253-1.

Who accepts or rejects bears the uncertainty. A customer rejects only a piece that is *proven* not to conform: outside
its limits by more than the guard band. Between, the piece can neither be rejected nor counted as proven; what is known
is how likely it conforms (JCGM 106:2012, 7).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from ledger.domain.errors import BadInput
from ledger.domain.uncertainty import STATED_FACTOR

GUARD_FACTOR = 1.65  # one-sided 95 % of the normal distribution, 1.6449, as ISO 14253-1:2017 rounds it
_SQRT_2 = math.sqrt(2)


@dataclass(frozen=True, slots=True)
class Acceptance:
    """`outside_mm` is how far beyond the nearer limit the value is, negative inside; `odds` that it conforms."""

    outcome: Literal["conforms", "not proven", "does not conform"]
    outside_mm: float
    guard_mm: float
    odds: float

    @property
    def rejectable(self) -> bool:
        """Whether a customer may reject the piece for it."""
        return self.outcome == "does not conform"


def guard_band(u: float) -> float:
    """The guard band of a standard uncertainty: 1.65 u, one-sided (ISO 14253-1:2017 default of 95 %)."""
    return GUARD_FACTOR * u


def accepted(
    value: float, lower: float | None, upper: float | None, expanded: float, guard: float | None = None
) -> Acceptance:
    """
    What a value with its expanded uncertainty U (k = 2) proves against limits; one of them may be missing.

    `guard` is the guard band where another one was agreed. Raises BadInput for what is not finite, an uncertainty
    that is not above zero, or no limit at all.
    """
    if not (math.isfinite(value) and math.isfinite(expanded) and expanded > 0):
        raise BadInput("a decision needs a value and an uncertainty above zero")
    beyond = [lower - value] if lower is not None else []
    beyond += [value - upper] if upper is not None else []
    if not beyond or not all(map(math.isfinite, beyond)):
        raise BadInput("a decision needs a limit")
    u = expanded / STATED_FACTOR
    band, outside = guard_band(u) if guard is None else guard, max(beyond)
    odds = conforming(value, u, lower, upper)
    if -outside >= band:
        return Acceptance("conforms", outside, band, odds)
    return Acceptance("does not conform" if outside > band else "not proven", outside, band, odds)


def conforming(value: float, u: float, lower: float | None, upper: float | None) -> float:
    """How likely the true value is within its limits: the normal distribution about the value (JCGM 106:2012, 7.2)."""
    below = 0.0 if lower is None else _normal((lower - value) / u)
    above = 0.0 if upper is None else _normal((value - upper) / u)
    return max(0.0, 1 - below - above)


def _normal(z: float) -> float:
    return math.erfc(-z / _SQRT_2) / 2
