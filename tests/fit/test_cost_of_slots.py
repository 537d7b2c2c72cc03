"""What a fit of slots costs is bounded, in looks and not in time, and what it prunes by is sound."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from ledger.domain.shape import Hole
from ledger.fit import minimax
from ledger.fit.effort import MOST_BESIDE, MOST_LOOKS
from ledger.fit.explain import conflicts, fewest_out
from ledger.fit.layout import lay_out
from ledger.fit.minimax import best_pose, margin_at
from ledger.fit.pattern import PatternCase, Ply, fit
from ledger.fit.pose_choice import least_squares

ONE_MORE = 200  # the search that is running when the looks are spent ends by itself


def plate(random, n, slots):
    """Holes of 9 to 13.5 mm anywhere, some of them slots."""
    made = []
    for k in range(n):
        x, y = random.uniform(0, 400), random.uniform(0, 300)
        way = cmath.rect(random.uniform(5, 30), random.uniform(0, math.pi))
        slot = random.random() < slots
        core = ((x, y), (x + way.real, y + way.imag)) if slot else ((x, y),)
        made.append(
            Hole(f"H{k + 1}", core, float(random.choice([9, 11, 13.5])), "slot" if slot else "circle")
        )
    return tuple(made)


def pairs_of(seed, n=6):
    """Cores of pairs that lie near each other, some of them too far."""
    random = np.random.default_rng(seed)
    sides = []
    a = random.uniform(-100, 100, n) + 1j * random.uniform(-100, 100, n)
    b = a * cmath.rect(1, 0.4) + random.normal(0, 3, n) + 1j * random.normal(0, 3, n)
    for middles in (a, b):
        halves = np.where(random.random(n) < 0.6, 8 * np.exp(1j * random.uniform(0, 6, n)), 0)
        sides.append(
            [
                tuple((z.real, z.imag) for z in ((m - h, m + h) if h else (m,)))
                for m, h in zip(middles, halves, strict=True)
            ]
        )
    return lay_out(*sides, np.full(n, 0.8), turned_over=False)


@pytest.mark.parametrize("seed", range(2))
def test_two_plates_with_slots_that_have_nothing_in_common_cost_so_many_looks_at_most(seed, monkeypatch):
    looks = []
    look = minimax._Search.look
    monkeypatch.setattr(minimax._Search, "look", lambda self, angle: looks.append(1) or look(self, angle))
    random = np.random.default_rng([seed, 3])
    a, b = plate(random, 24, 0.5), plate(random, 16, 0.5)
    fit(PatternCase(Ply(a), Ply(b), 8.0, 8.0))
    assert len(looks) <= MOST_LOOKS + MOST_BESIDE + ONE_MORE


@pytest.mark.parametrize("seed", range(12))
def test_two_pairs_that_conflict_never_pass_together(seed):
    layout = pairs_of(seed)
    found = conflicts(layout)
    for i, k in zip(*np.nonzero(np.triu(found)), strict=True):
        part = layout.only([int(i), int(k)])
        assert best_pose(part, least_squares(part)[0]).margin < 0


@pytest.mark.parametrize("seed", range(12))
def test_slots_across_the_line_between_them_do_not_hide_a_conflict(seed):
    """Two slots crosswise give no play along the line between them: 3 mm too far apart is a conflict."""
    random = np.random.default_rng(seed)
    far = float(random.uniform(60, 200))
    a = [((0, -8), (0, 8)), ((far, -8), (far, 8))]
    layout = lay_out(a, [((0.0, 0.0),), ((far - 3, 0.0),)], np.full(2, 0.8), turned_over=False)
    assert conflicts(layout).any()


@pytest.mark.parametrize("seed", range(20))
def test_no_set_smaller_than_the_bound_leaves_a_rest_without_conflict(seed):
    random = np.random.default_rng(seed)
    n = 9
    upper = np.triu(random.random((n, n)) < random.uniform(0.1, 0.9), 1)
    conflict = upper | upper.T
    kept = max(
        bits.bit_count()
        for bits in range(1 << n)
        if not conflict[np.ix_(*[[k for k in range(n) if bits >> k & 1]] * 2)].any()
    )
    assert fewest_out(conflict) <= n - kept


@pytest.mark.parametrize("seed", range(10))
def test_the_margin_of_slots_is_that_of_a_search_over_all_angles_fine_beside_the_best(seed):
    layout = pairs_of(seed, 5)
    best = best_pose(layout, least_squares(layout)[0])
    assert best.ceiling <= best.margin + layout.tolerance
    beside = best.angle + np.linspace(-0.02, 0.02, 41)
    for angle in (*np.linspace(-math.pi, math.pi, 91), *beside):
        shift = minimax.best_shift(layout, float(angle), best.shift)
        assert margin_at(layout, float(angle), shift) <= best.margin + layout.tolerance
