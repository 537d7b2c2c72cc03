"""Poses solved side by side are those that each problem has by itself, proofs included."""

from __future__ import annotations

import cmath

import numpy as np
import pytest

from ledger.fit.layout import lay_out
from ledger.fit.minimax import best_pose
from ledger.fit.pose_batch import best_poses
from ledger.fit.pose_choice import least_squares
from ledger.fit.proof import proves


def cores(points):
    return [((float(z.real), float(z.imag)),) for z in points]


def problems(n, count, noise, sizes, seed=0):
    random = np.random.default_rng(seed)
    for _ in range(count):
        a = random.uniform(-150, 150, n) + 1j * random.uniform(-150, 150, n)
        b = a * cmath.rect(1, random.uniform(-3, 3)) + 40
        b = b + noise * (random.normal(size=n) + 1j * random.normal(size=n))
        yield cores(a), cores(b), random.choice(sizes, n)


@pytest.mark.parametrize("n", [2, 3, 4, 8, 40])
@pytest.mark.parametrize(
    ("noise", "sizes"), [(0.2, [1.5]), (0.2, [0.3, 1.5]), (20.0, [0.5]), (0.0, [0.5, 1.0])]
)
def test_side_by_side_each_problem_has_its_own_proven_margin(n, noise, sizes):
    rows = list(problems(n, 24, noise, sizes))
    layouts = [lay_out(a, b, c, turned_over=False) for a, b, c in rows]
    for (a, b, c), layout, best in zip(rows, layouts, best_poses(layouts), strict=True):
        alone = best_pose(layout, least_squares(layout)[0])
        assert best.margin == pytest.approx(alone.margin, abs=layout.tolerance)
        assert best.ceiling <= best.margin + layout.tolerance
        assert proves(
            a, b, list(c), best.certificates, turned_over=False,
            margin_mm=best.margin * layout.reach_mm, tolerance_mm=layout.tolerance * layout.reach_mm,
        )  # fmt: skip


def test_layouts_of_several_sizes_and_with_slots_keep_their_places():
    round_ones = [
        lay_out(a, b, c, turned_over=False) for n in (3, 5) for a, b, c in problems(n, 6, 0.3, [1.0])
    ]
    slot = [((0.0, 0.0), (4.0, 0.0)), ((50.0, 0.0),), ((50.0, 30.0),)]
    slotted = lay_out(slot, cores(np.array([3, 50.3, 50 + 30j])), np.full(3, 0.5), turned_over=False)
    mixed = [round_ones[0], slotted, *round_ones[1:]]
    margins = [best.margin for best in best_poses(mixed)]
    assert margins == pytest.approx([best_pose(x, least_squares(x)[0]).margin for x in mixed], abs=1e-10)


def test_degenerate_problems_beside_sound_ones_harm_neither():
    sound = list(problems(3, 8, 0.3, [1.0]))
    one_place = (cores(np.full(3, 5 + 5j)), cores(np.array([0, 1, 1j])), np.ones(3))
    line = (cores(np.array([0, 50, 120 + 0j])), cores(np.array([0.2j, 50.4, 119.5 + 0.1j])), np.full(3, 1.5))
    rows = [sound[0], one_place, *sound[1:4], line, *sound[4:], one_place]
    layouts = [lay_out(a, b, np.asarray(c, float), turned_over=False) for a, b, c in rows]
    for layout, best in zip(layouts, best_poses(layouts), strict=True):
        assert best.margin == pytest.approx(best_pose(layout).margin, abs=layout.tolerance)
        assert best.ceiling <= best.margin + layout.tolerance
