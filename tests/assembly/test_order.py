"""An order of assembly is one in which nothing is in the way yet; that there is none is true of every order."""

from __future__ import annotations

from itertools import permutations

import numpy as np
from many_cases import hold, many_cases

from ledger.assembly.order import order_of


def is_good(names, parts, blocked):
    """By hand: bolted together so far, is a blocker in the group that the next one makes?"""
    group = {p: {p} for of in parts.values() for p in of}
    for name in names:
        made = set().union(*(group[p] for p in parts[name]))
        if made & blocked.get(name, set()):
            return False
        for p in made:
            group[p] = made
    return True


def order_is_that_of_all_permutations(seed):
    random = np.random.default_rng(seed)
    count = int(random.integers(2, 6))
    parts = {f"C{k}": {f"P{n}" for n in random.choice(6, 2, replace=False)} for k in range(count)}
    blocked = {}
    for name, of in parts.items():
        others = sorted({f"P{n}" for n in range(6)} - of)
        blocked[name] = {p for p in others if random.random() < 0.25}
    found = order_of(parts, blocked)
    possible = any(is_good(names, parts, blocked) for names in permutations(parts))
    assert found.proven
    assert bool(found.stuck) != possible
    if possible:
        assert sorted(found.names) == sorted(parts)
        assert is_good(found.names, parts, blocked)
        return "possible"
    return "none"


@many_cases(suite=200, bench=5000)
def test_the_order_found_is_good_and_none_is_found_where_there_is_none(seeds):
    hold(order_is_that_of_all_permutations, seeds, possible="0.95", none="0.95")


def test_two_parts_that_hide_each_others_bolts_are_built_apart_where_a_third_joins_them():
    parts = {"A-B": {"A", "B"}, "C-D": {"C", "D"}, "B-C": {"B", "C"}}
    order = order_of(parts, {"A-B": {"C"}, "C-D": {"B"}})
    assert set(order.names[:2]) == {"A-B", "C-D"}
    assert order_of(parts, {"A-B": {"C"}, "B-C": {"A"}}).stuck
