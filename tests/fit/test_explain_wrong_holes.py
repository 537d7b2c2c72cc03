"""The smallest sets of wrong holes: all of them, and none smaller."""

from __future__ import annotations

import cmath
import itertools

import numpy as np
import pytest
from plates_of_holes import MOUNT_BASE, compare, laid, ply

from ledger.fit.explain import passes, smallest_wrong
from ledger.fit.layout import lay_out
from ledger.fit.minimax import best_pose
from ledger.fit.pose_choice import least_squares


def by_trying_every_subset(layout):
    n = len(layout.c)
    for size in range(n):
        good = []
        for out in itertools.combinations(range(n), size):
            part = layout.only([k for k in range(n) if k not in out])
            if best_pose(part, least_squares(part)[0]).margin >= -layout.tolerance / 2:
                good.append(out)
        if good:
            return tuple(good)
    raise AssertionError("one pair always passes")


@pytest.mark.parametrize("seed", range(25))
def test_the_smallest_sets_are_those_found_by_trying_every_subset(seed):
    random = np.random.default_rng(seed)
    n = int(random.integers(3, 8))
    a = random.uniform(-80, 80, n) + 1j * random.uniform(-80, 80, n)
    out = np.where(random.random(n) < 0.4, random.choice([2, 4, 7], n), 0.3)
    b = a * cmath.rect(1, 1.0) + out * np.exp(1j * random.uniform(0, 6, n))
    cores = [[((z.real, z.imag),) for z in p] for p in (a, b)]
    layout = lay_out(*cores, np.full(n, 1.0), turned_over=False)
    found = smallest_wrong(layout, n)
    assert found.proven
    assert found.sets == by_trying_every_subset(layout)


def test_a_core_of_pairs_that_cannot_all_pass_is_named_and_none_when_they_can():
    a = [((x, y),) for x, y in MOUNT_BASE]
    b = [((x, y),) for x, y in [(0, 0), (104, 0), (100, 60), (0, 60)]]
    layout = lay_out(a, b, np.full(4, 1.5), turned_over=False)
    assert 1 in passes(layout, [0, 1, 2, 3])
    assert passes(layout, [0, 2, 3]) == ()


def test_more_wrong_holes_than_asked_for_are_not_looked_for():
    a = [((float(x), 0.0),) for x in (0, 50, 100, 150)]
    b = [((float(x), 0.0),) for x in (0, 57, 120, 190)]
    layout = lay_out(a, b, np.full(4, 1.0), turned_over=False)
    assert smallest_wrong(layout, 1) is None
    assert len(smallest_wrong(layout, 3).sets[0]) == 3


def test_two_ends_that_could_each_be_wrong_are_told_as_either_or():
    wide = [(0.0, 0.0), (104.0, 0.0), (104.0, 60.0), (0.0, 60.0)]
    found = compare(ply(MOUNT_BASE), ply(wide))
    assert found.verdict == "NO-GO"
    told = [{w.a for w in found.wrong}, *({w.a for w in other} for other in found.also_wrong)]
    assert sorted(map(sorted, told)) == [["H1", "H4"], ["H2", "H3"]]
    assert all(w.offset_mm == pytest.approx(4.0) for other in found.also_wrong for w in other)


def test_moving_the_wrong_hole_as_told_makes_the_plates_go_together():
    a = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0), (40.0, 25.0)]
    b = laid([*a[:3], (3.0, 66.0), a[4]], 37, 12, -5, turned_over=True)
    found = compare(ply(a), ply(b), turned_over="yes")
    assert [(w.a, w.b) for w in found.wrong] == [("H4", "H4")]
    (wrong,) = found.wrong
    moved_a = [*a[:3], (a[3][0] + wrong.move_a_mm[0], a[3][1] + wrong.move_a_mm[1]), a[4]]
    moved_b = [*b[:3], (b[3][0] + wrong.move_b_mm[0], b[3][1] + wrong.move_b_mm[1]), b[4]]
    assert compare(ply(moved_a), ply(b), turned_over="yes").margin_mm == pytest.approx(1.5, abs=1e-6)
    assert compare(ply(a), ply(moved_b), turned_over="yes").margin_mm == pytest.approx(1.5, abs=1e-6)
    assert compare(ply(moved_a), ply(moved_b), turned_over="yes").verdict == "NO-GO"


def test_the_margin_of_a_no_go_is_the_best_that_all_holes_together_can_have():
    found = compare(ply(MOUNT_BASE), ply([(0, 0), (104, 0), (100, 60), (0, 60)]))
    assert found.margin_mm == pytest.approx(-0.5, abs=1e-9)
    assert found.wrong[0].offset_mm == pytest.approx(4.0)
    assert {p.a for p in found.pairs} == {"H1", "H3", "H4"}
    assert found.proven
