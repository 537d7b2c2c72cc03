"""
Thirty points and two hundred distances are solved, and searched for a bad reading, within a fifth of a second.

A machine that is busy gives a program less of itself, but the work must not become more: at a load of 4 it may take
1.3 times the processor time that it takes without, which it does not with threads that wait for each other.
"""

from __future__ import annotations

import subprocess
import sys
import time
from contextlib import ExitStack
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from ledger.survey.blame import off_readings
from ledger.survey.network import Network, Tie
from ledger.survey.solve import solve


@pytest.mark.bench
@pytest.mark.parametrize("dim", [2, 3])
@pytest.mark.parametrize("blunder_mm", [0.0, 12.0])
def test_thirty_points_and_two_hundred_distances_take_under_a_fifth_of_a_second(dim, blunder_mm):
    took = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        places = rng.uniform(0, 3000, (30, dim))
        pairs = rng.permutation(list(combinations(range(30), 2)))[:200]
        ties = [
            Tie(f"P{a}", f"P{b}", float(np.linalg.norm(places[a] - places[b]) + rng.normal(0, 0.6)), 0.6)
            for a, b in pairs
        ]
        ties[7] = replace(ties[7], value_mm=ties[7].value_mm + blunder_mm)
        began = time.perf_counter()
        found = off_readings(solve(Network(tuple(f"P{k}" for k in range(30)), tuple(ties), dim=dim)))
        took.append(time.perf_counter() - began)
        if blunder_mm:
            assert found.suspects == (ties[7],)
        else:
            assert not (found and found.certain)
    each, first = sorted(took[1:])[2] * 1000, took[0] * 1000
    print(  # noqa: T201 - a bench tells
        f"30 points, 200 distances in {dim}D, one {blunder_mm:g} mm off: {each:.0f} ms, the first {first:.0f} ms"
    )
    assert each < 200


LOADS, MOST_TIMES = 4, 1.3


def network(seed):
    rng = np.random.default_rng(seed)
    places = rng.uniform(0, 3000, (30, 3))
    pairs = rng.permutation(list(combinations(range(30), 2)))[:200]
    ties = tuple(
        Tie(f"P{a}", f"P{b}", float(np.linalg.norm(places[a] - places[b]) + rng.normal(0, 0.6)), 0.6)
        for a, b in pairs
    )
    return Network(tuple(f"P{k}" for k in range(30)), ties, dim=3)


def processor_seconds(seeds):
    networks = [network(seed) for seed in seeds]
    began = time.process_time()
    for each in networks:
        off_readings(solve(each))
    return time.process_time() - began


@pytest.mark.bench
def test_a_busy_machine_makes_no_more_work_of_it():
    processor_seconds(range(50, 52))
    quiet = min(processor_seconds(range(at, at + 6)) for at in (60, 70, 80))
    with ExitStack() as until:
        for _ in range(LOADS):
            busy = until.enter_context(subprocess.Popen([sys.executable, "-c", "while True: pass"]))
            until.callback(busy.kill)
        loaded = min(processor_seconds(range(at, at + 6)) for at in (160, 170, 180))
    print(f"processor time at load {LOADS}: {loaded / quiet:.2f} times (limit {MOST_TIMES:g})")  # noqa: T201 - a bench tells
    assert loaded <= MOST_TIMES * quiet
