"""Which hole meets which: against trying everything, with holes missing, extra and displaced, and by chance."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from many_cases import hold, many_cases
from plates_of_holes import SQUARE, circle, compare, holes, laid, ply

from ledger.fit.chance import CLAIM, Chance
from ledger.fit.layout import lay_out
from ledger.fit.minimax import best_pose
from ledger.fit.pose_choice import least_squares


def goes(a, b, pairs, take_up):
    cores_a, cores_b = [(a[i],) for i, _ in pairs], [(b[k],) for _, k in pairs]
    layout = lay_out(cores_a, cores_b, np.full(len(pairs), take_up), turned_over=False)
    return best_pose(layout, least_squares(layout)[0]).margin >= -1e-12


def by_trying_everything(a, b, take_up):
    """Every assignment with the most pairs that pass together."""
    for size in range(min(len(a), len(b)), 0, -1):
        good = []
        for some in itertools.combinations(range(len(a)), size):
            for order in itertools.permutations(range(len(b)), size):
                pairs = list(zip(some, order, strict=True))
                apart = (
                    abs(math.dist(a[i], a[j]) - math.dist(b[k], b[m]))
                    for (i, k), (j, m) in itertools.combinations(pairs, 2)
                )
                if all(x <= 2 * take_up + 1e-9 for x in apart) and goes(a, b, pairs, take_up):
                    good.append(pairs)
        if good:
            return size, len(good)
    raise AssertionError("one hole always meets one")


@pytest.mark.parametrize("seed", range(40))
def test_as_many_pairs_and_ways_are_found_as_by_trying_everything(seed):
    random = np.random.default_rng(seed)
    n = int(random.integers(3, 6))
    a = [tuple(p) for p in random.uniform(0, 150, (n, 2)).round(1).tolist()]
    noise = random.choice([0.2, 1.0, 4.0], (n, 2))
    b = [
        (x + dx, y + dy)
        for (x, y), (dx, dy) in zip(a, (random.normal(size=(n, 2)) * noise).tolist(), strict=True)
    ]
    b = laid(b, random.uniform(-180, 180), 5, 7)
    found = compare(ply(a, declared=True), ply(b, declared=True))
    pairs, ways = by_trying_everything(a, b, 1.5)
    if found.code == "no_common_pattern":
        assert pairs < math.ceil(n / 2) or pairs < 3
    else:
        assert len(found.pairs) == pairs
        assert found.proven
        if found.verdict == "GO":
            assert found.ways == ways


GRID = [(x * 40.0, y * 40.0) for x in range(8) for y in range(5)]


@pytest.mark.parametrize(
    ("a", "b", "pairs", "ways"),
    [
        pytest.param(GRID, GRID, 40, 2, id="a grid on itself"),
        pytest.param(GRID, GRID[:7] + GRID[9:20] + GRID[22:], 36, 2, id="four missing"),
        pytest.param(SQUARE, SQUARE, 4, 4, id="a square"),
        pytest.param(circle(12, 300), circle(12, 300), 12, 12, id="a bolt circle"),
    ],
)
def test_symmetric_patterns_are_paired_in_every_way(a, b, pairs, ways):
    found = compare(a, laid(b, 12, 300, -40))
    assert found.verdict == "GO"
    assert len(found.pairs) == pairs
    assert found.ways == ways


def test_a_small_pattern_is_found_among_many_other_holes():
    random = np.random.default_rng(3)
    pattern = [(0.0, 0.0), (70.0, 0.0), (90.0, 50.0), (10.0, 65.0), (45.0, 20.0)]
    others = [
        p for p in random.uniform(-400, 400, (30, 2)).tolist() if min(math.dist(p, q) for q in pattern) > 30
    ]
    found = compare(others[:12] + laid(pattern, 10) + others[12:], laid(pattern, 77, 10, 20), bolt=13.0)
    assert found.verdict == "GO"
    assert [(p.a, p.b) for p in found.pairs] == [(f"H{13 + k}", f"H{1 + k}") for k in range(5)]
    assert len(found.unmatched_a) == len(others)
    assert not found.unmatched_b


def random_plates(seed):
    """
    Plates of 10 and 20 holes anywhere, either way up: never a GO.

    Each number of agreeing holes is claimed in less than one of a hundred, so that all together are in a few.
    """
    random = np.random.default_rng([seed, 11])
    a, b = random.uniform(0, 400, (10, 2)), random.uniform(0, 400, (20, 2))
    found = compare(a.tolist(), b.tolist(), turned_over="either")
    assert found.verdict != "GO"
    return "" if found.code == "no_common_pattern" else "claimed"


@many_cases(100, 5_000)  # 35 ms each
def test_random_plates_are_seldom_taken_for_a_pattern(seeds):
    hold(random_plates, seeds, claimed="1/25")


def test_two_holes_that_agree_are_never_enough_and_more_are_ever_less_by_chance():
    random = np.random.default_rng(1)
    a, b = (random.uniform(0, 400, n) + 1j * random.uniform(0, 400, n) for n in (20, 20))
    chance = Chance(a, b, 1)
    assert chance.expected(2, 1.5) == math.inf
    row = [chance.expected(k, 1.5) for k in range(3, 21)]
    assert row == sorted(row, reverse=True)
    assert chance.fewest_claimed() == 3
    assert 4 <= next(k for k in range(3, 21) if chance.expected(k, 1.5) < CLAIM) <= 7


def test_the_labels_have_no_say_in_the_pairing():
    a = [(0.0, 0.0), (100.0, 0.0), (120.0, 70.0), (15.0, 60.0)]
    shuffled = [a[k] for k in (2, 0, 3, 1)]
    found = compare(ply(a), ply(shuffled))
    assert {(p.a, p.b) for p in found.pairs} == {("H1", "H2"), ("H2", "H4"), ("H3", "H1"), ("H4", "H3")}


def test_holes_far_apart_in_number_are_compared_without_a_claim():
    assert compare(SQUARE[:2], circle(9, 200)).code == "no_common_pattern"
    assert compare(SQUARE[:1], SQUARE).code == "no_common_pattern"
    assert len(holes(SQUARE)) == 4
