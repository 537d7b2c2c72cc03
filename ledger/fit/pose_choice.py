"""
One pose among the best ones.

The best pose need not be unique: a tight pair may leave the others room to move. Of all poses with the best margin,
the one with the least sum of squared offsets is taken, so that equal patterns come to lie exactly on each other and
two ways of entering the same plates give the same answer. The *least-squares pose* of the cores' middles is that answer
wherever it keeps the best margin, and puts fasteners into the middle of slots; else a small problem is solved from the
best pose found.
"""

from __future__ import annotations

import cmath
import math
from typing import Final

import numpy as np

from ledger.fit.joint import Real
from ledger.fit.layout import Layout, Plane, gaps
from ledger.fit.minimax import Best, margin_at
from ledger.fit.shift import NOISE

HALVINGS: Final = 60
CENTRING: Final = 1e-3
State = tuple[float, complex]  # angle and shift, scaled


def least_squares(layout: Layout) -> State:
    """
    The pose with the least sum of squared distances between the cores' middles.

    Its angle is that of sum conj(a) b about the means (Procrustes in the plane).
    """
    home_a, home_b = complex(layout.a.mean()), complex(layout.b.mean())
    angle = _turn(layout.a - home_a, layout.b - home_b)
    return angle, home_b - cmath.rect(1, angle) * home_a


def settle(layout: Layout, best: Best) -> State:
    """Of the poses that keep the best margin, the one with the least sum of squared offsets, in scaled units."""
    floor = best.margin - layout.tolerance / 4
    fitted = least_squares(layout)
    if margin_at(layout, *fitted) >= floor:
        return fitted
    here = (best.angle, best.shift)
    room = layout.c - best.margin
    pinned = np.flatnonzero(room <= layout.tolerance)
    if not layout.slotted:
        # Short of the smallest take up two or three pairs hold the pose from all sides: there is no other.
        return _about(layout, int(pinned[0]), here, floor) if len(pinned) else here
    found = _constrained(layout, here, room)
    better = _cost(layout, found) < _cost(layout, here) - NOISE * NOISE
    return found if better and margin_at(layout, *found) >= floor else here


def spin(layout: Layout, pivot: int, passed: State) -> State:
    """The pose turned about one pair's holes so that the other pairs lie as near as they can."""
    home_a, home_b = complex(layout.a[pivot]), complex(layout.b[pivot])
    if np.abs(layout.a - home_a).max() <= NOISE:
        return passed
    angle = _turn(layout.a - home_a, layout.b - home_b)
    return angle, home_b - cmath.rect(1, angle) * home_a


def _turn(a: Plane, b: Plane) -> float:
    total = complex((a.conj() * b).sum())
    return cmath.phase(total) if abs(total) > NOISE * len(a) else 0.0


def _middles(layout: Layout, state: State) -> Plane:
    return np.asarray(cmath.rect(1, state[0]) * layout.a - layout.b + state[1])


def _cost(layout: Layout, state: State) -> float:
    """Sum of squared offsets; of slots, along which nothing changes, the middles count a little, too."""
    offsets = float((np.abs(gaps(layout, *state).gap) ** 2).sum())
    return offsets + CENTRING * float((np.abs(_middles(layout, state)) ** 2).sum()) * layout.slotted


def _about(layout: Layout, pivot: int, here: State, floor: float) -> State:
    """A pair without play pins the pose: only turning about it is left, as far towards least squares as goes."""
    home_a, home_b = complex(layout.a[pivot]), complex(layout.b[pivot])
    expected, _ = spin(layout, pivot, here)
    slip = here[1] - (home_b - cmath.rect(1, here[0]) * home_a)
    sweep = math.remainder(expected - here[0], 2 * math.pi)

    def turned(part: float) -> State:
        angle = here[0] + part * sweep
        return angle, home_b - cmath.rect(1, angle) * home_a + slip * cmath.rect(1, part * sweep)

    low, high = 0.0, 1.0
    if margin_at(layout, *turned(1.0)) >= floor:
        low = 1.0
    for _ in range(HALVINGS if low < high else 0):
        middle = (low + high) / 2
        low, high = (middle, high) if margin_at(layout, *turned(middle)) >= floor else (low, middle)
    return turned(low)


def _constrained(layout: Layout, here: State, room: Real) -> State:
    """Least squares with every offset kept within its room, from a pose that is so already."""
    from scipy.optimize import NonlinearConstraint, minimize

    unit = float(room.max())
    if unit <= NOISE:
        return here

    def state(x: Real) -> State:
        return here[0] + unit * float(x[0]), here[1] + unit * complex(x[1], x[2])

    def squares(x: Real) -> Real:
        return np.abs(gaps(layout, *state(x)).gap / unit) ** 2

    def slopes(x: Real) -> Real:
        angle, shift = state(x)
        at = gaps(layout, angle, shift)
        arm = 1j * cmath.rect(1, angle) * (layout.a + at.t * layout.ha)
        gap = 2 * at.gap / unit
        return np.stack([(gap.conj() * arm).real, gap.real, gap.imag], axis=1)

    centring = CENTRING * layout.slotted

    def total(x: Real) -> float:
        return _cost(layout, state(x)) / unit**2

    def slope(x: Real) -> Real:
        arm = 1j * cmath.rect(1, state(x)[0]) * layout.a
        middle = 2 * centring * _middles(layout, state(x)) / unit
        pull = ((middle.conj() * arm).real.sum(), middle.real.sum(), middle.imag.sum())
        return np.asarray(slopes(x).sum(axis=0) + pull)

    within = NonlinearConstraint(
        lambda x: (room / unit) ** 2 - squares(x), 0, np.inf, jac=lambda x: -slopes(x)
    )
    found = minimize(
        total,
        np.zeros(3),
        jac=slope,
        constraints=within,
        method="SLSQP",
        options={"ftol": 1e-12, "maxiter": 30},
    )
    return state(found.x)
