"""
Stack-ups against published examples and closed forms: sensitivities, root sum square, the true extremes.

One-way clutch: K. W. Chase, J. Gao, S. P. Magleby, ADCATS (method of direct linearization; tolerances chosen here).
V groove, tripod: closed forms. Linear sums are not the worst case: in the clutch they are exceeded on one side.
"""

from __future__ import annotations

import math

import pytest

from ledger.assembly.stack_up import Input, spread_of


def limits(name, nominal, tolerance):
    return Input(name, nominal, nominal - tolerance, nominal + tolerance)


def clutch_deg(x):
    hub, roller, ring = x
    return math.degrees(math.acos((hub + roller) / (ring - roller)))


def test_the_clutch_ranges_farther_on_one_side_than_its_linear_sum():
    found = spread_of(
        clutch_deg, [limits("a", 27.645, 0.05), limits("c", 11.43, 0.01), limits("e", 50.8, 0.05)]
    )
    assert found.value == pytest.approx(7.0184, abs=5e-5)
    assert found.low == pytest.approx(5.40837, abs=6e-5)
    assert found.high == pytest.approx(8.32013, abs=6e-5)
    linear = 11.9105 * 0.05 + 23.7317 * 0.01 + 11.8212 * 0.05
    assert found.value - found.low > linear > found.high - found.value
    assert found.root_sum_square == pytest.approx(0.87196, rel=0.01)  # by half ranges, not by slopes
    assert [c.name for c in found.contributions] == ["a", "e", "c"]


def test_a_cylinder_in_a_v_groove():
    inputs = [limits("radius", 10.0, 0.01), limits("half angle", 45.0, 0.25)]
    found = spread_of(lambda x: x[0] * (1 + 1 / math.sin(math.radians(x[1]))), inputs)
    assert found.value == pytest.approx(24.142136, abs=1e-6)
    assert (found.low, found.high) == pytest.approx((24.05675, 24.228453), abs=1e-6)
    assert found.root_sum_square == pytest.approx(0.066261, abs=1e-5)


def tripod_mm(x):
    """Apex over three corners whose sides are x[:3], by legs x[3:]."""
    a, b, c, p, q, r = x
    u = (a * a + c * c - b * b) / (2 * a)
    v = math.sqrt(c * c - u * u)
    along = (p * p - q * q + a * a) / (2 * a)
    across = (p * p - r * r + u * u + v * v - 2 * along * u) / (2 * v)
    return math.sqrt(p * p - along**2 - across**2)


def test_a_tripod_over_its_sixty_four_corners():
    inputs = [limits(f"side {k}", 600.0, 1.0) for k in range(3)] + [
        limits(f"leg {k}", 500.0, 0.5) for k in range(3)
    ]
    found = spread_of(tripod_mm, inputs)
    assert found.value == pytest.approx(360.555128, abs=1e-6)
    assert (found.low, found.high) == pytest.approx((359.304768, 361.800935), abs=1e-6)
    assert found.root_sum_square == pytest.approx(0.51266, abs=1e-4)


def test_of_many_inputs_the_corners_are_climbed_to_the_same_extremes():
    inputs = [limits(f"x{k}", 10.0 + k, 0.1) for k in range(14)]

    def of(x):
        return sum((-1) ** k * v for k, v in enumerate(x)) + 0.01 * x[0] * x[1]

    found = spread_of(of, inputs)
    assert found.high - found.value == pytest.approx(
        max(of([v.high if (s >> k) & 1 else v.low for k, v in enumerate(inputs)]) for s in range(1 << 14))
        - found.value
    )
