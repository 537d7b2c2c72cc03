"""The smallest circle around discs is as good far out and at any size as it is near the origin."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.fit.shift import enclosing

SCALES = (1e-3, 1.0, 300.0, 3000.0, 12_000.0, 1e6)
PLACES = (0j, 5000 - 3000j, 1e5 + 1e5j)


def reach(centre, discs, radii):
    """How large the circle around a centre must be."""
    return float((np.abs(discs - centre) + radii).max())


def pattern(seed):
    """Discs of a spread near 1: scattered, in a row, on a ring, nearly alike or with one apart."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 14))
    kind = seed % 5
    along = rng.uniform(-1, 1, count)
    places = [
        along + 1j * rng.uniform(-1, 1, count),
        along * (0.6 + 0.8j) + 1e-9j * rng.uniform(-1, 1, count),
        np.exp(2j * np.pi * np.arange(count) / count),
        1e-4 * (along + 1j * rng.uniform(-1, 1, count)),
        np.concatenate([1e-3 * along[1:].astype(complex), [1 + 0.5j]]),
    ][kind]
    return places, rng.uniform(0, 0.2, count) * (seed % 3 > 0) * np.abs(places).max()


def certified(discs, radii):
    """A lower bound for any circle: that of every pair, and of every three points without their radii."""
    pairs = np.abs(discs[:, None] - discs[None, :]) + radii[:, None] + radii[None, :]
    around = shapely.minimum_bounding_radius(shapely.MultiPoint([(z.real, z.imag) for z in discs]))
    return max(float(pairs.max()) / 2, float(radii.max()), float(around) + float(radii.min()))


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("place", PLACES)
def test_a_circle_is_no_larger_for_its_size_or_place(scale, place):
    worst = 0.0
    for seed in range(60):
        discs, radii = pattern(seed)
        near = reach(enclosing(discs, radii)[0], discs, radii)
        far_discs, far_radii = scale * discs + place, scale * radii
        centre = enclosing(far_discs, far_radii)[0]
        here = reach((centre - place) / scale, discs, radii)
        noise = 4e-16 * abs(place) / scale
        worst = max(worst, (here - near - 8 * noise) / near)
    assert worst < 1e-9


@settings(max_examples=60)
@given(seed=st.integers(0, 10**6), scale=st.sampled_from(SCALES))
def test_a_circle_is_as_small_as_an_outside_one(seed, scale):
    """GEOS (shapely.minimum_bounding_radius) for points; for discs a lower bound that most patterns meet."""
    discs, radii = pattern(seed)
    discs = scale * discs
    points = np.zeros(len(discs))
    found = reach(enclosing(discs, points)[0], discs, points)
    assert found == pytest.approx(certified(discs, points), rel=1e-9)
    radii = scale * radii
    centre, held = enclosing(discs, radii)
    size = reach(centre, discs, radii)
    assert size >= certified(discs, radii) * (1 - 1e-12)
    # minimal: no step away from the centre makes it smaller
    for turn in np.exp(2j * np.pi * np.arange(16) / 16):
        assert reach(centre + 1e-3 * size * turn, discs, radii) >= size * (1 - 1e-9)
    assert 1 <= len(held) <= 3


def test_a_length_that_all_radii_share_moves_nothing():
    discs, radii = pattern(3)
    assert enclosing(discs, radii + 7.0)[0] == pytest.approx(enclosing(discs, radii)[0], abs=1e-14)
