"""
Odds: lots of four holes a second, and the ruling on one connection.

Peer: every lot by itself with the exact minimax pose of the fit, in the same run. Times are of the processor.
"""

from __future__ import annotations

import math
import random
import time

import pytest

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, PatternCase, Ply
from ledger.fit.layout import lay_out_planes
from ledger.fit.lots import Draws, PairMade, made
from ledger.fit.minimax import best_pose
from ledger.fit.odds import _free, odds_of
from ledger.fit.pattern import fit
from ledger.fit.pose_choice import least_squares
from ledger.fit.ruling import rule

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]
BASE = ((0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0))


def holes(points, diameter):
    return tuple(Hole(f"H{k}", (p,), diameter) for k, p in enumerate(points, 1))


def pairs_of(clearance):
    ply = Ply((), position_mm=0.4, shrink_mm=0.3)
    plate = holes(BASE, 10 + clearance)
    return [PairMade(h, h, Fastening(ply, ply, 10.0, 10.0)) for h in plate]


@pytest.mark.parametrize("clearance", [1.0, 0.6, 0.5, 0.4])
def test_lots_of_four_holes_a_second(clearance, capsys):
    pairs = pairs_of(clearance)
    start = time.process_time()
    found = odds_of(pairs, Pose(), free=True)
    took = time.process_time() - start
    some = made(pairs, Draws.of(pairs, 400))
    start = time.process_time()
    exact = [
        best_pose(x, least_squares(x)[0]).margin >= 0
        for row in range(400)
        for x in [
            lay_out_planes((some.a[row], some.ha), (some.b[row], some.hb), some.c[row], turned_over=False)
        ]
    ]
    alone = (time.process_time() - start) / 400
    assert _free(some, Pose())[0].tolist() == [
        e and c for e, c in zip(exact, (some.c >= 0).all(axis=1).tolist(), strict=True)
    ]
    rate = found.lots / took
    with capsys.disabled():
        print(  # noqa: T201 - what a bench is for
            f"\n{clearance} mm: odds {found.share:.4f}, {rate:,.0f} lots a second (goal 50,000: "
            f"{'met' if rate >= 50_000 else 'not met'}), {rate * alone:.0f} times as fast as one by one",
            end="",
        )


def test_faulty_plates_are_never_go_below_the_odds_that_are_required():
    """Of 300 plates with one hole off, each with 20,000 lots; those that are GO are drawn again with other numbers."""
    rng = random.Random(3)
    wrong = 0
    for _ in range(300):
        n = rng.randint(3, 6)
        points = [(rng.uniform(0, 200), rng.uniform(0, 150)) for _ in range(n)]
        turn, far = rng.uniform(0, 2 * math.pi), rng.uniform(0.2, 2.1)
        off = [(points[0][0] + far * math.cos(turn), points[0][1] + far * math.sin(turn)), *points[1:]]
        a, b = (Ply(holes(p, 11.0), declared=True, position_mm=0.4, shrink_mm=0.3) for p in (points, off))
        case = PatternCase(a, b, 10.0, 10.0)
        found = fit(case)
        ruling = rule(case, found)
        if ruling.verdict == "GO" and ruling.odds is not None:
            other = Fastening(a, b, 10.0, 10.0)
            pairs = [PairMade(x, y, other) for x, y in zip(a.holes, b.holes, strict=True)]
            again = odds_of(pairs[::-1], found.pose, free=True)  # another order: other numbers
            wrong += again.share < 0.99 - 3 * math.sqrt(0.99 * 0.01 / again.lots)
    assert wrong == 0
