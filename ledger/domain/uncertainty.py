"""
How well something was measured, by the GUM, and what a value with its uncertainty proves.

A *contribution* is one cause of doubt as a standard uncertainty u with its degrees of freedom. Readings give one of
type A; a resolution, an instrument's error limit and a temperature give ones of type B, as half-widths of a
rectangular spread. They are *combined* root-sum-square, with effective degrees of freedom by Welch and Satterthwaite,
and *expanded* to U, which covers 95 %. Sources: JCGM 100:2008 (GUM) 4.2, 4.3, 5.1, G.4; ISO 14253-1 for decisions.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Generic, Literal, TypeVar

from ledger.domain.errors import BadInput

N = TypeVar("N", float, Decimal)
LEVEL = 0.95
STATED_FACTOR = 2.0  # GUM 6.3.3: a stated U of about 95 % is taken as two standard uncertainties
_MANY = 1e6  # degrees of freedom from which Student's factor is the normal one to all figures


@dataclass(frozen=True, slots=True)
class Contribution:
    """One cause of doubt: standard uncertainty and degrees of freedom (infinite where it is simply known)."""

    cause: str
    u: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not (math.isfinite(self.u) and self.u >= 0 and self.dof > 0):
            raise BadInput(f"the uncertainty from {self.cause} is no number from zero up: {self.u}")


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """The combined standard uncertainty u, its effective degrees of freedom, the factor k and U = k u."""

    u: float
    dof: float
    k: float

    @property
    def expanded(self) -> float:
        """U, in the unit of u."""
        return self.k * self.u


@dataclass(frozen=True, slots=True)
class Decision(Generic[N]):
    """
    What a value proves against its limits.

    `room` is how far inside the nearest limit it lies, negative outside. A value that is *not proven* would be
    proven inside (`room` above zero) or outside with an uncertainty smaller than `better_than`; on a limit none is.
    """

    outcome: Literal["inside", "outside", "not proven"]
    room: N
    better_than: N


def mean_of(readings: Sequence[float]) -> float:
    """The mean of readings. Raises BadInput where one is not finite or there are none."""
    if not readings or not all(math.isfinite(r) for r in readings):
        raise BadInput("readings are required, and each must be a number")
    return math.fsum(readings) / len(readings)


def scatter(readings: Sequence[float]) -> Contribution:
    """Type A of the mean of two readings or more: s / sqrt(n) with n - 1 degrees of freedom (GUM 4.2)."""
    mean, count = mean_of(readings), len(readings)
    if count == 1:
        raise BadInput("one reading has no scatter: read again, or enter the uncertainty")
    s = math.sqrt(math.fsum((r - mean) ** 2 for r in readings) / (count - 1))
    return Contribution("the scatter of the readings", s / math.sqrt(count), count - 1)


def rectangular(cause: str, half_width: float) -> Contribution:
    """Type B: anywhere within ± the half-width (GUM 4.3.7)."""
    return Contribution(cause, half_width / math.sqrt(3))


def resolution(step: float) -> Contribution:
    """Type B: a reading is rounded to a step of this size (GUM F.2.2.1)."""
    return rectangular("the resolution", step / 2)


def stated(expanded: float, cause: str = "the entered value") -> Contribution:
    """Type B: a stated U of about 95 %. Raises BadInput for zero: nothing is measured exactly."""
    if not (math.isfinite(expanded) and expanded > 0):
        raise BadInput("an uncertainty of zero claims to be exact: enter how sure the reading is")
    return Contribution(cause, expanded / STATED_FACTOR)


def growth(length: float, alpha_per_k: float, above_20_k: float) -> float:
    """How much longer a thing is than at 20 °C, the reference temperature of ISO 1: alpha dT L."""
    return length * alpha_per_k * above_20_k


def temperature(length: float, alpha_per_k: float, half_width_k: float) -> Contribution:
    """Type B: a length whose temperature (or whose difference from the rule's) is known to ± so many kelvin."""
    return rectangular("the temperature", abs(growth(length, alpha_per_k, half_width_k)))


def combined(parts: Iterable[Contribution], level: float = LEVEL) -> Uncertainty:
    """Root sum of squares, Welch and Satterthwaite (GUM G.4.1), factor k of Student for the level."""
    parts = tuple(parts)
    u = math.hypot(*(p.u for p in parts))
    if not u > 0:
        raise BadInput("the uncertainties add up to zero, which claims to be exact: enter how sure it is")
    shares = math.fsum((p.u / u) ** 4 / p.dof for p in parts)
    dof = 1 / shares if shares > 1 / _MANY else math.inf
    return Uncertainty(u, dof, coverage_factor(dof, level))


@lru_cache(maxsize=1024)
def coverage_factor(dof: float, level: float = LEVEL) -> float:
    """Student's two-sided factor for the degrees of freedom, cut down to a whole number (GUM G.4.1)."""
    from scipy.special import ndtri, stdtrit

    tail = (1 + level) / 2
    return float(ndtri(tail)) if dof > _MANY else float(stdtrit(max(1, math.floor(dof + 1e-9)), tail))


def decide(value: N, lower: N | None, upper: N | None, expanded: N) -> Decision[N]:
    """
    ISO 14253-1: inside by U or more is proven, outside by more than U too; between, neither.

    On decimals it is exact.

    Raises BadInput for what is not finite, an uncertainty that is not above zero, or no limit at all.
    """
    if not (math.isfinite(value) and math.isfinite(expanded) and expanded > 0):
        raise BadInput("a decision needs a value and an uncertainty above zero")
    rooms = [value - lower] if lower is not None else []
    rooms += [upper - value] if upper is not None else []
    if not rooms or not all(math.isfinite(r) for r in rooms):
        raise BadInput("a decision needs a limit")
    room = min(rooms)
    if room >= expanded:
        return Decision("inside", room, expanded)
    return Decision("outside" if -room > expanded else "not proven", room, abs(room))


def hole_spacing(inside: float, outside: float) -> float:
    """
    Centre distance of two holes of one size, from their nearest and their farthest edges: the mean.

    Raises BadInput where the edges are the wrong way round.
    """
    if not (math.isfinite(inside) and math.isfinite(outside) and 0 < inside < outside):
        raise BadInput("the inside edges of two holes are nearer than their outside edges: read them again")
    return (inside + outside) / 2
