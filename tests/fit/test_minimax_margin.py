"""The margin over all poses, against independent solutions and where patterns degenerate."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from ledger.fit.layout import gaps, lay_out, offset_mm
from ledger.fit.minimax import best_pose, margin_at
from ledger.fit.pose_choice import least_squares, settle
from ledger.fit.shift import best_shift


def cores(points):
    return [((z.real, z.imag),) for z in map(complex, points)]


def slotted(points, halves):
    return [
        (((z - h).real, (z - h).imag), ((z + h).real, (z + h).imag)) if h else ((z.real, z.imag),)
        for z, h in zip(points, halves, strict=True)
    ]


def scatter(random, n, size):
    return random.uniform(-size, size, n) + 1j * random.uniform(-size, size, n)


def solved(a, b, c, **fields):
    layout = lay_out(a, b, np.asarray(c, float), turned_over=False)
    return layout, best_pose(layout, **fields)


def margin_by_scanning(a, b, c, steps=720):
    """Independent and slow: scan the angle, at each the shift by nested line searches, then close in on the best."""
    a, b = a - a.mean(), b - b.mean()
    size = max(np.abs(a).max(), np.abs(b).max(), 1e-9)

    def at(angle):
        v = cmath.rect(1, angle) * a - b

        def over_y(x):
            found = minimize_scalar(
                lambda y: float((np.abs(v + x + 1j * y) - c).max()),
                bounds=(-size, size), method="bounded", options={"xatol": 1e-10 * size},
            )  # fmt: skip
            return found.fun

        return minimize_scalar(
            over_y, bounds=(-size, size), method="bounded", options={"xatol": 1e-9 * size}
        ).fun

    angles = np.linspace(-math.pi, math.pi, steps, endpoint=False)
    upper = [float((np.abs(cmath.rect(1, t) * a - b) - c).max()) for t in angles]
    best = math.inf
    for k in np.argsort(upper)[:4]:
        step = 2 * math.pi / steps
        low, high = angles[k] - step, angles[k] + step
        best = min(
            best, minimize_scalar(at, bounds=(low, high), method="bounded", options={"xatol": 1e-9}).fun
        )
    return -best


@pytest.mark.parametrize("seed", range(4))
def test_no_pose_found_by_scanning_is_better(seed):
    random = np.random.default_rng(seed)
    n = int(random.integers(3, 7))
    a = scatter(random, n, 150)
    b = a * cmath.rect(1, random.uniform(-3, 3)) + scatter(random, n, 2)
    c = random.choice([0.5, 1.0, 2.0], n)
    layout, best = solved(cores(a), cores(b), c)
    scanned = margin_by_scanning(a, b, c)
    assert best.margin * layout.reach_mm >= scanned - 1e-9
    assert best.margin * layout.reach_mm == pytest.approx(scanned, abs=1e-3)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("n", [2, 3, 5, 9, 40])
def test_no_sampled_pose_beats_the_margin_and_the_ceiling_meets_it(n, seed):
    random = np.random.default_rng(100 * n + seed)
    a = scatter(random, n, 200)
    b = a * cmath.rect(1, 2.0) + scatter(random, n, float(random.choice([0.2, 3.0])))
    layout, best = solved(cores(a), cores(b), random.choice([0.3, 1.0, 1.5], n))
    assert best.margin <= best.ceiling <= best.margin + layout.tolerance
    assert margin_at(layout, best.angle, best.shift) == best.margin
    for spread in (1e-5, 1e-3, 1e-1):
        for _ in range(40):
            pose = best.angle + spread * random.normal(), best.shift + spread * scatter(random, 1, 1.0)[0]
            assert margin_at(layout, *pose) <= best.margin + layout.tolerance


@pytest.mark.parametrize("scale", [1e-4, 1.0, 1e4])
def test_a_huge_and_a_tiny_pattern_are_solved_alike(scale):
    random = np.random.default_rng(5)
    a = scatter(random, 6, 100)
    b = a * cmath.rect(1, 0.4) + scatter(random, 6, 0.5)
    plain, one = solved(cores(a), cores(b), np.full(6, 1.5))
    scaled, other = solved(cores(a * scale), cores(b * scale), np.full(6, 1.5 * scale))
    assert other.margin * scaled.reach_mm / scale == pytest.approx(one.margin * plain.reach_mm, abs=2e-5)


@pytest.mark.parametrize("far", [0.0, 1e5])
def test_a_pattern_far_from_its_origin_has_the_same_margin(far):
    a = np.array([0, 100, 100 + 60j, 60j], dtype=complex)
    b = np.array([0, 101, 100 + 60j, 60j], dtype=complex)
    layout, best = solved(cores(a + far), cores(b - 1j * far), np.full(4, 1.5))
    assert best.margin * layout.reach_mm == pytest.approx(1.0, abs=1e-8)


def test_collinear_holes_are_solved():
    a = np.array([0, 50, 100], dtype=complex)
    layout, best = solved(cores(a), cores(np.array([0, 50, 101], dtype=complex)), [1.5, 1.5, 1.5])
    assert best.margin * layout.reach_mm == pytest.approx(1.0, abs=1e-9)


def test_coincident_holes_are_solved():
    a = np.array([0, 0, 80], dtype=complex)
    layout, best = solved(cores(a), cores(np.array([0, 1, 80], dtype=complex)), [1.0, 1.0, 1.0])
    assert best.margin * layout.reach_mm == pytest.approx(0.5, abs=1e-9)


def test_holes_all_in_one_place_leave_the_margin_of_the_least_take_up():
    layout, best = solved(cores([3 + 4j] * 3), cores([9 + 9j] * 3), [1.0, 0.5, 2.0])
    assert best.margin * layout.reach_mm == pytest.approx(0.5, abs=1e-12)
    assert best.ceiling == best.margin


def test_equal_margins_everywhere_give_the_exact_pose_without_noise():
    a = np.array([0, 100, 100 + 60j, 60j], dtype=complex)
    layout, best = solved(cores(a), cores(a), np.full(4, 1.5))
    angle, shift = settle(layout, best)
    assert abs(angle) < 1e-15
    assert abs(shift) < 1e-15


def test_of_several_local_optima_the_global_one_is_taken():
    """A triangle on its own mirror image: each turn that brings one corner home is a local optimum."""
    a = np.array([0, 100, 35 + 60j], dtype=complex)
    b = a.conj()
    layout = lay_out(cores(a), cores(b), np.zeros(3), turned_over=False)
    angles = np.linspace(-math.pi, math.pi, 1440, endpoint=False)
    margins = np.array([margin_at(layout, t, best_shift(layout, t)) for t in angles])
    peaks = (margins > np.roll(margins, 1)) & (margins > np.roll(margins, -1))
    assert peaks.sum() >= 2
    poorest = angles[peaks][margins[peaks].argmin()]
    best = best_pose(layout, float(poorest))
    assert margins.max() - 1e-12 <= best.margin <= margins.max() + 0.01
    assert best.ceiling <= best.margin + layout.tolerance


@pytest.mark.parametrize(
    ("c", "length", "margin"), [((1.5, 1.5), 101, 1.0), ((0.2, 1.5), 100.5, 0.2), ((1, 2), 104, -0.5)]
)
def test_two_holes_have_the_margin_of_their_closed_form(c, length, margin):
    assert margin == pytest.approx(min(*c, (sum(c) - abs(length - 100)) / 2))
    layout, best = solved(cores([0j, 100 + 0j]), cores([5j, 5j + length * cmath.rect(1, 1)]), c)
    assert best.margin * layout.reach_mm == pytest.approx(margin, abs=1e-9)


@pytest.mark.parametrize("seed", range(25))
def test_slots_are_solved_and_no_sampled_pose_is_better(seed):
    random = np.random.default_rng(seed)
    n = int(random.integers(2, 9))
    a = scatter(random, n, 150)
    b = a * cmath.rect(1, 1.0) + scatter(random, n, float(random.choice([0.3, 3.0])))
    ha, hb = (np.where(random.random(n) < 0.4, 5 * np.exp(1j * random.uniform(0, 6, n)), 0) for _ in range(2))
    layout, best = solved(slotted(a, ha), slotted(b, hb), random.choice([0.5, 1.5], n), start=1.0)
    assert best.ceiling <= best.margin + layout.tolerance
    for spread in (1e-4, 1e-2):
        for _ in range(60):
            pose = best.angle + spread * random.normal(), best.shift + spread * scatter(random, 1, 1.0)[0]
            assert margin_at(layout, *pose) <= best.margin + layout.tolerance


def test_bounds_that_turn_with_the_slots_of_a_need_few_angles():
    a = np.array([0, 100, 100 + 60j, 60j], dtype=complex)
    b = np.array([2, 104, 104 + 60j, 2 + 60.5j], dtype=complex)
    layout, best = solved(slotted(a, np.full(4, 5 + 0j)), cores(b), np.full(4, 1.5))
    assert best.ceiling <= best.margin + layout.tolerance
    assert best.evaluations < 40


def test_a_slot_along_the_error_takes_up_it_and_one_across_does_not():
    b = cores(np.array([0, 104], dtype=complex))
    along, best = solved(slotted([0j, 100 + 0j], [0, 5 + 0j]), b, [1.5, 1.5])
    assert best.margin * along.reach_mm == pytest.approx(1.5, abs=1e-6)
    across, best = solved(slotted([0j, 100 + 0j], [0, 1e-3j]), b, [1.5, 1.5])
    assert best.margin * across.reach_mm == pytest.approx(-0.5, abs=1e-4)


@pytest.mark.parametrize("seed", range(20))
def test_the_distance_between_cores_is_the_least_over_both_segments(seed):
    random = np.random.default_rng(seed)
    a, b = scatter(random, 1, 10), scatter(random, 1, 10)
    ha, hb = scatter(random, 1, 6), scatter(random, 1, 6)
    layout = lay_out(slotted(a, ha), slotted(b, hb), np.ones(1), turned_over=False)
    shift = (complex(a[0] - b[0])) / layout.reach_mm
    gap = abs(gaps(layout, 0.0, shift).gap[0]) * layout.reach_mm
    part = np.linspace(-1, 1, 601)
    sampled = np.abs((a + part[:, None] * ha) - (b + part[None, :] * hb)).min()
    assert gap <= sampled + 1e-12
    assert gap == pytest.approx(sampled, abs=0.05)


@pytest.mark.parametrize("seed", range(15))
def test_the_settled_pose_keeps_the_margin_and_has_no_larger_squares(seed):
    random = np.random.default_rng(seed)
    n = int(random.integers(3, 9))
    a = scatter(random, n, 150)
    b = a * cmath.rect(1, 0.5) + scatter(random, n, 0.4)
    layout, best = solved(cores(a), cores(b), random.choice([0.2, 1.0, 3.0], n))
    state = settle(layout, best)
    assert margin_at(layout, *state) >= best.margin - layout.tolerance / 2

    def squares(pose):
        return (np.abs(gaps(layout, *pose).gap) ** 2).sum()

    assert squares(state) <= squares((best.angle, best.shift)) + 1e-15
    assert squares(state) >= squares(least_squares(layout)) - 1e-15


RECTANGLE = np.array([0, 100, 100 + 60j, 60j], dtype=complex)
ROOMY = [
    pytest.param(
        cores(RECTANGLE),
        cores([0, 101.8, 101 + 61j, 61.5j]),
        [0.2, 3.0, 3.0, 2.5],
        0.004,
        0,
        id="one tight hole",
    ),
    pytest.param(
        slotted(RECTANGLE, np.full(4, 8 + 0j)),
        cores([1, 106, 103 + 60j, 1 + 61.6j]),
        [1.5] * 4,
        0.0,
        0.03,
        id="slots",
    ),
]


@pytest.mark.parametrize(("a", "b", "c", "turn", "slide"), ROOMY)
def test_a_pose_with_room_left_settles_at_the_same_place_from_wherever_it_was_found(a, b, c, turn, slide):
    layout, best = solved(a, b, c)

    def squares(pose):
        return float((np.abs(gaps(layout, *pose).gap) ** 2).sum())

    places, least = [], squares(settle(layout, best))
    for part in np.linspace(-1, 1, 21):
        angle = best.angle + part * turn
        other = replace(
            best,
            angle=angle,
            shift=best_shift(layout, angle, best.shift) + part * slide * cmath.rect(1, angle),
        )
        if margin_at(layout, other.angle, other.shift) >= best.margin - layout.tolerance / 8:
            assert squares((other.angle, other.shift)) >= least - 1e-12
            angle, shift = settle(layout, other)
            places.append((cmath.rect(1, angle) * layout.a + shift) * layout.reach_mm)
    assert len(places) > 2
    assert max(np.abs(p - places[0]).max() for p in places) < 2e-3


def test_offsets_of_a_pose_are_true_distances_in_mm():
    from ledger.domain.pose import Pose

    offset, move = offset_mm(Pose(90.0, 1.0, 0.0), ((10.0, 0.0),), ((1.0, 13.0),))
    assert offset == pytest.approx(3.0)
    assert move == pytest.approx((0.0, 3.0), abs=1e-12)
