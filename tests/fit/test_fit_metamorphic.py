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
from many_cases import hold, many_cases
from plates_of_holes import circle, holes, laid, off_by

from ledger.fit.pattern import PatternCase, Ply, fit

BOLT = 12.0


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


def stays(change):
    """The property that a change of the drawings leaves what is concluded."""

    def holds(seed):
        a, b = scene(seed)
        changed = fit(change(a, b, np.random.default_rng(seed)))
        assert near(concluded(changed), concluded(fit(case(a, b))))

    holds.__name__ = change.__name__
    return holds


def swapped_files(seed):
    a, b = scene(seed)
    assert near(swapped(concluded(fit(case(b, a)))), concluded(fit(case(a, b))))


def larger_holes(seed):
    """A GO stays one with larger clearance holes; the margin grows by as much."""
    a, b = scene(seed)
    small, large = (
        (13.0, 13.5) if seed % 2 else (13.5, float(np.random.default_rng(seed).choice([14.5, 16.0])))
    )
    one, other = fit(case(a, b, small)), fit(case(a, b, large))
    assert (one.verdict, other.verdict) != ("GO", "NO-GO")
    if one.verdict == "GO":
        assert other.margin_mm >= one.margin_mm + large - small - 1e-6


def thicker_coat_or_wider_zone(seed):
    """The nominal verdict and margin stay, the worst case only falls: by what both take."""
    a, b = scene(seed)
    random = np.random.default_rng([seed, 6])
    given, (coat, zone, thicker) = case(a, b), random.uniform(0, 0.5, 3).tolist()
    plain = fit(given)
    held = replace(given, a=replace(given.a, shrink_mm=coat), b=replace(given.b, position_mm=zone))
    found = fit(replace(held, largest_fastener_mm=BOLT + thicker))
    assert (found.verdict, found.margin_mm) == (plain.verdict, plain.margin_mm)
    if plain.worst_case_margin_mm is not None:
        assert found.worst_case_margin_mm <= plain.worst_case_margin_mm - coat / 2 - zone / 2 - thicker + 1e-6


CHANGES = [
    *map(stays, (moved_and_turned, mirrored_together, shuffled)),
    swapped_files, larger_holes, thicker_coat_or_wider_zone,
]  # fmt: skip


@many_cases(100)
@pytest.mark.parametrize("holds", CHANGES, ids=lambda f: f.__name__)
def test_what_is_concluded_stays_or_moves_one_way(holds, seeds):
    hold(holds, seeds)


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


ROOMS = [0.0, 1e-6, 1e-5, 1e-3]


def bare_plate(seed):
    random = np.random.default_rng([seed, 7])
    a = [tuple(p) for p in random.uniform(0, 200, (int(random.integers(2, 8)), 2)).tolist()]
    return random, a, ROOMS[seed % len(ROOMS)], random.uniform(-180, 180, 3).tolist()


def as_large_as_the_fastener(seed):
    """Holes with no room, or hardly any, go with their own drawing however that lies and is rounded: sound plates."""
    random, a, room, at = bare_plate(seed)
    digits = int(random.choice([15, 9, 7]))
    b = [tuple(round(c, digits) for c in p) for p in off_by(random, laid(a, *at), 0.9 * room)]
    sides = (a, b) if seed % 3 else (b, a)
    found = fit(case(*sides, 3.0 + room, 3.0))
    if found.verdict != "GO":
        return "refused"
    assert not found.wrong
    assert 0.0 <= found.margin_mm <= room + 1e-9
    assert len(found.pairs) == len(a)
    return ""


def lacking_more_than_drawings_carry(seed):
    """Two holes farther apart in one drawing than both joints take up: no pose lets both pass."""
    random, a, room, at = bare_plate(seed)
    i, k = random.choice(len(a), 2, replace=False)
    along = complex(a[k][0] - a[i][0], a[k][1] - a[i][1])
    by = along / abs(along) * (2 * room + 4e-6) * math.exp(random.uniform(0.1, 6)) * random.choice([-1, 1])
    b = list(a)
    b[k] = (a[k][0] + by.real, a[k][1] + by.imag)
    found = fit(case(a, laid(b, *at), 3.0 + room, 3.0))
    assert found.verdict == "NO-GO"


@many_cases(250)  # with those below 500
def test_holes_without_room_go_with_their_own_drawing(seeds):
    hold(as_large_as_the_fastener, seeds, refused=0)


@many_cases(250)
def test_two_holes_that_are_farther_apart_than_their_room_are_no_go(seeds):
    hold(lacking_more_than_drawings_carry, seeds)


def test_what_lacks_more_than_drawings_carry_is_no_go():
    found = fit(case(RECTANGLE, [(0.0, 0.0), (100.00001, 0.0), (100.0, 60.0), (0.0, 60.0)], 3.0, 3.0))
    assert found.verdict == "NO-GO"


def test_a_hole_smaller_by_what_drawings_do_not_carry_still_takes_the_fastener():
    found = fit(case(RECTANGLE, RECTANGLE, 3.0 - 1e-7, 3.0))
    assert (found.verdict, found.margin_mm) == ("GO", 0.0)
