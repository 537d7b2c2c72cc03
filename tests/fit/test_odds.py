"""Odds: the quick tests change no answer, and what makes a lot worse never makes its odds better."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from many_cases import hold, many_cases
from plates_of_holes import holes, slot

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.required_odds import percent, read_odds, share_of
from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, Ply
from ledger.fit.layout import lay_out_planes
from ledger.fit.lots import Draws, PairMade, made
from ledger.fit.minimax import best_pose
from ledger.fit.odds import _free, odds_of, wilson
from ledger.fit.pose_choice import least_squares

BOLT = 10.0
STREAM = [-0.491891998198, 0.405096767096, 0.260059393592, 0.797637044452]


def pairs_of(a, b, joint="through", **held):
    ply = Ply((), **{"position_mm": 0.4, "shrink_mm": 0.3, **held})
    fastening = Fastening(ply, ply, BOLT, BOLT, joint)
    return [PairMade(x, y, fastening) for x, y in zip(a, b, strict=True)]


def plates(rng, n, clearance, out=0.0):
    points = [(rng.uniform(0, 200), rng.uniform(0, 150)) for _ in range(n)]
    off = [(x + rng.uniform(-out, out), y + rng.uniform(-out, out)) for x, y in points]
    return holes(points, BOLT + clearance), holes(off, BOLT + clearance)


def brute_force(lots):
    """Every lot by itself, by the exact minimax pose, without any quick test."""
    answers = []
    for row in range(len(lots.c)):
        layout = lay_out_planes(
            (lots.a[row], lots.ha), (lots.b[row], lots.hb), lots.c[row], turned_over=False
        )
        answers.append(best_pose(layout, least_squares(layout)[0]).margin >= 0 and lots.c[row].min() >= 0)
    return np.array(answers)


def quick_tests(seed):
    """Lots of which about half go together are decided as the exact pose of each decides them."""
    rng = random.Random(seed)
    a, b = plates(rng, rng.choice([1, 2, 3, 4, 4, 5, 6, 8]), rng.uniform(0.2, 0.9), out=0.3)
    pairs = pairs_of(a, b, rng.choice(["through", "tapped", "countersunk"]))
    lots = made(pairs, Draws.of(pairs, 16))
    good, known = _free(lots, Pose())
    assert known.all()
    assert (good == brute_force(lots)).all()


def larger_holes_and_thinner_coats(seed):
    """The same lots drawn: holes drawn larger, a coat left off or a thinner fastener lose none of them."""
    rng = random.Random(seed)
    a, b = plates(rng, rng.choice([2, 3, 4, 6]), rng.uniform(0.3, 0.8), out=0.2)
    joint, coat = rng.choice(["through", "tapped", "countersunk"]), rng.uniform(0.02, 0.3)
    plain = pairs_of(a, b, joint)
    coated = pairs_of(a, b, joint, coat_mm=coat, shrink_mm=0.3 + coat)
    thick = [replace(p, fastening=replace(p.fastening, largest_fastener_mm=BOLT + 0.1)) for p in plain]
    draws = Draws.of(plain, 200)

    def share(pairs, larger_mm=0.0, *, free=True):
        return odds_of(pairs, Pose(), free=free, draws=draws, larger_mm=larger_mm).together

    assert share(coated) <= share(plain) <= share(plain, rng.uniform(0.05, 0.4))
    assert share(thick) <= share(plain)
    assert share(plain, free=False) <= share(plain)


@many_cases(200)
@pytest.mark.parametrize("holds", [quick_tests, larger_holes_and_thinner_coats], ids=lambda f: f.__name__)
def test_lots_are_decided_exactly_and_more_room_loses_none(holds, seeds):
    hold(holds, seeds)


def test_a_lot_that_goes_together_by_a_hair_is_counted():
    """0.000003 mm of margin at its exact pose, none at the rough one."""
    quick_tests(892)


def test_slots_are_decided_alike_or_counted_as_undecided():
    a = (*holes([(0, 0), (100, 0)], 10.4), slot("S", 50, 60, (4, 0), 10.4))
    b = holes([(0, 0), (100.3, 0), (52, 60)], 10.4)
    pairs = pairs_of(a, b, position_mm=0.6, shrink_mm=0.2)
    lots = made(pairs, Draws.of(pairs, 16))
    good, known = _free(lots, Pose())
    assert known.any()
    exact = brute_force(lots)
    assert 0 < exact.sum() < len(exact)
    assert (good[known] == exact[known]).all()


def test_a_turned_over_ply_has_the_same_odds():
    rng = random.Random(3)
    a, b = plates(rng, 4, 0.5)
    over = tuple(Hole(h.label, tuple((x, -y) for x, y in h.core), h.diameter_mm) for h in a)
    plain = odds_of(pairs_of(a, b), Pose(), free=True)
    turned = odds_of(pairs_of(over, b), Pose(turned_over=True), free=True)
    assert abs(plain.share - turned.share) <= 4 * math.sqrt(2 * 0.25 / plain.lots)


def test_the_same_case_has_the_same_odds_and_larger_holes_never_worse_ones():
    a, b = plates(random.Random(5), 4, 0.4, out=0.1)
    pairs = pairs_of(a, b)
    draws = Draws.of(pairs, 3000)
    shares = [odds_of(pairs, Pose(), free=True, draws=draws, larger_mm=k / 10).share for k in range(6)]
    assert shares == sorted(shares)
    assert shares[0] < shares[-1]
    assert odds_of(pairs, Pose(), free=True) == odds_of(pairs, Pose(), free=True)


def test_the_stream_of_draws_is_known():
    """Kept outcomes and acknowledged odds rest on it: another stream of numbers must be noticed."""
    draws = Draws.of(pairs_of(*plates(random.Random(1), 2, 0.4)), 2)
    assert draws.size_b.ravel().tolist() == pytest.approx(STREAM, abs=1e-9)


def test_a_hole_that_comes_out_too_small_for_the_fastener_is_no_lot():
    """Even with a counterpart so large that the sum of both would do."""
    pairs = pairs_of(holes([(0, 0), (50, 0)], 10.02), holes([(0, 0), (50, 0)], 12), shrink_mm=0.3)
    assert odds_of(pairs, Pose(), free=True).share < 0.01


def test_a_coat_is_lost_in_full():
    pairs = pairs_of(
        holes([(0, 0)], 10.2), holes([(0, 0)], 10.2), position_mm=0.0, shrink_mm=0.25, coat_mm=0.25
    )
    assert odds_of(pairs, Pose(), free=True).together == 0


def test_the_lower_end_stays_below_what_was_drawn():
    assert wilson(20_000, 20_000)[0] == pytest.approx(20_000 / (20_000 + 1.959963984540054**2))
    assert percent(0.99999) == "99.99 %"


@pytest.mark.parametrize(("text", "odds"), [("99", "99"), ("99.50 %", "99.5"), ("Worst-case", "worst case")])
def test_odds_are_read_as_written(text, odds):
    assert read_odds(text) == odds


@pytest.mark.parametrize("text", ["", "100", "99.95", "12", "nan", "many", "1e1", "٩٩", "9" * 40])
def test_odds_that_make_no_sense_are_refused(text):
    with pytest.raises(BadInput, match=r"50 to 99\.9"):
        read_odds(text)


def test_every_limit_at_once_has_no_share():
    assert share_of("worst case") is None
    assert share_of("99.5") == pytest.approx(0.995)
