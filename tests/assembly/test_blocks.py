"""Connections that lie on rings are found as blocks: what one can leave and come back to without going twice."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from ledger.cases.rings import blocks


def bolted_of(connections):
    found = {}
    for name, parts in connections.items():
        for part in parts:
            found.setdefault(part, []).append((name, tuple(sorted(parts))))
    return found


def apart(connections, without):
    """The parts and connections that hang together without one of the nodes."""
    nodes = {("part", p) for parts in connections.values() for p in parts} | {
        ("connection", c) for c in connections
    }
    nodes.discard(without)
    left, found = set(nodes), []
    while left:
        group, queue = set(), [left.pop()]
        while queue:
            kind, name = queue.pop()
            group.add((kind, name))
            near = (
                {("part", p) for p in connections[name]}
                if kind == "connection"
                else {("connection", c) for c, parts in connections.items() if name in parts}
            )
            queue += [n for n in near if n in left]
            left -= near
        found.append(group)
    return found


def on_one_ring(connections, one, other):
    """Two connections share a block unless some node, or one of them, keeps them apart."""
    nodes = [("part", p) for parts in connections.values() for p in parts] + [
        ("connection", c) for c in connections
    ]
    for node in nodes:
        if node in (("connection", one), ("connection", other)):
            continue
        if not any(
            {("connection", one), ("connection", other)} <= group for group in apart(connections, node)
        ):
            return False
    return True


@pytest.mark.parametrize("seed", range(40))
def test_two_connections_share_a_block_where_no_part_or_connection_keeps_them_apart(seed):
    random = np.random.default_rng(seed)
    parts = [f"P{k}" for k in range(int(random.integers(3, 7)))]
    connections = {
        f"C{k}": tuple(
            random.choice(parts, int(random.choice([2, 2, 2, 3])) if len(parts) > 3 else 2, replace=False)
        )
        for k in range(int(random.integers(2, 8)))
    }
    found = blocks(bolted_of(connections))
    assert all(len(block) > 1 for block in found)
    for one, other in combinations(connections, 2):
        together = any({one, other} <= block for block in found)
        if together:
            assert on_one_ring(connections, one, other)
        elif on_one_ring(connections, one, other):
            shared = set(connections[one]) & set(connections[other])
            assert len(shared) < 2  # neighbors over one part alone are no ring


def test_a_tree_and_a_stack_have_no_rings():
    assert blocks(bolted_of({"AB": ("A", "B"), "BC": ("B", "C"), "CDE": ("C", "D", "E")})) == ()


def test_a_long_chain_is_looked_through_at_once():
    chain = {f"C{k}": (f"P{k}", f"P{k + 1}") for k in range(5000)}
    assert blocks(bolted_of(chain)) == ()
    (ring,) = blocks(bolted_of({**chain, "LAST": ("P5000", "P0")}))
    assert len(ring) == 5001
