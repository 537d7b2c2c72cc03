"""
What a fit concludes does not depend on how the drawings came to be: moved, turned, mirrored, swapped, in another unit.

A *scene* is two plates: sound ones, some with a hole moved, missing or added, on grids, circles and anywhere. What is
*concluded* is the verdict, how many holes pass, are wrong, are left over, and the margin.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from plates_of_holes import circle, holes, laid

from ledger.fit.pattern import PatternCase, Ply, fit

BOLT = 12.0
FEW = range(16)
MANY = pytest.mark.bench


def points_of(random):
    n, kind = int(random.integers(3, 9)), int(random.integers(4))
    if kind == 0:
        return circle(n, float(random.uniform(80, 300)))
    if kind == 1:
        at = random.choice(36, n, replace=False)
        return [(50.0 * (int(k) // 6), 50.0 * (int(k) % 6)) for k in at]
    if kind == 2:
        width, height = random.uniform(60, 200, 2).tolist()
        return [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    return [tuple(p) for p in random.uniform(0, 300, (n, 2)).tolist()]


def scene(seed, diameter=13.5):
    """The places of the holes of A and of B."""
    random = np.random.default_rng([seed, 5])
    a = points_of(random)
    b = [
        (x + u, y + v)
        for (x, y), (u, v) in zip(a, random.uniform(-0.6, 0.6, (len(a), 2)).tolist(), strict=True)
    ]
    if seed % 3 == 1:  # one hole is wrong
        far, way = math.exp(random.uniform(0, 4)), random.uniform(0, 2 * math.pi)
        b[0] = (b[0][0] + far * math.cos(way), b[0][1] + far * math.sin(way))
    more = [tuple(p) for p in random.uniform(320, 500, (int(random.integers(3)), 2)).tolist()]
    return [*a, *more] if seed % 2 else a, b if seed % 2 else [*b, *more]


def case(a, b, diameter=13.5, bolt=BOLT, **fields):
    fields.setdefault("largest_fastener_mm", bolt)
    return PatternCase(Ply(holes(a, diameter)), Ply(holes(b, diameter)), bolt, **fields)


def concluded(found, unit=1.0):
    margin = None if found.margin_mm is None else round(found.margin_mm / unit, 5) + 0.0
    left = tuple(map(len, found.left_over))
    return found.verdict, len(found.pairs), len(found.wrong), left, margin, found.rival is not None


def swapped(told):
    verdict, pairs, wrong, left, margin, rival = told
    return verdict, pairs, wrong, left[::-1], margin, rival


def near(one, other):
    return one[:4] == other[:4] and one[5] == other[5] and one[4] == pytest.approx(other[4], abs=5e-5)


def moved_and_turned(a, b, random):
    return case(
        laid(a, *random.uniform(-180, 180, 3).tolist()), laid(b, *random.uniform(-180, 180, 3).tolist())
    )


def mirrored_together(a, b, random):
    return case([(-x, y) for x, y in a], [(-x, y) for x, y in b])


def shuffled(a, b, random):
    given = case(a, b)
    sides = []
    for ply in (given.a, given.b):
        order = random.permutation(len(ply.holes))
        sides.append(
            replace(ply, holes=tuple(replace(ply.holes[k], label=f"X{n}") for n, k in enumerate(order)))
        )
    return replace(given, a=sides[0], b=sides[1])


CHANGES = [moved_and_turned, mirrored_together, shuffled]


def differ(change, seeds):
    wrong = []
    for seed in seeds:
        a, b = scene(seed)
        there = concluded(fit(case(a, b)))
        if not near(concluded(fit(change(a, b, np.random.default_rng(seed)))), there):
            wrong.append(seed)
    return wrong


def differ_swapped(seeds):
    scenes = [(seed, *scene(seed)) for seed in seeds]
    return [
        s for s, a, b in scenes if not near(swapped(concluded(fit(case(b, a)))), concluded(fit(case(a, b))))
    ]


def lost_by_larger_holes(seeds):
    """A GO that is none with larger clearance holes."""
    wrong = []
    for seed in seeds:
        a, b = scene(seed)
        row = [fit(case(a, b, diameter)).verdict == "GO" for diameter in (13.0, 13.5, 14.5, 16.0)]
        if row != sorted(row):
            wrong.append(seed)
    return wrong


@pytest.mark.parametrize("change", CHANGES, ids=lambda c: c.__name__)
def test_what_is_concluded_stays(change):
    assert differ(change, FEW) == []


def test_the_order_of_the_files_changes_nothing():
    assert differ_swapped(FEW) == []


def test_larger_clearance_holes_never_cost_a_go():
    assert lost_by_larger_holes(FEW) == []


@MANY
@pytest.mark.parametrize("change", CHANGES, ids=lambda c: c.__name__)
def test_what_is_concluded_stays_for_many(change):
    assert differ(change, range(10_000)) == []


@MANY
def test_the_order_of_many_files_changes_nothing():
    assert differ_swapped(range(10_000)) == []


@MANY
def test_larger_clearance_holes_never_cost_one_go_of_many():
    assert lost_by_larger_holes(range(3_000)) == []


def test_a_thicker_coat_or_a_wider_zone_only_takes():
    for seed in FEW:
        a, b = scene(seed)
        given = case(a, b)
        worst = []
        for coat in (0.0, 0.1, 0.3):
            found = fit(
                replace(given, a=replace(given.a, shrink_mm=coat), b=replace(given.b, position_mm=coat))
            )
            worst.append((found.verdict, found.margin_mm, found.worst_case_margin_mm))
        assert len({w[:2] for w in worst}) == 1
        if worst[0][2] is not None:
            assert [w[2] for w in worst] == sorted((w[2] for w in worst), reverse=True)


RECTANGLE = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]


@pytest.mark.parametrize("digits", [15, 9, 7])
@pytest.mark.parametrize("angle", [0.0, 33.3, 45.0, 120.7])
def test_holes_as_large_as_the_fastener_go_with_no_clearance_however_they_are_turned(digits, angle):
    turned = [tuple(round(c, digits) for c in p) for p in laid(RECTANGLE, angle, 12.3, 4.5)]
    for a, b in ((RECTANGLE, turned), (turned, RECTANGLE)):
        found = fit(case(a, b, 3.0, 3.0))
        assert (found.verdict, found.margin_mm, found.ways, found.proven) == ("GO", 0.0, 2, True)
        assert not found.wrong
        assert any("no clearance" in note for note in found.notes)


def test_what_lacks_more_than_drawings_carry_is_no_go():
    found = fit(case(RECTANGLE, [(0.0, 0.0), (100.00001, 0.0), (100.0, 60.0), (0.0, 60.0)], 3.0, 3.0))
    assert found.verdict == "NO-GO"


def test_a_hole_smaller_by_what_drawings_do_not_carry_still_takes_the_fastener():
    found = fit(case(RECTANGLE, RECTANGLE, 3.0 - 1e-7, 3.0))
    assert (found.verdict, found.margin_mm) == ("GO", 0.0)
