"""Distances between solved points: their value, and a stated U that holds what it says."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from ledger.domain.errors import UnknownName
from ledger.survey.distance import apart
from ledger.survey.network import Network, Tie
from ledger.survey.solve import solve

U_MM = 0.5


def in_space(rng, count=7):
    places = rng.uniform(0, 1500, (count, 3))
    ties = tuple(
        Tie(f"P{a}", f"P{b}", float(np.linalg.norm(places[a] - places[b]) + rng.normal(0, U_MM)), U_MM)
        for a, b in combinations(range(count), 2)
    )
    return places, Network(tuple(f"P{k}" for k in range(count)), ties, dim=3)


def test_the_stated_u_of_a_distance_in_space_covers_93_to_97_percent():
    rng = np.random.default_rng(21)
    inside = []
    for _ in range(150):
        places, network = in_space(rng)
        solution = solve(network)
        for a, b in ((0, 1), (2, 5), (3, 6)):
            length, sure = apart(solution, f"P{a}", f"P{b}")
            inside.append(abs(length - np.linalg.norm(places[a] - places[b])) <= sure)
    assert 0.93 <= np.mean(inside) <= 0.97


def test_one_tie_alone_is_as_sure_as_its_reading():
    ties = (Tie("A", "B", 300, 1), Tie("B", "C", 400, 1), Tie("A", "C", 500, 1))
    length, sure = apart(solve(Network(("A", "B", "C"), ties)), "A", "C")
    assert (length, sure) == pytest.approx((500, 1.96), abs=1e-3)


def test_along_an_axis_it_is_the_difference_of_coordinates():
    ties = (Tie("A", "B", 300, 1), Tie("B", "C", 400, 1), Tie("A", "C", 500, 1))
    solution = solve(Network(("A", "B", "C"), ties))
    assert apart(solution, "A", "C", 0)[0] == pytest.approx(300, abs=1e-3)
    assert apart(solution, "A", "C", 1)[0] == pytest.approx(400, abs=1e-3)
    with pytest.raises(UnknownName, match="no point 'D'"):
        apart(solution, "A", "D")
