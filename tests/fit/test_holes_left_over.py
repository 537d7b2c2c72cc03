"""Holes that could take the fastener and meet nothing: on both plates no GO, on one plate a word."""

from __future__ import annotations

import math

import numpy as np
import pytest
from plates_of_holes import MOUNT_BASE, compare, holes, laid, ply

from ledger.domain.shape import Contour, Hole
from ledger.fit.pattern import Ply

SIZES = (4, 5, 6, 8, 10, 12, 20, 40)
CROOKED = [(0.0, 0.0), (100.0, 0.0), (120.0, 70.0), (15.0, 60.0), (60.0, 35.0), (90.0, 20.0)]


def spread(random, n, size=400.0, apart=20.0):
    """So many places of holes in a square, none nearer to another than so."""
    points = []
    while len(points) < n:
        p = tuple(random.uniform(0, size, 2).tolist())
        if all(math.dist(p, q) > apart for q in points):
            points.append(p)
    return points


def box(points, edge=15.0):
    x, y = zip(*points, strict=True)
    low, high = (min(x) - edge, min(y) - edge), (max(x) + edge, max(y) + edge)
    return Contour(((*low, 0.0), (high[0], low[1], 0.0), (*high, 0.0), (low[0], high[1], 0.0)))


def plates(a, b, *, outlines):
    given = ({"outline": box(a)}, {"outline": box(b)}) if outlines else ({}, {})
    return ply(a, **given[0]), ply(b, **given[1])


def false_go_of_mirrored(cases, sizes=SIZES):
    """Random plates beside their own mirror image."""
    wrong = []
    for seed in cases:
        random = np.random.default_rng([seed, 1])
        a = spread(random, sizes[seed % len(sizes)])
        b = laid([(-x, y) for x, y in a], *random.uniform(-180, 180, 3).tolist())
        if compare(*plates(a, b, outlines=bool(seed % 2))).verdict == "GO":
            wrong.append(seed)
    return wrong


def false_go_of_one_moved(cases, sizes=SIZES):
    """One hole moved, from as much as two holes take up to beyond the plate."""
    wrong = []
    for seed in cases:
        random = np.random.default_rng([seed, 2])
        a = spread(random, sizes[seed % len(sizes)], apart=40.0)
        k, way = int(random.integers(len(a))), random.uniform(0, 2 * math.pi)
        by = math.exp(random.uniform(math.log(6.1), math.log(100)))  # twice what two pairs take up
        b = [(x, y) for x, y in a]
        b[k] = (a[k][0] + by * math.cos(way), a[k][1] + by * math.sin(way))
        outline = {"outline": box([*a, *b])} if seed % 2 else {}
        found = compare(ply(a, **outline), ply(laid(b, 30, 5, 5)))
        met = (f"H{k + 1}", f"H{k + 1}") in {
            (p.a, p.b) for p in found.pairs
        }  # a few holes can turn to meet it
        if found.verdict == "GO" and not met:
            wrong.append(seed)
    return wrong


def test_a_plate_and_its_mirror_image_are_never_a_go():
    assert false_go_of_mirrored(range(20), SIZES[:5]) == []


def test_a_hole_is_wrong_however_far_it_was_moved():
    assert false_go_of_one_moved(range(20), SIZES[:5]) == []


@pytest.mark.bench
def test_no_false_go_in_many_plates():
    assert false_go_of_mirrored(range(10_000)) == []
    assert false_go_of_one_moved(range(10_000)) == []


@pytest.mark.parametrize("far", [3.5, 6.0, 12.0, 14.9, 30.0, 60.0])
def test_one_hole_of_eight_moved_by_any_distance_is_no_go(far):
    a = [*MOUNT_BASE, (20.0, 30.0), (70.0, 10.0), (60.0, 45.0), (50.0, 0.0)]
    b = [*a[:7], (50.0, -far)]
    found = compare(a, b)
    assert found.verdict == "NO-GO"
    assert [w.a for w in found.wrong] == ["H8"] or found.left_over == (("H8",), ("H8",))


@pytest.mark.parametrize("n", SIZES)
def test_one_hole_missing_on_one_plate_is_a_go_that_names_it(n):
    a = spread(np.random.default_rng(n), n)
    found = compare(a, laid(a[1:], 20, 3, 4))
    assert (found.verdict, found.unmatched_a, found.left_over) == ("GO", ("H1",), ((), ()))


def test_holes_clear_of_the_other_plate_need_no_counterpart():
    """A lap joint: six bolts where the plates lie over each other, the rest beyond."""
    lap = CROOKED
    a, b = [*lap, (-300.0, 20.0)], [*lap, (430.0, 30.0)]
    assert compare(*plates(a, b, outlines=False)).left_over == (("H7",), ("H7",))
    short_a, short_b = (box([*lap, over]) for over in ((-300.0, 20.0), (430.0, 30.0)))
    found = compare(ply(a, outline=short_a), ply(b, outline=short_b))
    assert (found.verdict, found.unmatched_a, found.left_over) == ("GO", ("H7",), ((), ()))


def test_a_hole_that_the_other_plate_covers_in_part_still_counts():
    a, b = [*CROOKED, (-20.0, 20.0)], [*CROOKED, (60.0, 62.0)]
    found = compare(ply(a, outline=box(a)), ply(b, outline=box(b, 14.0)))
    assert found.left_over == (("H7",), ("H7",))


def test_an_outline_in_doubt_excuses_nothing():
    crossed = Contour(((0.0, 0.0, 0.0), (10.0, 10.0, 0.0), (10.0, 0.0, 0.0), (0.0, 10.0, 0.0)))
    a, b = [*CROOKED, (-300.0, 20.0)], [*CROOKED, (430.0, 30.0)]
    found = compare(ply(a, outline=crossed), ply(b, outline=crossed))
    assert found.left_over == (("H7",), ("H7",))


def test_holes_for_something_else_need_no_counterpart():
    a, b = [*CROOKED, (40.0, 20.0)], [*CROOKED, (60.0, 60.0)]
    assert compare(a, b).verdict == "NO-GO"
    found = compare(ply(a, others=frozenset({"H7"})), ply(b))
    assert (found.verdict, found.unmatched_a, found.unmatched_b) == ("GO", ("H7",), ("H7",))


def test_a_stated_position_does_not_excuse_holes_left_over():
    from ledger.domain.pose import Pose

    a, b = [*CROOKED, (40.0, 20.0)], [*CROOKED, (60.0, 60.0)]
    assert compare(a, b, position=Pose()).verdict == "NO-GO"


def test_a_small_hole_is_too_small_for_one_hole_only():
    """Two holes over one narrow slot: one of them names it, the other is left over."""
    slot = Hole("S", ((50.0, -5.0), (50.0, 25.0)), 2.0)
    a = Ply(holes([*CROOKED, (50.0, 0.0), (52.0, 20.0)]))
    b = Ply((*holes(CROOKED), slot))
    found = compare(a, b)
    assert [(w.a, w.b, w.kind) for w in found.wrong] == [("H7", "S", "too small")]
    assert found.unmatched_a == ("H8",)
    used = [x for p in (*found.pairs, *found.wrong) for x in (("a", p.a), ("b", p.b))]
    assert len(used) == len(set(used))
