"""Proposals for many drawings: how long 200 take, and how that grows where hardly any of them match."""

from __future__ import annotations

import math
import random
import sys
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "suggestion"))

from planted_plates import apart, folder, plate, unrelated

from ledger.suggestion.proposals import proposals

pytestmark = pytest.mark.bench

LIMIT_S = 60.0
NEAR_N_LOG_N = 2.0


def seconds(plates):
    began = time.process_time()
    found = proposals(plates)
    return time.process_time() - began, found


def strangers(count):
    """Plates with 14 holes of one size each, at random places."""
    rng = random.Random(count)
    made = []
    for k in range(count):
        _, width, height = unrelated(rng, "")
        made.append(plate(f"P{k}", [(z, 9.0) for z in apart(rng, 14, width, height)], width, height))
    return made


def test_it_grows_about_as_n_log_n():
    proposals(strangers(20))
    few, many = 200, 1600
    small, large = seconds(strangers(few))[0], seconds(strangers(many))[0]
    even = many * math.log(many) / (few * math.log(few))
    sys.stdout.write(
        f"\n{few} drawings {small:.2f} s, {many} drawings {large:.2f} s of processor: {large / small:.1f} times, "
        f"n log n {even:.1f} times\n"
    )
    assert large / small < NEAR_N_LOG_N * even


def test_two_hundred_drawings_are_answered_in_a_minute():
    plates, planted = folder(1, plates=200, connections=90)
    took, found = seconds(plates)
    pairs = {frozenset((p.a, p.b)) for p in found if p.proposed}
    right = sum(frozenset((p.a, p.b)) in pairs for p in planted)
    sys.stdout.write(
        f"\n200 drawings with {len(planted)} connections: {took:.1f} s of processor, {right} found, "
        f"{len(pairs) - right} others\n"
    )
    assert took < LIMIT_S
    assert right >= 0.95 * len(planted)
    assert len(pairs) - right <= 0.1 * len(pairs)
