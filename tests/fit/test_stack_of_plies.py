"""Three and more plies on the same bolts, held against the pair fit, identities and an independent solver."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
import pytest
from plates_of_holes import MOUNT_BASE, SQUARE, compare, laid, ply, slot
from scipy.optimize import minimize

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Ply
from ledger.fit.layout import lay_out, offset_mm
from ledger.fit.minimax import best_pose
from ledger.fit.stack import StackCase, fit_stack
from ledger.fit.stack_layout import best_axes, half_rooms, lay_out_stack
from ledger.fit.stack_pose import TOLERANCE_MM, best_stack
from ledger.fit.stack_proof import Bound, Bounds, StackCertificate, proves_stack
from ledger.fit.stack_turns import first_box


def stack(*plies, bolt=12.0, **fields):
    plies = tuple(p if hasattr(p, "holes") else ply(p) for p in plies)
    return fit_stack(StackCase(plies, bolt, fields.pop("largest", bolt), **fields))


def scattered(seed, plies, bolts, off=0.25):
    random = np.random.default_rng(seed)
    base = random.uniform(-100, 100, (bolts, 2))
    cores, angles = [], []
    for k in range(plies):
        angle = random.uniform(-3, 3) if k else 0.0
        turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        places = base @ turn.T + random.normal(0, off, (bolts, 2))
        cores.append([((float(x), float(y)),) for x, y in places])
        angles.append(-angle)
    return cores, np.array(angles)


def independent_half_margin(cores, rooms, angles):
    """SLSQP on all poses and all axes at once, from several starts; true distances at the answer."""
    places = np.array([[complex(*c[0]) for c in row] for row in cores])
    homes = places.mean(axis=1, keepdims=True)
    places, (plies, bolts) = places - homes, places.shape

    def left(x):
        turns = np.exp(1j * np.concatenate([[0.0], x[: plies - 1] / 100 + angles[1:]]))
        shifts = np.concatenate([[0j], x[plies - 1 : 2 * plies - 2] + 1j * x[2 * plies - 2 : 3 * plies - 3]])
        axes = x[3 * plies - 3 : 3 * plies - 3 + bolts] + 1j * x[3 * plies - 3 + bolts : -1]
        return (rooms - np.abs(axes[None, :] - turns[:, None] * places - shifts[:, None])).ravel()

    best, random = -math.inf, np.random.default_rng(0)
    for _ in range(4):
        x0 = np.concatenate(
            [random.normal(0, 0.2, 3 * plies - 3), places[0].real, places[0].imag, [-5.0]]
        ) + np.concatenate([np.zeros(3 * plies - 3), random.normal(0, 0.1, 2 * bolts), [0.0]])
        limits = {"type": "ineq", "fun": lambda x: left(x) - x[-1]}
        found = minimize(
            lambda x: -x[-1],
            x0,
            constraints=[limits],
            method="SLSQP",
            options={"ftol": 1e-12, "maxiter": 300},
        )
        best = max(best, float(left(found.x).min()))
    return best


@pytest.mark.parametrize("seed", range(6))
def test_no_pose_of_an_independent_solver_leaves_a_stack_more(seed):
    cores, angles = scattered(seed, 3, 4 + seed % 3)
    rooms = np.full((3, len(cores[0])), 0.75)
    found = best_stack(lay_out_stack(cores, rooms), angles)
    assert found.complete
    assert found.half_margin_mm == pytest.approx(independent_half_margin(cores, rooms, angles), abs=2e-5)


@pytest.mark.parametrize("seed", range(8))
def test_a_stack_of_two_equal_plies_has_the_margin_of_the_pair(seed):
    cores, angles = scattered(seed, 2, 3 + seed)
    found = best_stack(lay_out_stack(cores, np.full((2, 3 + seed), 0.75)), angles)
    pair = lay_out(cores[1], cores[0], np.full(3 + seed, 1.5), turned_over=False)
    assert 2 * found.half_margin_mm == pytest.approx(
        best_pose(pair, angles[1]).margin * pair.reach_mm, abs=1e-5
    )


def test_plies_that_pass_two_by_two_can_fail_together_and_the_bolt_in_the_way_is_named():
    def out(k):
        x, y = 60 + 1.6 * math.cos(2 * math.pi * k / 3), 1.6 * math.sin(2 * math.pi * k / 3)
        return [(0, 0), (x, y), (60, 60), (0, 60), (0, 30), (30, 60)]

    plies = [out(0), laid(out(1), 20, 5, 5), laid(out(2), -120)]
    assert all(compare(plies[i], plies[j]).verdict == "GO" for i, j in ((0, 1), (0, 2), (1, 2)))
    found = stack(*plies)
    assert found.verdict == "NO-GO"
    assert -0.2 < found.margin_mm < 0
    assert found.proven
    assert found.blamed[0].holes == ("H2", "H2", "H2")
    assert found.blamed[0].together
    moved = [list(p) for p in plies]
    for points, (dx, dy) in zip(moved, found.blamed[0].moves_mm, strict=True):
        points[1] = (points[1][0] + dx, points[1][1] + dy)
    assert stack(*moved).verdict == "GO"


def test_equal_plies_leave_all_the_room_and_every_pose_is_told():
    turned = laid(MOUNT_BASE, 40, 10, -3)
    found = stack(MOUNT_BASE, turned, laid(MOUNT_BASE, -70, 1, 2))
    assert found.margin_mm == pytest.approx(1.5)
    for k, points in enumerate((MOUNT_BASE, turned)):
        for row in found.bolts:
            x, y = found.poses[k].place(points[int(row[k][1:]) - 1])
            ground = laid(MOUNT_BASE, -70, 1, 2)[int(row[2][1:]) - 1]
            assert (x, y) == pytest.approx(ground, abs=0.02)


def test_a_ply_that_holds_the_fasteners_makes_the_stack_the_least_of_the_pairs():
    first = [(0.3, 0), (100, 0), (100, 60), (0, 60)]
    found = stack(first, MOUNT_BASE, ply(MOUNT_BASE, 10.2), joint="tapped")
    pair = compare(ply(first), ply(MOUNT_BASE, 10.2), joint="tapped")
    assert found.margin_mm == pytest.approx(pair.margin_mm)
    assert found.proven


def test_the_worst_case_charges_each_ply_its_own():
    plies = [ply(SQUARE, position_mm=0.4, shrink_mm=0.25), ply(SQUARE), ply(SQUARE, position_mm=0.2)]
    found = stack(*plies, largest=12.1)
    assert found.margin_mm == pytest.approx(1.5)
    assert found.worst_case_margin_mm == pytest.approx(1.5 - 0.1 - 0.4 - 0.25, abs=1e-5)


def test_slots_take_up_what_round_holes_cannot():
    long = [(0.0, 0.0), (104.0, 0.0), (104.0, 60.0), (0.0, 60.0)]
    slots = ply(MOUNT_BASE)
    slots = type(slots)(tuple(slot(h.label, *h.centre, (3, 0)) for h in slots.holes))
    assert stack(MOUNT_BASE, long, MOUNT_BASE).verdict == "NO-GO"
    assert stack(slots, MOUNT_BASE, slots).verdict == "GO"


def test_a_certificate_that_is_not_sound_proves_nothing():
    cores, angles = scattered(1, 3, 4)
    layout = lay_out_stack(cores, np.full((3, 4), 0.75))
    found = best_stack(layout, angles)
    limits = {"half_margin_mm": found.half_margin_mm, "tolerance_mm": TOLERANCE_MM}
    assert proves_stack(layout, found.certificates, **limits)
    assert not proves_stack(
        layout, found.certificates, half_margin_mm=found.half_margin_mm - 0.01, tolerance_mm=1e-5
    )
    best = max(found.certificates, key=lambda c: int((c.weights > 0).sum()))
    lean = StackCertificate(best.weights, best.vectors + 0.01)
    heavy = StackCertificate(best.weights * 1.1, best.vectors)
    long = StackCertificate(best.weights / 2, best.vectors)
    for wrong in (lean, heavy, long):
        assert not proves_stack(layout, (wrong,), half_margin_mm=1e9, tolerance_mm=TOLERANCE_MM)


def test_a_bolt_that_goes_through_two_of_three_plies_still_counts():
    wide = [*MOUNT_BASE, (50.0, 30.0)]
    other = [*MOUNT_BASE, (54.0, 30.0)]
    found = stack(wide, MOUNT_BASE, other)
    assert found.verdict == "NO-GO"
    assert stack(wide, MOUNT_BASE, wide).margin_mm == pytest.approx(1.5)


@pytest.mark.parametrize("joint", ["through", "tapped"])
@pytest.mark.parametrize("places", [(), ((Pose(), Pose(), Pose()),)], ids=["free", "as drawn"])
def test_a_bolt_that_only_other_plies_than_the_last_share_counts(joint, places):
    wide, other = [*MOUNT_BASE, (50.0, 30.0)], [*MOUNT_BASE, (54.0, 30.0)]
    last = ply(MOUNT_BASE, 13.5 if joint == "through" else 10.2)
    apart = stack(wide, other, last, joint=joint, places=places)
    assert apart.verdict == "NO-GO"
    assert [b.holes for b in apart.blamed] == [("H5", "H5", None)]
    one = stack(wide, wide, last, joint=joint, places=places)
    assert one.verdict == "GO"
    assert ("H5", "H5", None) in one.bolts


def test_holes_that_no_other_ply_comes_near_are_no_bolts():
    wide, other = [*MOUNT_BASE, (50.0, 30.0)], [*MOUNT_BASE, (20.0, 30.0)]
    found = stack(wide, other, MOUNT_BASE)
    assert found.verdict == "GO"
    assert len(found.bolts) == len(MOUNT_BASE)


def drawn_stack(seed):
    """3 to 5 plies of 2 to 8 holes, a third of them with some slots and a third with slots only, off by 0.1 to 0.6."""
    random = np.random.default_rng(seed)
    plies, bolts, slots = 3 + seed % 3, 2 + seed // 3 % 7, seed // 21 % 3
    base, off = random.uniform(-120, 120, (bolts, 2)), random.choice([0.1, 0.25, 0.4, 0.6])
    made = []
    for k in range(plies):
        pose = Pose(*random.uniform(-50, 50, 3))
        long = pose.turn((3.0, 0.0) if k % 2 else (0.0, 3.0))
        points = [pose.place(tuple(p)) for p in base + random.normal(0, off, base.shape)]
        holes = [
            slot(f"H{i}", *p, long)
            if slots == 2 or (slots and (i + k) % 3 == 0)
            else Hole(f"H{i}", (p,), 13.5)
            for i, p in enumerate(points)
        ]
        made.append(Ply(tuple(holes), declared=True, position_mm=0.2, shrink_mm=0.1))
    return StackCase(tuple(made), 12.0, 12.0)


def tells_no_more_than_its_poses_show(case, found):
    """The margin at the poses told, each bolt's axis where a general solver leaves the tightest hole the most room."""
    for row in found.bolts:
        named = [
            (found.poses[k], {h.label: h for h in case.plies[k].holes}[x]) for k, x in enumerate(row) if x
        ]

        def away(at, named=named):
            return max(offset_mm(pose, hole.core, (tuple(at),))[0] for pose, hole in named)

        middle = np.mean([pose.place(hole.centre) for pose, hole in named], axis=0)
        options = {"xatol": 1e-7, "fatol": 1e-9}
        best = min(minimize(away, middle + d, method="Nelder-Mead", options=options).fun for d in (0, 0.3))
        assert 2 * (0.75 - best) >= found.margin_mm - 1e-4


@pytest.mark.parametrize("seed", [7, 12, 28, 42, 49])
def test_a_stack_that_goes_together_is_proven_by_its_poses(seed):
    case = drawn_stack(seed)
    found = fit_stack(case)
    if found.verdict == "GO":
        assert found.proven or found.worst_case_margin_mm < 0
        tells_no_more_than_its_poses_show(case, found)


@pytest.mark.parametrize("seed", range(12))
def test_no_angle_outside_the_first_box_is_one_of_a_pose_with_that_margin(seed):
    """Poses at random near one that is known: what they leave is never more than a box allows that leaves them out."""
    cores, angles = scattered(seed, 3, 2 + seed % 4)
    layout = lay_out_stack(cores, np.full((3, len(cores[0])), 0.75))
    known = best_stack(layout, angles, prove=0)
    random = np.random.default_rng(seed)
    for _ in range(60):
        turn = np.angle(known.turns) + np.array([0, *random.normal(0, 10.0 ** random.uniform(-4, -1), 2)])
        turns = np.exp(1j * turn)
        left = half_rooms(
            layout, turns, known.shifts, best_axes(layout, turns, known.shifts, known.axes)
        ).min()
        box = first_box(layout, float(left) - 1e-9)
        assert box is not None
        middle, width = (box[0] + box[1]) / 2, (box[1] - box[0]) / 2
        apart = np.abs((turn[1:] - turn[0] - middle + np.pi) % (2 * np.pi) - np.pi)
        assert (apart <= width + 1e-9).all()


@pytest.mark.bench
def test_a_free_stack_is_answered_in_about_a_second():
    took, unproven = [], 0
    for seed in range(108):
        begun = time.process_time()
        found = fit_stack(drawn_stack(seed))
        took.append(time.process_time() - begun)
        unproven += not found.proven and found.margin_mm is not None
    assert (np.median(took) < 1, max(took) < 5, unproven < 10) == (True,) * 3, (max(took), unproven)


@pytest.mark.parametrize("seed", range(6))
def test_a_bound_over_a_box_of_angles_is_never_below_what_the_certificate_allows_inside(seed):
    random = np.random.default_rng(seed)

    def wave():
        return complex(*random.normal(size=2))

    def bound(frame):
        waves = np.array([0 if k == frame else wave() for k in range(3)])
        counts = [0 if k == frame else int(random.integers(0, 3)) * (seed > 0) for k in range(3)]
        slots = tuple(tuple(wave() for _ in range(n)) for n in counts)
        return Bound(float(random.normal()), waves, slots, frame)

    def allowed(b, angles):
        w = np.exp(1j * (angles - angles[b.frame]))
        swings = sum(abs((x * s).real) for x, row in zip(w, b.slots, strict=True) for s in row)
        return b.level + float((w * b.waves).real.sum()) + swings

    bounds = [bound(int(random.integers(0, 3))) for _ in range(5)]
    together = Bounds.of(bounds)
    for _ in range(40):
        low = random.uniform(-np.pi, np.pi, 2)
        high = low + random.choice([1e-6, 0.1, 1.0, 4.0, 6.2], 2)
        inside = [np.array([0.0, *random.uniform(low, high)]) for _ in range(30)]
        each = [b.most(low, high) for b in bounds]
        for b, most in zip(bounds, each, strict=True):
            assert most >= max(allowed(b, angles) for angles in inside) - 1e-12
            if (high - low).max() < 1e-5:
                assert most == pytest.approx(allowed(b, inside[0]), abs=1e-4)
        assert together.least(low, high) == pytest.approx(min(each), abs=1e-12)


@pytest.mark.parametrize("slotted", [0, 1, 2])
def test_a_stack_with_slots_in_one_ply_is_proven(slotted):
    random = np.random.default_rng(slotted)
    plies = []
    for k in range(3):
        off = random.normal(0, 0.15, (4, 2))
        drawn = [(x + a, y + b) for (x, y), (a, b) in zip(MOUNT_BASE, off, strict=True)]
        points = laid(drawn, float(random.uniform(-180, 180)), 7.0 * k, -3.0)
        made = ply(points)
        if k == slotted:
            made = type(made)(
                (slot("H1", *points[0], (4, 0)), *made.holes[1:3], slot("H4", *points[3], (4, 0)))
            )
        plies.append(made)
    found = stack(*plies)
    assert found.verdict == "GO"
    assert found.proven
    assert found.margin_mm <= min(f.margin_mm for _, f in found.pairs) + 1e-5


def test_the_frame_of_a_certificate_is_part_of_what_makes_it_sound():
    cores, angles = scattered(1, 3, 4)
    layout = lay_out_stack(cores, np.full((3, 4), 0.75))
    found = best_stack(layout, angles)
    limits = {"half_margin_mm": found.half_margin_mm, "tolerance_mm": TOLERANCE_MM}
    assert any(c.frame for c in found.certificates)
    moved = [replace(c, frame=(c.frame + 1) % 3) for c in found.certificates]
    assert proves_stack(layout, found.certificates, **limits)
    assert not proves_stack(layout, moved, **limits)
