"""
Hardly more distances than a shape needs: the true layout is found, nothing good is blamed, and what could hide is told.

Networks are drawn at random: every point tied to two earlier ones (three in space), and a few distances more.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from ledger.survey.adjust import settle, system_of
from ledger.survey.blame import Off, off_readings
from ledger.survey.network import Network, Side, Tie
from ledger.survey.reliability import unseen_slip
from ledger.survey.solve import solve
from ledger.survey.start import held_by_datum, laid_on_datum

U_MM = 0.5


def sparse_network(seed, dim=2):
    rng = np.random.default_rng(seed)
    count, more = int(rng.integers(5, 11)), int(rng.integers(4, 8))
    places = rng.uniform(0, 1, (count, dim)) * (1500, 1000, 800)[:dim]
    tied = {
        tuple(sorted((int(other), k))) for k in range(1, count) for other in rng.permutation(k)[: min(k, dim)]
    }
    rest = [pair for pair in combinations(range(count), 2) if pair not in tied]
    tied |= {rest[k] for k in rng.permutation(len(rest))[:more]}
    ties = [
        Tie(f"P{a}", f"P{b}", float(np.linalg.norm(places[a] - places[b]) + rng.normal(0, U_MM)), U_MM)
        for a, b in sorted(tied)
    ]
    return rng, places, Network(tuple(f"P{k}" for k in range(count)), tuple(ties), dim=dim)


@pytest.mark.parametrize("dim", [2, 3])
def test_the_layout_that_agrees_best_is_found_and_no_good_reading_is_blamed_for_certain(dim):
    for seed in range(24):
        _, places, network = sparse_network(seed, dim)
        solution = solve(network)
        if solution.free:
            continue
        _, true = settle(system_of(network, held_by_datum(network)), laid_on_datum(network, places))
        assert solution.chi_square <= true * 1.001 + 1e-6
        off = off_readings(solution)
        assert off is None or not off.certain


def test_a_slip_is_blamed_for_certain_only_where_it_is():
    certain = 0
    for seed in range(100, 108):
        rng, _, network = sparse_network(seed)
        slipped = int(rng.integers(len(network.ties)))
        ties = list(network.ties)
        ties[slipped] = replace(ties[slipped], value_mm=ties[slipped].value_mm + 60)
        off = off_readings(solve(replace(network, ties=tuple(ties))))
        if off is not None and off.certain:
            certain += 1
            assert off.suspects == (ties[slipped],)
    assert certain >= 2


def test_readings_that_no_one_of_them_explains_blame_nothing():
    _, _, network = sparse_network(3)
    ties = [replace(t, value_mm=t.value_mm + (35 if k % 2 else -35)) for k, t in enumerate(network.ties)]
    off = off_readings(solve(replace(network, ties=tuple(ties))))
    assert off.serious
    assert not off.certain
    assert not off.suspects
    assert "no single one explains it" in off.words


def test_two_layouts_that_both_agree_are_told_as_open():
    # E hangs on A and B, and a third distance from a point on their line fits on either side
    at = {"A": (0, 0), "B": (1000, 0), "C": (400, 700), "M": (500, 0), "E": (500, -300)}
    pairs = [("A", "B"), ("A", "C"), ("B", "C"), ("A", "M"), ("B", "M"), ("C", "M")]
    pairs += [("A", "E"), ("B", "E"), ("M", "E")]
    ties = tuple(Tie(a, b, math.dist(at[a], at[b]), U_MM) for a, b in pairs)
    side = (Side("C", 1, ("A", "B")),)
    assert ("E",) in solve(Network(tuple(at), ties, (), side)).images


def test_the_slip_that_can_hide_is_that_of_baarda():
    """Two points on a line measured n times: share 1 - 1/n, so 4.13 u / sqrt(1 - 1/n); it moves the length by 1/n."""
    for n in (2, 4, 9):
        network = Network(("A", "B"), tuple(Tie("A", "B", 500.0, U_MM) for _ in range(n)))
        unseen = unseen_slip(solve(network))
        slip = 4.13 * U_MM / math.sqrt(1 - 1 / n)
        assert unseen.slip_mm == pytest.approx(slip, rel=1e-6)
        assert unseen.moves_mm == pytest.approx(slip / n / 2, rel=1e-3)  # either end moves by half of it


def test_two_readings_that_are_off_together_are_said_in_whole_words():
    ties = (Tie("P1", "P2", 300.0, U_MM), Tie("P1", "P3", 400.0, U_MM))
    words = Off(ties, 4.0, 0.3, rest_agrees=True, certain=True, serious=True, together=True).words
    assert words.endswith("seem off together; without them the rest agrees to 0.3 mm")
