"""Holes that could take the fastener and meet nothing: on both plates no GO, on one plate a word."""

from __future__ import annotations

import math

import numpy as np
import pytest
from many_cases import hold, many_cases
from plates_of_holes import MOUNT_BASE, box, compare, holes, how_many, laid, meet, off_by, ply, spread

from ledger.domain.shape import Contour, Hole
from ledger.fit.pattern import Ply

CROOKED = [(0.0, 0.0), (100.0, 0.0), (120.0, 70.0), (15.0, 60.0), (60.0, 35.0), (90.0, 20.0)]
TAKE_UP = 1.5  # M12 in two holes of 13.5 mm


def plates(a, b, *, outlines):
    given = ({"outline": box(a)}, {"outline": box(b)}) if outlines else ({}, {})
    return ply(a, **given[0]), ply(b, **given[1])


def scene(seed, kind, apart=20.0):
    """A random plate, where its drawing lies, and whether outlines are known."""
    random = np.random.default_rng([seed, kind])
    a = spread(random, how_many(random), apart=apart)
    return random, a, random.uniform(-180, 180, 3).tolist(), bool(seed % 2)


def no_false_go(found, a, b):
    """A GO is one only where every hole of the plate with fewer does meet one of the other."""
    assert found.verdict != "GO" or meet(found.pose, a, b, TAKE_UP)
    return "GO" if found.verdict == "GO" else ""


def mirrored(seed):
    _, a, at, outlines = scene(seed, 1)
    b = laid([(-x, y) for x, y in a], *at)
    return no_false_go(compare(*plates(a, b, outlines=outlines)), a, b)


def one_moved(seed):
    """From as much as two holes take up to beyond the plate; a few holes can turn to meet it all the same."""
    random, a, at, outlines = scene(seed, 2, apart=40.0)
    k, way = int(random.integers(len(a))), random.uniform(0, 2 * math.pi)
    by = math.exp(random.uniform(math.log(2 * TAKE_UP + 0.1), math.log(100)))
    moved = list(a)
    moved[k] = (a[k][0] + by * math.cos(way), a[k][1] + by * math.sin(way))
    b = laid(moved, *at)
    outline = [{"outline": box([*p, *q])} if outlines else {} for p, q in ((a, moved), (b, laid(a, *at)))]
    return no_false_go(compare(ply(a, **outline[0]), ply(b, **outline[1])), a, b)


def one_more_on_each(seed):
    """Both plates have a hole that is to meet, and does not."""
    random, a, at, _ = scene(seed, 3)
    more = spread(random, 2, apart=30.0)
    first, second = [*a, more[0]], laid([*off_by(random, a, 0.6), more[1]], *at)
    return no_false_go(compare(first, second), first, second)


def one_missing(seed):
    """A plate may have more holes than its connection uses: GO, and the hole is named."""
    random, a, at, outlines = scene(seed, 4)
    b = laid(off_by(random, a, 0.4), *at)
    k = int(random.integers(len(a)))
    found = compare(*plates(a, b[:k] + b[k + 1 :], outlines=outlines))
    if found.verdict != "GO":
        return "refused"
    assert found.left_over == ((), ())
    assert found.unmatched_a == (f"H{k + 1}",) or meet(found.pose, a, b[:k] + b[k + 1 :], TAKE_UP)
    return ""


def sound(seed):
    """Holes off by less than they take up go together, all of them."""
    random, a, at, outlines = scene(seed, 5)
    found = compare(*plates(a, laid(off_by(random, a, TAKE_UP * 0.95), *at), outlines=outlines))
    if found.verdict != "GO":
        return "refused"
    assert len(found.pairs) == len(a)
    return ""


@many_cases(100)  # the five together are 500
@pytest.mark.parametrize("holds", [mirrored, one_moved, one_more_on_each], ids=lambda f: f.__name__)
def test_a_hole_that_meets_nothing_is_never_a_go(holds, seeds):
    hold(holds, seeds)


@many_cases(100)
@pytest.mark.parametrize("holds", [one_missing, sound], ids=lambda f: f.__name__)
def test_plates_that_go_together_are_a_go(holds, seeds):
    hold(holds, seeds, refused=0)


@pytest.mark.parametrize("far", [3.5, 6.0, 12.0, 14.9, 30.0, 60.0])
def test_one_hole_of_eight_moved_by_any_distance_is_no_go(far):
    a = [*MOUNT_BASE, (20.0, 30.0), (70.0, 10.0), (60.0, 45.0), (50.0, 0.0)]
    b = [*a[:7], (50.0, -far)]
    found = compare(a, b)
    assert found.verdict == "NO-GO"
    assert [w.a for w in found.wrong] == ["H8"] or found.left_over == (("H8",), ("H8",))


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
