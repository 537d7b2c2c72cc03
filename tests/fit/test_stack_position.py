"""Stacks whose plies lie where they are stated, and stacks with several fasteners, held against independent answers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, PatternCase, Ply
from ledger.fit.layout import offset_mm
from ledger.fit.pattern import fit
from ledger.fit.stack import StackCase, StackFastening, StackFit, fit_stack

AS_DRAWN = (Pose(), Pose(), Pose())


def _holes(points: np.ndarray, diameter: float, first: int = 1) -> tuple[Hole, ...]:
    return tuple(Hole(f"H{first + n}", ((float(x), float(y)),), diameter) for n, (x, y) in enumerate(points))


def _slots(points: np.ndarray, along: np.ndarray, diameter: float) -> tuple[Hole, ...]:
    ends = [((x - u, y - v), (x + u, y + v)) for (x, y), (u, v) in zip(points, along, strict=True)]
    return tuple(
        Hole(f"H{n}", tuple((float(x), float(y)) for x, y in core), diameter)
        for n, core in enumerate(ends, 1)
    )


def _declared(holes: tuple[Hole, ...], **fields: float) -> Ply:
    return Ply(holes, declared=True, **fields)


def _independent(cores: list[tuple[Pose, Hole]], spare: float) -> float:
    """Twice what the best axis leaves, by a general solver from a few starts."""

    def left(at: np.ndarray) -> np.ndarray:
        away = [offset_mm(pose, hole.core, (tuple(at[:2]),))[0] for pose, hole in cores]
        return spare - np.array(away) - at[2]

    best, random = -np.inf, np.random.default_rng(0)
    middle = np.mean([pose.place(hole.centre) for pose, hole in cores], axis=0)
    for _ in range(6):
        start = [*(middle + random.normal(0, 0.3, 2)), -3.0]
        limits = {"type": "ineq", "fun": left}
        found = minimize(
            lambda x: -x[2], start, constraints=[limits], method="SLSQP", options={"ftol": 1e-13}
        )
        best = max(best, float(left(np.array([*found.x[:2], 0.0])).min()))
    return 2 * best


def _three(seed: int, off: float = 0.25) -> tuple[np.ndarray, list[np.ndarray], tuple[Pose, ...]]:
    random = np.random.default_rng(seed)
    base = random.uniform(-100, 100, (5, 2))
    poses = (Pose(30.0, 4.0, -3.0), Pose(-80.0, 1.0, 9.0), Pose())
    plies = [
        np.array([pose.bring((float(x), float(y))) for x, y in base + random.normal(0, off, base.shape)])
        for pose in poses
    ]
    return base, plies, poses


def _rows(
    found: StackFit, holes: list[tuple[Hole, ...]], poses: tuple[Pose, ...]
) -> list[list[tuple[Pose, Hole]]]:
    """Of every bolt its holes, each with the pose of its ply."""
    named = [{h.label: h for h in of} for of in holes]
    return [
        [(pose, of[label]) for label, of, pose in zip(row, named, poses, strict=True)] for row in found.bolts
    ]


@pytest.mark.parametrize("seed", range(6))
def test_bolts_in_round_holes_at_stated_poses_have_what_a_general_solver_finds(seed: int) -> None:
    _, plies, poses = _three(seed)
    holes = [_holes(points, 13.5) for points in plies]
    found = fit_stack(StackCase(tuple(map(_declared, holes)), 12, 12, places=(poses,)))
    rows = _rows(found, holes, poses)
    assert len(rows) == len(plies[0])
    assert found.proven
    assert found.margin_mm == pytest.approx(min(_independent(x, 0.75) for x in rows), abs=1e-6)
    assert found.poses == poses


@pytest.mark.parametrize("seed", range(6))
def test_bolts_in_slots_of_every_ply_at_stated_poses_are_proven_and_have_what_a_general_solver_finds(
    seed: int,
) -> None:
    random = np.random.default_rng(50 + seed)
    _, plies, poses = _three(seed, 0.4)
    along = [random.uniform(-4, 4, points.shape) for points in plies]
    holes = [_slots(points, way, 13.5) for points, way in zip(plies, along, strict=True)]
    found = fit_stack(StackCase(tuple(map(_declared, holes)), 12, 12, places=(poses,)))
    rows = _rows(found, holes, poses)
    assert found.proven
    assert found.margin_mm == pytest.approx(min(_independent(x, 0.75) for x in rows), abs=2e-5)


@pytest.mark.parametrize("seed", range(5))
def test_a_stack_where_it_lies_best_has_the_margin_of_the_free_one_and_less_anywhere_else(seed: int) -> None:
    _, plies, _ = _three(seed)
    case = StackCase(
        tuple(_declared(_holes(p, 13.5), position_mm=0.1, shrink_mm=0.05) for p in plies), 12, 12.1
    )
    free = fit_stack(case)
    there = fit_stack(replace(case, places=(free.poses,)))
    assert there.margin_mm == pytest.approx(free.margin_mm, abs=2e-5)
    assert there.worst_case_margin_mm == pytest.approx(free.worst_case_margin_mm, abs=2e-5)
    first, *rest = free.poses
    moved = (Pose(first.angle_deg, first.x_mm + 0.2, first.y_mm, first.turned_over), *rest)
    assert fit_stack(replace(case, places=(moved,))).margin_mm < there.margin_mm
    both = fit_stack(replace(case, places=(moved, free.poses)))
    assert both.poses == free.poses


def test_plies_that_pass_two_by_two_where_they_lie_and_not_all_at_once_name_every_bolt_in_the_way() -> None:
    corner = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 80.0]])
    out = 0.7 * np.array([[1.0, 0.0], [-0.5, 3**0.5 / 2], [-0.5, -(3**0.5) / 2]])
    plies = [corner.copy() for _ in range(3)]
    for k in range(3):
        plies[k][1:] += out[k]
    found = fit_stack(StackCase(tuple(_declared(_holes(p, 13.3)) for p in plies), 12, 12, places=(AS_DRAWN,)))
    assert all(pair.verdict == "GO" for _, pair in found.pairs)
    assert found.verdict == "NO-GO"
    assert found.margin_mm == pytest.approx(2 * (0.65 - 0.7), abs=1e-9)
    assert [blamed.holes for blamed in found.blamed] == [("H2",) * 3, ("H3",) * 3]


def test_a_bolt_out_of_place_between_two_of_the_plies_is_told_of_that_pair() -> None:
    square = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 80.0], [100.0, 80.0]])
    wrong = square + np.array([[0, 0], [2.5, 0], [0, 0], [0, 0]])
    found = fit_stack(
        StackCase(
            tuple(_declared(_holes(p, 13.5)) for p in (wrong, square, square)), 12, 12, places=(AS_DRAWN,)
        )
    )
    assert found.verdict == "NO-GO"
    assert found.margin_mm is None
    assert [[w.a for w in pair.wrong] for _, pair in found.pairs] == [["H2"], []]


@pytest.mark.parametrize("seed", range(4))
def test_a_free_stack_split_into_two_fastenings_of_one_size_has_the_margin_of_the_whole(seed: int) -> None:
    _, plies, _ = _three(seed)
    whole = fit_stack(StackCase(tuple(_declared(_holes(p, 13.5)) for p in plies), 12, 12))
    rest = StackFastening(tuple(_declared(_holes(p[3:], 13.5, 4)) for p in plies), 12, 12)
    split = fit_stack(StackCase(tuple(_declared(_holes(p[:3], 13.5)) for p in plies), 12, 12, also=(rest,)))
    assert split.proven
    assert split.margin_mm == pytest.approx(whole.margin_mm, abs=2e-5)
    assert sorted(split.bolts) == sorted(whole.bolts)


def test_a_smaller_bolt_in_smaller_holes_is_held_to_its_own_size() -> None:
    square = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 80.0], [100.0, 80.0]])
    plies = tuple(_declared(_holes(square, 13.5)) for _ in range(3))
    small = np.array([[50.0, 40.0]])
    also = StackFastening(tuple(_declared(_holes(small, 6.4, 9)) for _ in range(3)), 6, 6)
    found = fit_stack(StackCase(plies, 12, 12, also=(also,), places=(AS_DRAWN,)))
    assert found.margin_mm == pytest.approx(0.4, abs=1e-9)
    assert found.tightest == ("H9",) * 3
    assert fit_stack(StackCase(plies, 12, 12, also=(also,))).margin_mm == pytest.approx(0.4, abs=2e-5)


@pytest.mark.parametrize("joint", ["tapped", "dowel"])
def test_fasteners_that_the_last_ply_holds_are_judged_pair_by_pair_also_beside_floating_bolts(
    joint: str,
) -> None:
    _, plies, poses = _three(3, 0.1)
    bolts = tuple(_declared(_holes(p[:3], 13.5)) for p in plies)
    held = StackFastening(
        tuple(_declared(_holes(p[3:], d, 4)) for p, d in zip(plies, (7.0, 7.0, 6.0), strict=True)),
        6,
        6,
        joint,
    )
    found = fit_stack(StackCase(bolts, 12, 12, also=(held,), places=(poses,)))
    pairs = [
        fit(PatternCase(held.plies[k], held.plies[2], 6, 6, joint, position=poses[k])).margin_mm
        for k in (0, 1)
    ]
    alone = fit_stack(StackCase(bolts, 12, 12, places=(poses,))).margin_mm
    assert found.margin_mm == pytest.approx(min(alone, *pairs), abs=1e-9)
    free = fit_stack(StackCase(bolts, 12, 12, also=(held,)))
    there = fit_stack(StackCase(bolts, 12, 12, also=(held,), places=(free.poses,)))
    assert free.margin_mm == pytest.approx(there.margin_mm, abs=1e-6)
    assert free.margin_mm >= found.margin_mm - 1e-6


def test_a_hole_that_is_named_for_two_fasteners_is_refused_wherever_the_plies_lie() -> None:
    square = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 80.0]])
    plies = tuple(_declared(_holes(square, 13.5)) for _ in range(3))
    twice = StackFastening(tuple(_declared(_holes(square[:1], 13.5)) for _ in range(3)), 6, 6)
    for places in ((), (AS_DRAWN,)):
        with pytest.raises(BadInput, match="H1 of A is named for two fasteners"):
            fit_stack(StackCase(plies, 12, 12, also=(twice,), places=places))


def test_all_fasteners_held_by_the_last_ply_need_no_position() -> None:
    _, plies, _ = _three(5, 0.1)
    sizes = ((13.5, 13.5, 10.2), (7.0, 7.0, 6.0))
    first, second = (
        tuple(_declared(_holes(p[some], d, n)) for p, d in zip(plies, size, strict=True))
        for some, size, n in ((slice(0, 3), sizes[0], 1), (slice(3, 5), sizes[1], 4))
    )
    found = fit_stack(StackCase(first, 12, 12, "tapped", also=(StackFastening(second, 6, 6, "dowel"),)))
    pairs = [
        fit(
            PatternCase(
                first[k], first[2], 12, 12, "tapped", also=(Fastening(second[k], second[2], 6, 6, "dowel"),)
            )
        )
        for k in (0, 1)
    ]
    assert found.proven
    assert found.margin_mm == pytest.approx(min(f.margin_mm for f in pairs), abs=1e-9)


def test_countersunk_screws_lie_on_the_first_ply_where_it_is() -> None:
    _, plies, _ = _three(7, 0.1)
    held = tuple(_declared(_holes(p, 13.5)) for p in plies)
    free = fit_stack(StackCase(held, 12, 12, "countersunk"))
    on_last = tuple(free.poses[2].back.after(p) for p in free.poses)
    there = fit_stack(StackCase(held, 12, 12, "countersunk", places=(on_last,)))
    assert there.margin_mm == pytest.approx(free.margin_mm, abs=1e-6)
    mixed = StackFastening(tuple(_declared(_holes(p + 5, 7.0, 20)) for p in plies), 6, 6)
    with pytest.raises(BadInput, match="countersunk fasteners and others"):
        fit_stack(StackCase(held, 12, 12, "countersunk", also=(mixed,), places=(on_last,)))
