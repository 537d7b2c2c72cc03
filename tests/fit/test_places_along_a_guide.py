"""Plies that one side or one pin holds, against rails that are made to go and against a fine search."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import permutations

import numpy as np
import pytest
from many_cases import hold, many_cases

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import PatternCase, Ply
from ledger.fit.guide import Slide, Turn
from ledger.fit.pattern import fit

ZOOMS = 7  # each 30 times as fine
TAKE_UP = 0.2  # M6 through 6.4 mm holes into tapped ones
FLUSH = Slide(Pose(), (1.0, 0.0))


def _hole(n, ends, diameter):
    return Hole(f"H{n + 1}", tuple((float(x), float(y)) for x, y in ends), diameter)


def _apart(p, q):
    """The distance between two segments (places x 2 ends, complex), from ends to lines unless they cross."""

    def to(z, ends):
        along = ends[:, 1] - ends[:, 0]
        square = np.abs(along) ** 2
        share = np.clip(((z - ends[:, 0]) * along.conj()).real / np.where(square > 0, square, 1), 0, 1)
        return np.abs(z - ends[:, 0] - share * along)

    def left(z, ends):
        return ((z - ends[:, 0]) * (ends[:, 1] - ends[:, 0]).conj()).imag

    least = np.min([to(p[:, 0], q), to(p[:, 1], q), to(q[:, 0], p), to(q[:, 1], p)], axis=0)
    crossing = (left(p[:, 0], q) * left(p[:, 1], q) < 0) & (left(q[:, 0], p) * left(q[:, 1], p) < 0)
    return np.where(crossing, 0.0, least)


def _ends(core):
    return np.array([complex(*core[0]), complex(*core[-1])])


def _margins(case, guide, pairs, where):
    """The least room of these pairs at each place."""
    where = np.atleast_1d(where)
    rooms = []
    for i, k in pairs:
        p, q = _ends(case.a.holes[i].core), np.broadcast_to(_ends(case.b.holes[k].core), (len(where), 2))
        p = p.conj() if guide.turned_over else p
        if isinstance(guide, Slide):
            turn = np.exp(1j * math.radians(guide.pose.angle_deg))
            placed = (
                turn * p + complex(guide.pose.x_mm, guide.pose.y_mm) + where[:, None] * complex(*guide.along)
            )
        else:
            about = complex(*guide.about_a)
            about = about.conjugate() if guide.turned_over else about
            placed = np.exp(1j * where)[:, None] * (p - about) + complex(*guide.about_b)
        rooms.append(TAKE_UP - _apart(placed, q))
    return np.min(rooms, axis=0)


def _best(case, guide, pairs, near, width):
    """The largest margin about a place: sampled, then ever finer beside the best samples."""
    places, step = near + np.linspace(-width, width, 201), width / 100
    margins = _margins(case, guide, pairs, places)
    best = float(margins.max())
    for n in np.argsort(-margins)[:2]:
        place, wide = places[n], step
        for _ in range(ZOOMS):
            some = place + np.linspace(-wide, wide, 61)
            rooms = _margins(case, guide, pairs, some)
            place, wide = some[rooms.argmax()], wide / 30
            best = max(best, float(rooms.max()))
    return best


@dataclass(frozen=True)
class _Rail:
    case: PatternCase
    guide: Slide | Turn
    near: float
    width: float


def _rail(rng, *, off, declared=True):
    """Eight holes over 0.2 to 3 m, some of them slots in either ply, and their counterparts at a place of the guide."""
    n, length = int(rng.integers(3, 9)), float(rng.uniform(200, 3000))
    x = np.linspace(30, length - 30, n) + (rng.uniform(-4, 4, n) if rng.random() < 0.5 else 0)
    y = 20 + (rng.uniform(-8, 8, n) if rng.random() < 0.5 else np.zeros(n))
    turned_over = bool(rng.random() < 0.3)
    if rng.random() < 0.5:
        angle = math.radians(float(rng.choice([0.0, 90.0, 33.0])))
        guide = Slide(
            Pose(float(rng.choice([0.0, 90.0, -21.0])), 5.0, -3.0, turned_over),
            (math.cos(angle), math.sin(angle)),
        )
        near, lever = float(rng.uniform(-60, 60)), 1.0
    else:
        guide = Turn((float(rng.uniform(-20, 0)), 5.0), (float(rng.uniform(-9, 9)), 7.0), turned_over)
        near, lever = float(rng.uniform(-3.1, 3.1)), length
    pose, a, b, long = guide.at(near), [], [], 0.0
    for k in range(n):
        half = [rng.uniform(2, 8) * np.exp(1j * rng.choice([0, math.pi / 2, rng.uniform(0, 3)])) if rng.random() < 0.15
                else 0j for _ in "ab"]  # fmt: skip
        long = max(long, *map(abs, half))
        at = complex(x[k], y[k])
        there = complex(*pose.place((x[k], y[k]))) + off * complex(*rng.uniform(-1, 1, 2))
        a.append(
            _hole(k, [(z.real, z.imag) for z in ((at - half[0], at + half[0]) if half[0] else (at,))], 6.4)
        )
        b.append(
            _hole(
                k,
                [(z.real, z.imag) for z in ((there - half[1], there + half[1]) if half[1] else (there,))],
                5.0,
            )
        )
    case = PatternCase(
        Ply(tuple(a), declared=declared), Ply(tuple(b), declared=declared), 6, 6, "tapped", position=guide
    )
    return _Rail(case, guide, near, (2 * long + 1.0) / lever)


def made_to_go(seed):
    """A rail that is made to go does go, with all of its holes, and no place near where it was made has more room."""
    rng = np.random.default_rng([seed, 1])
    rail = _rail(rng, off=float(rng.choice([0.0, 0.05, 0.13])))
    every = [(k, k) for k in range(len(rail.case.a.holes))]
    found = fit(rail.case)
    if found.verdict != "GO":
        return "refused"
    assert found.proven
    assert [(p.a, p.b) for p in found.pairs] == [(f"H{k + 1}", f"H{k + 1}") for k, _ in every]
    brute = _best(rail.case, rail.guide, every, rail.near, rail.width)
    assert found.margin_mm >= brute - 2e-9
    assert found.margin_mm == pytest.approx(min(p.margin_mm for p in found.pairs), abs=2e-9)
    return ""


def judged_as_it_is(seed):
    """Rails whose holes are off by about what the joint takes up: GO exactly where a place is found for all of them."""
    rng = np.random.default_rng([seed, 2])
    rail = _rail(rng, off=float(rng.uniform(0.1, 0.35)))
    every = [(k, k) for k in range(len(rail.case.a.holes))]
    brute = _best(rail.case, rail.guide, every, rail.near, rail.width)
    if abs(brute) <= 1e-6:
        return "too close"
    found = fit(rail.case)
    assert found.verdict == ("GO" if brute > 0 else "NO-GO")
    assert brute < 0 or found.margin_mm >= brute - 2e-9
    return found.verdict


@many_cases(250)  # the two together are 500: 25 ms each
def test_a_rail_that_is_made_to_go_goes_whatever_its_length(seeds):
    hold(made_to_go, seeds, refused=0)


@many_cases(250)
def test_a_rail_goes_exactly_where_a_search_finds_a_place(seeds):
    hold(judged_as_it_is, seeds)


@pytest.mark.parametrize("declared", [True, False])
def test_a_rail_of_two_metres_with_one_slot_lies_at_its_place_and_not_one_pitch_away(declared: bool) -> None:
    x = np.linspace(40, 1960, 8)
    a = [_hole(n, [(x[n], 20.0)], 6.4) for n in range(8)]
    a[3] = _hole(3, [(x[3] - 5, 20.0), (x[3] + 5, 20.0)], 6.4)
    off = [0.09, -0.09, 0.06, 0.0, -0.08, 0.09, -0.09, 0.07]
    b = tuple(_hole(n, [(x[n] + off[n], 20.0 + off[-n])], 5.0) for n in range(8))
    found = fit(
        PatternCase(
            Ply(tuple(a), declared=declared), Ply(b, declared=declared), 6, 6, "tapped", position=FLUSH
        )
    )
    assert (found.verdict, found.proven, len(found.pairs)) == ("GO", True, 8)
    assert found.pose is not None
    assert abs(found.pose.x_mm) < 0.2


@pytest.mark.parametrize("seed", range(12))
def test_of_holes_that_have_a_choice_the_roomiest_pairing_is_reported_and_proven(seed: int) -> None:
    rng = np.random.default_rng(seed)
    three = [complex(40 * n, 0) for n in range(3)]
    a = tuple(
        _hole(n, [(z.real - 60, rng.uniform(-0.1, 0.1)), (z.real + 60, 0.0)], 6.4)
        for n, z in enumerate(three)
    )
    b = tuple(
        _hole(n, [(z.real + rng.uniform(-9, 9), rng.uniform(-0.12, 0.12))], 5.0) for n, z in enumerate(three)
    )
    case = PatternCase(Ply(a, declared=True), Ply(b, declared=True), 6, 6, "tapped", position=FLUSH)
    found = fit(case)
    best = max(_best(case, FLUSH, list(enumerate(order)), 0.0, 200.0) for order in permutations(range(3)))
    assert found.verdict == "GO"
    assert found.proven
    assert found.margin_mm == pytest.approx(best, abs=1e-6)
    assert found.margin_mm >= best - 2e-9
    assert found.margin_mm == pytest.approx(min(p.margin_mm for p in found.pairs), abs=2e-9)
