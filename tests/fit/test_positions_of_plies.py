"""Mixed fasteners, pins and flush sides, held against independent solvers and dense grids."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import minimize

from ledger.domain.connection import Pins, Sides
from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.position import read_also, read_position
from ledger.domain.shape import Contour, Hole
from ledger.fit.case import Fastening, PatternCase, Ply
from ledger.fit.guide import Slide, Turn
from ledger.fit.layout import offset_mm
from ledger.fit.pattern import fit
from ledger.fit.pins import by_pins
from ledger.fit.sides import flush

RING = Contour(((0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 50.0, 0.0), (0.0, 50.0, 0.0)))


def _holes(points: np.ndarray, diameter: float, first: int = 1) -> tuple[Hole, ...]:
    return tuple(Hole(f"H{first + n}", ((float(x), float(y)),), diameter) for n, (x, y) in enumerate(points))


def _placed(points: np.ndarray, pose: Pose) -> np.ndarray:
    return np.array([pose.place((x, y)) for x, y in points])


def _margin_at(case: PatternCase, pose: Pose, pairs: dict[str, str], spare: float) -> float:
    a = {h.label: h for f in case.fastenings for h in f.a.holes}
    b = {h.label: h for f in case.fastenings for h in f.b.holes}
    return min(spare - offset_mm(pose, a[i].core, b[k].core)[0] for i, k in pairs.items())


@pytest.mark.parametrize("seed", range(12))
def test_a_pattern_split_into_two_fastenings_of_one_size_has_the_margin_of_the_whole(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 200, (8, 2))
    there = _placed(points, Pose(33.0, 5.0, -7.0)) + rng.normal(0, 0.3, (8, 2))
    a, b = _holes(points, 13.5), _holes(there, 13.5)
    whole = fit(PatternCase(Ply(a, declared=True), Ply(b, declared=True), 12, 12))
    split = fit(
        PatternCase(
            Ply(a[:5], declared=True), Ply(b[:5], declared=True), 12, 12,
            also=(Fastening(Ply(a[5:], declared=True), Ply(b[5:], declared=True), 12, 12),),
        )
    )  # fmt: skip
    assert whole.verdict == split.verdict == "GO"
    assert split.proven
    assert split.margin_mm == pytest.approx(whole.margin_mm, abs=1e-9)
    assert split.worst_case_margin_mm == pytest.approx(whole.worst_case_margin_mm, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_mixed_sizes_are_never_worse_than_a_general_solver_finds_them(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    points = rng.uniform(-100, 100, (7, 2))
    there = _placed(points, Pose(-20.0, 3.0, 4.0)) + rng.normal(0, 0.15, (7, 2))
    bolts = Ply(_holes(points[:4], 13.5), declared=True, position_mm=0.2, shrink_mm=0.1)
    seats = Ply(_holes(there[:4], 13.5), declared=True, position_mm=0.2, shrink_mm=0.1)
    pins = Ply(_holes(points[4:], 7.0, 5), declared=True, position_mm=0.05)
    held = Ply(_holes(there[4:], 6.0, 5), declared=True, position_mm=0.05)
    found = fit(PatternCase(bolts, seats, 12, 12, also=(Fastening(pins, held, 6, 6, "dowel"),)))
    assert found.verdict == "GO"
    assert found.proven
    drawn = np.array([1.5] * 4 + [0.5] * 3)
    left = drawn - np.array([0.1 + 0.2] * 4 + [0.05] * 3)

    def best(room: np.ndarray) -> float:
        def spare(v: np.ndarray) -> np.ndarray:
            at = _placed(points, Pose(float(v[0]), float(v[1]), float(v[2])))
            return room - np.hypot(*(at - there).T) - v[3]

        tries = [
            minimize(lambda v: -v[3], [-20.0 + d, 3.0, 4.0, -5.0], method="SLSQP",
                     constraints={"type": "ineq", "fun": spare}, options={"ftol": 1e-13, "maxiter": 500})
            for d in (-0.2, 0.0, 0.2)
        ]  # fmt: skip
        return max(float(t.x[3] + min(0.0, spare(t.x).min())) for t in tries)

    assert found.margin_mm is not None
    assert found.worst_case_margin_mm is not None
    assert found.margin_mm >= best(drawn) - 1e-6
    assert found.worst_case_margin_mm >= best(left) - 1e-6
    assert found.worst_case_margin_mm <= found.margin_mm


def test_a_hole_takes_one_fastener_only() -> None:
    holes = _holes(np.array([[0.0, 0.0], [50.0, 0.0]]), 7.0)
    named = Ply(holes, declared=True)
    with pytest.raises(BadInput, match="H1 of A is named for two fasteners"):
        fit(PatternCase(named, named, 6, 6, also=(Fastening(named, named, 6, 6),)))


@pytest.mark.parametrize("slotted", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_along_a_guide_no_place_of_a_dense_grid_is_better(seed: int, slotted: bool) -> None:
    rng = np.random.default_rng(seed)
    points = rng.uniform(20, 120, (5, 2))
    guide = (
        Slide(Pose(90.0, 10.0, 5.0), (0.6, 0.8)) if seed % 2 else Turn((0.0, 0.0), (4.0, 9.0), seed % 4 == 0)
    )
    where = 12.5 if seed % 2 else 0.7
    there = _placed(points, guide.at(where)) + rng.normal(0, 0.2, (5, 2))
    a, b = _holes(points, 13.5), _holes(there, 13.5)
    if slotted:
        x, y = b[0].centre
        b = (Hole("H1", ((x - 4, y), (x + 4, y)), 13.5, "slot"), *b[1:])
    case = PatternCase(Ply(a, declared=True), Ply(b, declared=True), 12, 12, position=guide)
    found = fit(case)
    assert found.verdict == "GO"
    assert found.proven
    pairs = {p.a: p.b for p in found.pairs}
    assert pairs == {f"H{n}": f"H{n}" for n in range(1, 6)}
    step = 1e-4 if seed % 2 else 2e-6
    grid = [_margin_at(case, guide.at(where + n * step), pairs, 1.5) for n in range(-4000, 4001)]
    assert found.margin_mm is not None
    assert max(grid) <= found.margin_mm + 1e-6
    assert found.margin_mm <= max(grid) + 130 * step


def test_a_guide_finds_its_place_with_missing_and_extra_holes() -> None:
    points = np.array([[30.0, 5.0], [70.0, 12.0], [110.0, -4.0], [140.0, 20.0]])
    guide = Turn((0.0, 0.0), (0.0, 0.0))
    there = np.concatenate([_placed(points[:3], guide.at(2.2)), [[-150.0, -150.0]]])
    found = fit(PatternCase(Ply(_holes(points, 13.5)), Ply(_holes(there, 13.5)), 12, 12, position=guide))
    assert {(p.a, p.b) for p in found.pairs} == {("H1", "H1"), ("H2", "H2"), ("H3", "H3")}
    assert found.margin_mm == pytest.approx(1.5, abs=1e-9)
    assert (found.unmatched_a, found.unmatched_b) == (("H4",), ("H4",))


def test_two_pins_fix_the_place_and_one_leaves_a_turn() -> None:
    a, b = _holes(np.array([[0.0, 0.0], [80.0, 0.0]]), 6.5), _holes(np.array([[5.0, 5.0], [5.0, 85.0]]), 6.0)
    two = by_pins([Fastening(Ply(a, declared=True), Ply(b, declared=True), 6, 6, "dowel")], "no")
    assert sorted(round(p.angle_deg) for p in two if isinstance(p, Pose)) == [-90, 90]
    one = by_pins([Fastening(Ply(a[:1], declared=True), Ply(b[:1], declared=True), 6, 6, "dowel")], "either")
    assert [type(p) for p in one] == [Turn, Turn]
    with pytest.raises(BadInput, match="no holes for the pins"):
        by_pins([], "no")


@pytest.mark.parametrize(
    ("text", "place", "lands"),
    [
        ("left on left and bottom on bottom", (0.0, 0.0), (0.0, 0.0)),
        ("right on left and top on bottom", (100.0, 50.0), (0.0, 0.0)),
        ("left on bottom and top on left", (0.0, 50.0), (0.0, 0.0)),
    ],
)
def test_flush_sides_bring_the_corner_that_they_share_together(
    text: str, place: tuple[float, float], lands: tuple[float, float]
) -> None:
    sides = read_position(text)
    assert isinstance(sides, Sides)
    (pose,) = flush(sides, RING, RING, "no", ("A", "B"))
    assert isinstance(pose, Pose)
    assert pose.place(place) == pytest.approx(lands, abs=1e-9)
    middle = pose.place((50.0, 25.0))
    assert middle[0] > 0
    assert middle[1] > 0


def test_one_flush_side_leaves_a_slide_along_it() -> None:
    sides = read_position("right on top")
    assert isinstance(sides, Sides)
    (guide,) = flush(sides, RING, RING, "no", ("A", "B"))
    assert isinstance(guide, Slide)
    for by in (-30.0, 0.0, 12.0):
        assert guide.at(by).place((100.0, 20.0))[1] == pytest.approx(50.0, abs=1e-9)
    assert math.dist(guide.at(0.0).place((0.0, 0.0)), guide.at(7.0).place((0.0, 0.0))) == pytest.approx(7.0)


def test_a_round_side_is_not_flush() -> None:
    disc = Hole("", ((0.0, 0.0),), 50.0).contour()
    sides = read_position("left on left")
    assert isinstance(sides, Sides)
    with pytest.raises(BadInput, match="left side of A is not straight"):
        flush(sides, disc, RING, "no", ("A", "B"))


def test_what_holds_a_ply_is_read_or_refused_with_the_forms() -> None:
    assert read_position("pins") == Pins()
    assert read_position("10 0 90") == Pose(90.0, 10.0, 0.0)
    for bad in ("left", "left on", "left on middle", "left on left and left on right", "a on b", "10 0",
                "left on left and bottom on top and right on left"):  # fmt: skip
        with pytest.raises(BadInput):
            read_position(bad)
    also = read_also("M6 captive nut NUTS on NUTS B")
    assert (also.fastener, also.joint, also.groups) == ("M6", "captive nut", ("NUTS", "NUTS B"))
    for bad in ("M6 PINS on PINS", "M6 dowel PINS", "dowel PINS on PINS"):
        with pytest.raises(BadInput, match="M6 dowel PINS on PINS"):
            read_also(bad)
