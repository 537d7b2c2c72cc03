"""
The fit beside its peers, in one run on one machine: ratios and whether each goal was met, not absolute times.

Pose with proof: scipy SLSQP (centred, scaled, with its Jacobian) and clarabel's cone program (small angles, three
rounds). Pairing: a plain RANSAC on pairs of holes with a k-d tree, and rigid registration by pycpd. Gap: shapely.
Times are of the processor, so that other work on the machine counts little, and the best of a few.
What is asserted is correctness; speed is printed with the goal beside it, because a shared machine may be slow.
"""

from __future__ import annotations

import math
import os
import platform
import sys
import time
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.spatial import cKDTree

from ledger.domain.shape import Contour, Hole
from ledger.fit.layout import lay_out_many
from ledger.fit.minimax import best_pose
from ledger.fit.overlap import Region, flat_ring
from ledger.fit.pattern import PatternCase, Ply, fit
from ledger.fit.pose_batch import best_poses
from ledger.fit.pose_choice import least_squares

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]
TAKE_UP_MM = 1.5


def told(capsys, text):
    with capsys.disabled():
        print("\n" + text, end="")  # noqa: T201 - what a bench is for


@pytest.fixture(autouse=True, scope="module")
def the_machine():
    yield
    sys.__stdout__.write(
        f"\n{platform.machine()}, {os.cpu_count()} processors, Python {platform.python_version()}\n"
    )


def timed(work, repeats=1):
    best, answer = math.inf, None
    for _ in range(repeats):
        start = time.process_time()
        answer = work()
        best = min(best, time.process_time() - start)
    return best, answer


def turned(points, angle):
    c, s = math.cos(angle), math.sin(angle)
    return points @ np.array([[c, -s], [s, c]]).T


def problem(seed, n):
    random = np.random.default_rng(seed)
    a = random.uniform(-100, 100, (n, 2)) * (1 + n / 40)
    return a, turned(a, random.uniform(-3, 3)) + random.normal(0, 0.2, (n, 2)) + 50


def ours(a, b):
    (layout,) = lay_out_many([(plane(a), plane(b), np.full(len(a), TAKE_UP_MM), False)])
    found = best_pose(layout, least_squares(layout)[0])
    assert found.ceiling - found.margin <= layout.tolerance
    return found.margin * layout.reach_mm


def prepared(a, b):
    """Centred on the holes, turned by least squares; the take up is the unit of length."""
    p, q = (z[:, 0] + 1j * z[:, 1] for z in (a - a.mean(0), b - b.mean(0)))
    total = (p.conj() * q).sum()
    return total / abs(total) * p / TAKE_UP_MM, q / TAKE_UP_MM


def slsqp(a, b):
    p, q = prepared(a, b)
    reach = np.abs(p).max()

    def state(x):
        w = np.exp(1j * x[0] / reach)
        v = w * p - q + x[1] + 1j * x[2]
        return w, v, np.abs(v)

    def room(x):
        return 1 - state(x)[2] - x[3]

    def slopes(x):
        w, v, e = state(x)
        u = v / np.maximum(e, 1e-300)
        return -np.column_stack([(u.conj() * 1j * w * p).real / reach, u.real, u.imag, np.ones(len(p))])

    x0 = np.array([0, 0, 0, float(room(np.zeros(4)).min())])
    found = minimize(
        lambda x: -x[3],
        x0,
        jac=lambda _x: np.array([0, 0, 0, -1.0]),
        constraints=[{"type": "ineq", "fun": room, "jac": slopes}],
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 200},
    )
    return float((1 - state(found.x)[2]).min()) * TAKE_UP_MM


def cones(a, b):
    """Clarabel on the small-angle cone program, made again about its own answer twice."""
    clarabel = pytest.importorskip("clarabel")
    from scipy import sparse

    p, q = prepared(a, b)
    n, best = len(p), -math.inf
    for _ in range(3):
        # unknowns: turn (times reach), shift, m; cone rows: [1 - m; v] in the second-order cone
        reach = np.abs(p).max()
        rows = np.zeros((3 * n, 4))
        h = np.zeros(3 * n)
        arm = 1j * p / reach
        rows[0::3, 3], h[0::3] = 1, 1
        rows[1::3, 0], rows[1::3, 1], h[1::3] = -arm.real, -1, (p - q).real
        rows[2::3, 0], rows[2::3, 2], h[2::3] = -arm.imag, -1, (p - q).imag
        settings = clarabel.DefaultSettings()
        settings.verbose = False
        solver = clarabel.DefaultSolver(
            sparse.csc_matrix((4, 4)), np.array([0, 0, 0, -1.0]), sparse.csc_matrix(rows), h,
            [clarabel.SecondOrderConeT(3)] * n, settings,
        )  # fmt: skip
        x = np.array(solver.solve().x)
        p = np.exp(1j * x[0] / reach) * p + x[1] + 1j * x[2]
        best = max(best, float((1 - np.abs(p - q)).min()))
    return best * TAKE_UP_MM


def verdict(ratio, goal):
    return f"goal {goal}: {'met' if ratio >= goal else 'NOT met'}"


@pytest.mark.parametrize("n", [4, 8, 40, 200])
def test_exact_pose_with_proof_against_slsqp_and_cones(n, capsys):
    problems = [problem(seed, n) for seed in range(30)]
    spent = dict.fromkeys((ours, slsqp, cones), 0.0)
    worst = math.inf
    for a, b in problems:
        margins = {}
        for solver in spent:
            seconds, margins[solver] = timed(lambda solver=solver, a=a, b=b: solver(a, b), repeats=3)
            spent[solver] += seconds
        worst = min(worst, margins[ours] - max(margins[slsqp], margins[cones]))
    each = {solver.__name__: 1000 * s / len(problems) for solver, s in spent.items()}
    ratio = spent[slsqp] / spent[ours]
    told(
        capsys,
        f"pose singly, {n} pairs: ours {each['ours']:.2f} ms, SLSQP {each['slsqp']:.2f}, cones "
        f"{each['cones']:.2f}; {ratio:.1f} times as fast as SLSQP ({verdict(ratio, 3)}); "
        f"least advantage in margin {worst:.1e} mm",
    )
    assert worst >= -1e-9


def ours_together(problems):
    layouts = lay_out_many([(plane(a), plane(b), np.full(len(a), TAKE_UP_MM), False) for a, b in problems])
    found = best_poses(layouts)
    assert all(x.ceiling - x.margin <= y.tolerance for x, y in zip(found, layouts, strict=True))
    return [x.margin * y.reach_mm for x, y in zip(found, layouts, strict=True)]


def plane(points):
    return points.view(complex)[:, 0], np.zeros(len(points), dtype=complex)


@pytest.mark.parametrize("n", [4, 8, 40, 200])
def test_a_thousand_exact_poses_with_proof_side_by_side_against_slsqp_and_cones(n, capsys):
    """The others have no way to solve many at once: they take one after the other, a sample of them."""
    problems = [problem(seed, n) for seed in range(1000)]
    sample = range(0, 1000, 25)
    mine, margins = timed(lambda: ours_together(problems), repeats=3)
    others, worst = dict.fromkeys((slsqp, cones), 0.0), math.inf
    for k in sample:
        for solver in others:
            seconds, margin = timed(lambda solver=solver, k=k: solver(*problems[k]), repeats=2)
            others[solver] += seconds / len(sample)
            worst = min(worst, margins[k] - margin)
    each = {solver.__name__: 1000 * s for solver, s in others.items()}
    ratio = others[slsqp] / (mine / len(problems))
    told(
        capsys,
        f"poses, 1,000 problems of {n} pairs: ours {1000 * mine / len(problems):.3f} ms each, SLSQP "
        f"{each['slsqp']:.2f}, cones {each['cones']:.2f}; {ratio:.0f} times as fast as SLSQP "
        f"({verdict(ratio, 20)}); least advantage in margin {worst:.1e} mm",
    )
    assert worst >= -1e-9


def drilled(seed, n, *, missing=0.2, moved=0.1):
    """A plate, and another with the same pattern turned: holes missing in it, some moved by 4 to 8 mm."""
    random = np.random.default_rng(seed)
    size = 60 * math.sqrt(n)
    a: list[np.ndarray] = []
    while len(a) < n:
        p = random.uniform(0, size, 2)
        if not a or np.hypot(*(np.array(a) - p).T).min() > 20:
            a.append(p)
    kept = random.permutation(n)[: max(2, round(n * (1 - missing)))]
    b = np.array(a)[kept] + random.normal(0, 0.1, (len(kept), 2))
    out = random.choice(len(kept), round(len(kept) * moved), replace=False)
    turn = random.uniform(-3, 3, len(out))
    b[out] += random.uniform(4, 8, (len(out), 1)) * np.column_stack([np.cos(turn), np.sin(turn)])
    truth = {(int(k), place) for place, k in enumerate(kept) if place not in set(out.tolist())}
    return np.array(a), turned(b, random.uniform(-3, 3)) + 300, truth


def plate(points):
    return Ply(tuple(Hole(f"H{k}", ((float(x), float(y)),), 13.5) for k, (x, y) in enumerate(points)))


def our_pairs(a, b):
    found = fit(PatternCase(plate(a), plate(b), 12.0, 12.0))
    return {(int(p.a[1:]), int(p.b[1:])) for p in found.pairs}


def ransac(a, b, tries=4000):
    """Two holes on two holes of the same distance, at random; the pose that most holes agree with."""
    random, tree = np.random.default_rng(0), cKDTree(b)
    best: set[tuple[int, int]] = set()
    b_pairs = (
        np.array([(i, j) for i in range(len(b)) for j in range(len(b)) if i != j]) if len(b) <= 120 else None
    )
    for _ in range(tries):
        i, j = random.choice(len(a), 2, replace=False)
        if b_pairs is not None:
            lengths = np.hypot(*(b[b_pairs[:, 0]] - b[b_pairs[:, 1]]).T)
            near = np.flatnonzero(np.abs(lengths - np.hypot(*(a[i] - a[j]))) < 2 * TAKE_UP_MM)
            if not len(near):
                continue
            k, m = b_pairs[random.choice(near)]
        else:
            k, m = random.choice(len(b), 2, replace=False)
            if abs(np.hypot(*(a[i] - a[j])) - np.hypot(*(b[k] - b[m]))) > 2 * TAKE_UP_MM:
                continue
        p, q = complex(*(a[j] - a[i])), complex(*(b[m] - b[k]))
        w = q / p / abs(q / p)
        laid = turned(a - (a[i] + a[j]) / 2, math.atan2(w.imag, w.real)) + (b[k] + b[m]) / 2
        far, at = tree.query(laid)
        agree = {(x, int(at[x])) for x in np.flatnonzero(far <= TAKE_UP_MM)}
        if len(agree) > len(best):
            best = agree
    return best


def registered(a, b):
    """Coherent point drift, rigid, from one start: it finds no large rotation by itself."""
    pycpd = pytest.importorskip("pycpd")
    laid, _ = pycpd.RigidRegistration(X=b, Y=a, max_iterations=100).register()
    far, at = cKDTree(b).query(laid)
    return {(x, int(at[x])) for x in np.flatnonzero(far <= TAKE_UP_MM)}


@pytest.mark.parametrize("n", [10, 40, 120, 500, 2000])
def test_pairing_and_pose_against_ransac_and_registration(n, capsys):
    right = {"ours": 0, "RANSAC": 0, "registration": 0}
    spent = dict.fromkeys(right, 0.0)
    seeds = range(3 if n <= 500 else 1)
    for seed in seeds:
        a, b, truth = drilled(seed, n)
        for name, way in (("ours", our_pairs), ("RANSAC", ransac), ("registration", registered)):
            if name == "registration" and n > 500:
                continue
            seconds, found = timed(lambda way=way, a=a, b=b: way(a, b))
            spent[name] += seconds
            right[name] += truth <= found
    count = len(seeds)
    goal = f" (goal 0.3 s: {'met' if spent['ours'] / count < 0.3 else 'NOT met'})" if n == 500 else ""
    told(
        capsys,
        f"pairing, {n} holes: ours {spent['ours'] / count:.3f} s{goal}, right {right['ours']} of {count}; RANSAC "
        f"{spent['RANSAC'] / count:.3f} s, {right['RANSAC']}; registration {spent['registration'] / count:.3f} s, "
        f"{right['registration']}",
    )
    assert right["ours"] == count


def star(corners, radius, x, seed):
    random = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    reach = radius + 2 * np.sin(37 * turn) + random.uniform(-0.02, 0.02, corners)
    bulge = random.choice([0.0, 0.05], corners).tolist()
    return Contour(
        tuple(zip((x + reach * np.cos(turn)).tolist(), (reach * np.sin(turn)).tolist(), bulge, strict=True))
    )


def test_smallest_gap_of_two_outlines_of_10000_edges_against_shapely(capsys):
    from ledger.fit.gap import smallest_gap

    one, two = star(10_000, 300, 0, 1), star(10_000, 300, 615, 2)
    fresh = [(Region(star(10_000, 300, 0, 1)), Region(star(10_000, 300, 615, 2))) for _ in range(3)]
    firsts = []
    for k, (a, b) in enumerate(fresh):
        parts = [replace(r, outline=replace(r.outline, chord_error_mm=k * 1e-12)) for r in (a, b)]
        firsts.append(timed(lambda parts=parts: smallest_gap(*parts))[0])
    first, (a, b) = min(firsts), fresh[0]
    again, found = timed(lambda: smallest_gap(a, b), repeats=5)
    chords, distance = timed(lambda: flat_ring(one, 0.01).distance(flat_ring(two, 0.01)), repeats=3)
    p, q = flat_ring(one, 0.01), flat_ring(two, 0.01)
    alone = timed(lambda: p.distance(q), repeats=5)[0]
    told(
        capsys,
        f"gap of 10,000 edges, half of them arcs: ours {1000 * first:.1f} ms, again on the same outlines "
        f"{1000 * again:.1f}; shapely on chords {1000 * chords:.1f} ms with flattening, {1000 * alone:.1f} without. "
        f"Goal at most twice: from the outlines {first / chords:.2f} ({'met' if first <= 2 * chords else 'NOT met'}), "
        f"again {again / alone:.2f} ({'met' if again <= 2 * alone else 'NOT met'}), the first time against chords "
        f"made before {first / alone:.2f} ({'met' if first <= 2 * alone else 'NOT met'})",
    )
    assert found.distance_mm == pytest.approx(distance, abs=0.03)


def grid(n):
    side = round(math.sqrt(n))
    return np.array([(50.0 * x, 50.0 * y) for x in range(side) for y in range(side)])


@pytest.mark.parametrize(("kind", "sizes"), [("generic", (500, 1000, 2000)), ("grid", (484, 961, 1936))])
def test_pairing_grows_with_the_number_of_holes_as_it_should(kind, sizes, capsys):
    """Generic plates remeasured; grids laid on themselves, each of whose quarter turns is a way to assemble it."""
    spent = []
    for n in sizes:
        if kind == "generic":
            a, b, truth = drilled(0, n)
        else:
            a = grid(n)
            b, truth = turned(a + np.random.default_rng(0).normal(0, 0.1, a.shape), 0.4) + 70, set()
        seconds, found = timed(lambda a=a, b=b: our_pairs(a, b))
        spent.append(seconds)
        assert truth <= found
        assert len(found) >= 0.7 * len(b)
    growth = math.log(spent[-1] / spent[0]) / math.log(sizes[-1] / sizes[0])
    goal = 1.3 if kind == "generic" else 2.2
    told(
        capsys,
        f"pairing of {kind} plates of {', '.join(map(str, sizes))} holes: "
        f"{', '.join(f'{s:.2f}' for s in spent)} s; grows as the power {growth:.2f} (goal about "
        f"{'n log n' if kind == 'generic' else 'n²'}: {'met' if growth <= goal else 'NOT met'})",
    )
