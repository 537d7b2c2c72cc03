"""
The odds that holes meet, against closed forms and published constants.

In each, `s` is the error of a hole on x and on y in each ply, `c` the clearance hole less the fastener.
"""

from __future__ import annotations

import math

import pytest

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, Ply
from ledger.fit.lots import PairMade
from ledger.fit.odds import Odds, odds_of, wilson

TRIANGLE = [(0.0, 0.0), (1000.0, 0.0), (500.0, 500 * math.sqrt(3))]
SQUARE = [(0.0, 0.0), (900.0, 0.0), (900.0, 900.0), (0.0, 900.0)]
SURE = 4.0  # standard errors


def pairs_of(points, *, clearance, s_a, s_b, joint="through", offset=0.0):
    plies = [Ply((), position_mm=6 * s) for s in (s_a, s_b)]
    fastening = Fastening(*plies, 10.0, 10.0, joint)
    return [
        PairMade(
            Hole("A", ((x + offset, y),), 10.0 + clearance), Hole("B", ((x, y),), 10.0 + clearance), fastening
        )
        for x, y in points
    ]


def agrees(found: Odds, share: float, more: float = 0.0) -> bool:
    """Within four standard errors of the draw, and of the published figure."""
    assert found.undecided == 0
    return abs(found.share - share) <= SURE * math.sqrt(share * (1 - share) / found.lots) + more


# One floating joint, both plies off by s: the relative offset is Rayleigh with s sqrt 2, share 1 - exp(-c²/4s²).
def test_one_joint_as_drawn_is_rayleigh():
    pairs = pairs_of([(0, 0)], clearance=0.6, s_a=0.2, s_b=0.2)
    assert agrees(odds_of(pairs, Pose(), free=False), 0.894601)


# Hole error s = 0.05 inside a zone of diameter 0.25: 1 - exp(-R²/2s²) = 0.956063.
def test_one_hole_inside_its_zone_is_rayleigh():
    pairs = pairs_of([(0, 0)], clearance=0.125, s_a=0.05, s_b=0.0)
    assert agrees(odds_of(pairs, Pose(), free=False), 0.956063)


# The same with an offset of 0.2 between the drawings, s = 0.1, radius 0.3: Rice (noncentral chi-square) 0.785638.
def test_one_hole_that_is_drawn_off_is_rice():
    pairs = pairs_of([(0, 0)], clearance=0.3, s_a=0.1, s_b=0.0, offset=0.2)
    assert agrees(odds_of(pairs, Pose(), free=False), 0.785638)


# FGDC-STD-007.3-1998 (NSSDA): 95 % of radial errors lie within 2.4477 s; circular error probable: 1.1774 s.
@pytest.mark.parametrize(("radius", "share"), [(1.1774, 0.5), (2.4477, 0.95), (3.0, 0.98889)])
def test_the_radius_that_holds_a_share(radius, share):
    pairs = pairs_of([(0, 0)], clearance=radius * 0.1, s_a=0.1, s_b=0.0, joint="through")
    assert agrees(odds_of(pairs, Pose(), free=False), share, more=5e-5)


# Scholz, hole-pattern alignment, both parts on nominal: K independent pairs, (1 - exp(-c²/4s²))^K.
@pytest.mark.parametrize(("n", "share"), [(2, 0.800311), (4, 0.640497)])
def test_several_joints_as_drawn_are_independent(n, share):
    assert agrees(odds_of(pairs_of(SQUARE[:n], clearance=0.6, s_a=0.2, s_b=0.2), Pose(), free=False), share)


# Two holes, free to shift and turn, pitch long against s: only the pitches count, 2 Phi(c/s) - 1 = 0.866386.
def test_of_two_free_holes_only_the_distance_counts():
    pairs = pairs_of(SQUARE[:2], clearance=0.3, s_a=0.2, s_b=0.2)
    assert agrees(odds_of(pairs, Pose(), free=True), 0.866386)


# Three holes on a circle, free, both plies off by s: certified simulation of the minimax pose, 2e5 samples.
@pytest.mark.parametrize(("c_over_s", "share"), [(1.5, 0.597), (2.0, 0.840), (2.5, 0.953)])
def test_three_free_holes(c_over_s, share):
    pairs = pairs_of(TRIANGLE, clearance=0.2 * c_over_s, s_a=0.2, s_b=0.2)
    assert agrees(odds_of(pairs, Pose(), free=True), share, more=0.004)


# A fixed joint has half the room: one ply off by s, the other by s, radius c/2: 1 - exp(-(c/2)²/4s²).
def test_a_fixed_joint_has_half_the_room():
    pairs = pairs_of([(0, 0)], clearance=0.8, s_a=0.1, s_b=0.2, joint="tapped")
    share = 1 - math.exp(-(0.4**2) / (2 * (0.1**2 + 0.2**2)))
    assert agrees(odds_of(pairs, Pose(), free=False), share)


# R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Stat. Med. 17 (1998) 857-872, table I,
# method 3 (score), 95 %; from memory.
@pytest.mark.parametrize(
    ("good", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilsons_interval_is_that_of_newcombe(good, of, low, high):
    assert wilson(good, of) == pytest.approx((low, high), abs=6e-5)
