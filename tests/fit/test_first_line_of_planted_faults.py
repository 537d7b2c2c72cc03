"""One fault is planted in a drawing that went together: the first words are about that fault, in either plate."""

from __future__ import annotations

import math
import random

import pytest
from plates_of_holes import MOUNT_BASE, circle, laid, ply

from ledger.fit.case import PatternCase
from ledger.fit.fault import likely_fault
from ledger.fit.pattern import fit

BOLT, HOLE = 12.0, 13.5
SEEDS = range(5)


def scattered(rng, n, least_mm=40.0):
    """Holes without any symmetry, so far apart."""
    points = []
    while len(points) < n:
        new = (rng.uniform(0, 400), rng.uniform(0, 300))
        if all(math.dist(new, p) >= least_mm for p in points):
            points.append(new)
    return points


def grid(nx, ny, px, py):
    return [(px * i, py * k) for i in range(nx) for k in range(ny)]


def elsewhere(rng, points):
    """The same drawing with another origin and turn, its holes in another order."""
    return rng.sample(
        laid(points, rng.uniform(0, 360), rng.uniform(-500, 500), rng.uniform(-500, 500)), len(points)
    )


def case(a, b, size_a=HOLE, size_b=HOLE, **fields):
    return PatternCase(ply(a, size_a), ply(b, size_b), BOLT, BOLT, **fields)


def either_first(rng, a, b):
    """The drawing at fault may be the one that is laid on or the other one."""
    return (a, b) if rng.random() < 0.5 else (b, a)


def fault_of(given):
    found = fit(given)
    assert found.verdict != "GO"
    return likely_fault(given, found, ("ARM", "BASE"))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("n", [4, 7])
def test_a_mirrored_drawing_is_told_as_one(seed, n):
    rng = random.Random(seed)
    points = scattered(rng, n)
    told = fault_of(case(*either_first(rng, points, elsewhere(rng, [(-x, y) for x, y in points]))))
    assert told.kind == "mirrored"
    assert f"all {n} holes agree with ARM turned over" in told.text


@pytest.mark.parametrize("out_mm", [4.0, 8.0, 12.0, 30.0, 90.0, 200.0])
@pytest.mark.parametrize("points", [MOUNT_BASE, None], ids=["rectangle", "scattered"])
def test_a_moved_hole_is_told_with_how_far_it_is_off_at_any_distance(out_mm, points):
    rng = random.Random(int(out_mm))
    points = points or scattered(rng, 6)
    way = rng.uniform(0, 2 * math.pi)
    moved = [(points[0][0] + out_mm * math.cos(way), points[0][1] + out_mm * math.sin(way)), *points[1:]]
    told = fault_of(case(points, laid(moved, rng.uniform(-80, 80), 30, -700)))
    assert told.kind == "moved"
    assert told.labels == (("H1",), ("H1",))
    assert (
        f"H1 of BASE is {out_mm:.2f} mm off H1 of ARM; the other {len(points) - 1} holes agree" in told.text
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_a_moved_hole_goes_together_or_is_named(seed):
    """1 to 200 mm: what the joint takes up is a GO, and nothing between is told as anything else."""
    rng = random.Random(seed)
    for _ in range(3):
        points, out_mm, way = scattered(rng, 5), math.exp(rng.uniform(0, math.log(200))), rng.uniform(0, 6.28)
        moved = [
            *points[:-1],
            (points[-1][0] + out_mm * math.cos(way), points[-1][1] + out_mm * math.sin(way)),
        ]
        given = case(points, moved)
        found = fit(given)
        told = likely_fault(given, found, ("ARM", "BASE"))
        assert (told is None) == (found.verdict == "GO")
        assert told is None or (told.kind == "moved" and f"{out_mm:.2f} mm off" in told.text)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_hole_more_on_one_plate_is_told_with_its_label(seed):
    rng = random.Random(seed)
    points = scattered(rng, 6)
    given = PatternCase(ply(points[:5], declared=True), ply(points, declared=True), BOLT, BOLT)
    told = fault_of(given)
    assert told.kind == "more"
    assert told.text.startswith("BASE has 1 extra hole: H6")


@pytest.mark.parametrize("n", [5, 6, 8])
@pytest.mark.parametrize("share", [0.9, 0.97, 1.08])
def test_a_bolt_circle_of_another_size_is_told_with_both_diameters(n, share):
    rng = random.Random(n)
    told = fault_of(case(circle(n, 300.0), elsewhere(rng, circle(n, 300.0 * share))))
    assert told.kind == "circle"
    assert told.text.startswith(f"bolt circle of ARM is 300.00 mm, of BASE {300 * share:.2f} mm")


@pytest.mark.parametrize(("one", "other"), [(5, 6), (6, 8), (8, 12)])
def test_another_count_on_a_bolt_circle_is_told_with_both(one, other):
    told = fault_of(case(circle(one, 200.0), circle(other, 200.0)))
    assert told.kind in {"count", "more"}
    assert f"{one} holes on its bolt circle" in told.text or f"{other - one} extra holes" in told.text


@pytest.mark.parametrize("shape", [(4, 2), (5, 3), (6, 1), (2, 2), (3, 3)])
@pytest.mark.parametrize(("pitch", "other"), [(28.0, 31.0), (60.0, 57.0)])
def test_another_pitch_is_told_with_both(shape, pitch, other):
    rng = random.Random(shape[0])
    right, wrong = grid(*shape, pitch, 44.0), grid(*shape, other, 44.0)
    told = fault_of(case(right, elsewhere(rng, wrong), size_a=12.5, size_b=12.5))
    assert told.kind == "pitch"
    assert told.text.startswith(f"hole pitch of ARM is {pitch:.2f} mm, of BASE {other:.2f} mm")


@pytest.mark.parametrize("size", [9.0, 11.5, 40.0])
@pytest.mark.parametrize("side", ["a", "b"])
def test_holes_of_a_wrong_size_are_told_with_it(size, side):
    points = scattered(random.Random(1), 5)
    told = fault_of(case(points, points, **{f"size_{side}": size}))
    assert told.kind == "size"
    assert told.text.startswith(f"all 5 holes of {'ARM' if side == 'a' else 'BASE'} are {size:.2f} mm")


@pytest.mark.parametrize("factor", [25.4, 1 / 25.4])
@pytest.mark.parametrize("side", ["a", "b"])
def test_a_unit_taken_for_the_other_is_told_with_the_drawing(factor, side):
    points = scattered(random.Random(2), 6)
    odd = [(x * factor, y * factor) for x, y in points]
    plates = {"a": (odd, points), "b": (points, odd)}[side]
    told = fault_of(case(*plates, **{f"size_{side}": HOLE * factor}))
    assert told.kind == "unit"
    of, read = "ARM" if side == "a" else "BASE", "inches" if factor < 1 else "millimeters"
    assert told.text.startswith(f"{of}: its numbers look like {read}")


def test_nothing_is_named_where_nothing_single_is_wrong_or_nothing_is():
    rng = random.Random(3)
    for _ in range(5):
        given = case(scattered(rng, 6), scattered(rng, 6))
        assert likely_fault(given, fit(given), ("ARM", "BASE")) is None
    points = scattered(rng, 6)
    given = case(points, points)
    assert likely_fault(given, fit(given), ("ARM", "BASE")) is None
