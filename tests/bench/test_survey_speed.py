"""Thirty points and two hundred distances are solved, and searched for a bad reading, within a fifth of a second."""

from __future__ import annotations

import time
from itertools import combinations

import numpy as np
import pytest

from ledger.survey.blame import off_readings
from ledger.survey.network import Network, Tie
from ledger.survey.solve import solve


@pytest.mark.bench
def test_thirty_points_and_two_hundred_distances_take_under_a_fifth_of_a_second():
    took = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        places = rng.uniform(0, 3000, (30, 2))
        pairs = rng.permutation(list(combinations(range(30), 2)))[:200]
        ties = tuple(
            Tie(f"P{a}", f"P{b}", float(np.linalg.norm(places[a] - places[b]) + rng.normal(0, 0.6)), 0.6)
            for a, b in pairs
        )
        began = time.perf_counter()
        off_readings(solve(Network(tuple(f"P{k}" for k in range(30)), ties)))
        took.append(time.perf_counter() - began)
    print(f"30 points, 200 distances: {sorted(took[1:])[2] * 1000:.0f} ms, the first {took[0] * 1000:.0f} ms")  # noqa: T201 - a bench tells
    assert sorted(took[1:])[2] < 0.2
