"""
Rings closed as a whole: how long with proof, against a bare sequence of cone programs and against SLSQP.

Times are of the processor, in one run.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "assembly"))
from other_solver import margin_by_slsqp
from rings_of_plates import drawn_of, ring

from ledger.assembly.closure import closure
from ledger.assembly.links import Place, lay_out, margins
from ledger.assembly.odds import LOTS, odds_of
from ledger.assembly.poses import best_poses

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]


def by_cones(links, start, steps=8):
    """The margin by a sequence of second-order cone programs with linear turns; round holes."""
    import clarabel
    from scipy import sparse

    place, best = start, float(margins(links, start).min())
    free, many = links.bodies - 1, len(links.one)
    reach = float(links.reach.max())
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    for _ in range(steps):
        one, other = place.turns[links.one] * links.a, place.turns[links.other] * links.b
        gap = one + place.shifts[links.one] - other - place.shifts[links.other]
        moves = np.zeros((many, 1 + 3 * free), dtype=complex)
        line = np.arange(many)
        for side, arm, sign in ((links.one, one, 1), (links.other, other, -1)):
            at = side > 0
            np.add.at(moves, (line[at], side[at]), sign * 1j * arm[at] / reach)
            np.add.at(moves, (line[at], 1 + free + 2 * (side[at] - 1)), sign)
            np.add.at(moves, (line[at], 2 + free + 2 * (side[at] - 1)), sign * 1j)
        rows = np.zeros((3 * many, 1 + 3 * free))
        rows[::3, 0] = 1
        rows[1::3], rows[2::3] = -moves.real, -moves.imag
        right = np.column_stack([links.room, gap.real, gap.imag]).ravel()
        cost = np.zeros(1 + 3 * free)
        cost[0] = -1
        found = clarabel.DefaultSolver(
            sparse.csc_matrix((1 + 3 * free, 1 + 3 * free)), cost, sparse.csc_matrix(rows), right,
            [clarabel.SecondOrderConeT(3)] * many, settings,
        ).solve()  # fmt: skip
        x = np.array(found.x)
        turns = place.turns.copy()
        turns[1:] *= np.exp(1j * x[1 : 1 + free] / reach)
        moved = x[1 + free :].reshape(-1, 2) @ np.array([1, 1j])
        place = Place(turns, place.shifts + np.concatenate([[0], moved]))
        new = float(margins(links, place).min())
        if new - best < 1e-7:
            return max(new, best)
        best = new
    return best


def timed(work):
    start = time.process_time()
    value = work()
    return value, 1000 * (time.process_time() - start)


@pytest.mark.parametrize("off_mm", [0.0, 10.0, 40.0])
def test_a_ring_of_six_plates_with_four_holes_each(off_mm, capsys):
    whole, bare, peers, slow = [], [], [], []
    for seed in range(20):
        case = ring(seed, off_mm=off_mm, plates=6, holes=4)
        made = drawn_of(case)
        closure.cache_clear()
        _, took = timed(lambda case=case: closure(case))
        whole.append(took)
        ours, took = timed(lambda made=made: best_poses(made.drawn, made.start).margin_mm)
        bare.append(took)
        cones, took = timed(lambda made=made: by_cones(made.drawn, made.start))
        peers.append(took)
        assert ours >= cones - 1e-5
        if seed < 3:
            slow.append(timed(lambda made=made: margin_by_slsqp(made.drawn, made.start))[1])
    with capsys.disabled():
        sys.stdout.write(
            f"\nring of 6 x 4, {off_mm:g} mm off: answer with proof {np.median(whole):.1f} ms, poses alone "
            f"{np.median(bare):.1f} ms, cone programs {np.median(peers):.1f} ms, SLSQP {np.median(slow):.0f} ms\n"
        )


def test_margins_are_those_of_cone_programs(capsys):
    worst = 0.0
    for seed in range(2000):
        case = ring(seed, off_mm=(0.0, 8.0, 25.0)[seed % 3])
        made = drawn_of(case)
        ours, cones = best_poses(made.drawn, made.start).margin_mm, by_cones(made.drawn, made.start)
        assert ours >= cones - 1e-5, seed
        worst = max(worst, ours - cones)
    with capsys.disabled():
        sys.stdout.write(f"\n2000 rings against cone programs: none lower, at most {worst:.6f} mm higher\n")


def test_a_hundred_bodies_and_two_hundred_and_fifty_connections(capsys):
    random = np.random.default_rng(1)
    spots = [complex(*random.uniform(0, 5000, 2)) for _ in range(100)]
    near = sorted((abs(p - q), i, j) for i, p in enumerate(spots) for j, q in enumerate(spots[:i]))
    ends = [(j, i) for _, i, j in near[:250]]
    ends += [(i - 1, i) for i in range(1, 100) if not any(i in e for e in ends)]
    from ledger.assembly.links import Link

    rows = []
    for p, q in ends:
        for _ in range(4):
            z = (spots[p] + spots[q]) / 2 + complex(*random.uniform(-60, 60, 2))
            a, b = (z - spots[k] + complex(*random.normal(0, 0.05, 2)) for k in (p, q))
            rows.append(Link(p, q, ((a.real, a.imag),), ((b.real, b.imag),), 1.5))
    links = lay_out(100, 0, rows)
    shifts = np.array([spots[k] + links.homes[k] for k in range(100)])
    start = Place(np.ones(100, dtype=complex), shifts - shifts[0])
    found, took = timed(lambda: best_poses(links, start))
    with capsys.disabled():
        sys.stdout.write(
            f"\n100 bodies, {len(ends)} connections: {took / 1000:.2f} s, margin {found.margin_mm:.3f} mm\n"
        )
    assert found.margin_mm > 0


def test_lots_of_a_ring_a_second(capsys):
    for off in (0.0, 12.0, 20.0):
        case = ring(2, off_mm=off, plates=6, holes=4)
        found, took = timed(lambda case=case: odds_of(case))
        rate = LOTS / took
        with capsys.disabled():
            sys.stdout.write(f"\nodds of a ring of 6 x 4, {off:g} mm off: {rate:.0f} lots a ms, {found}\n")
