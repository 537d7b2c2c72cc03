"""Play: how far a bolted plate can move, against closed forms and against random poses that keep every bolt in."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ledger.domain.pose import Pose
from ledger.fit.play import Held, play_mm

CORNERS = ((0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0))


def _held(points, take_up):
    return [Held((p,), (p,), take_up) for p in points]


def test_the_holes_themselves_move_by_the_take_up_and_no_more_than_a_polygon_adds():
    play = play_mm(_held(CORNERS, 1.0), CORNERS)
    assert 1.0 <= play <= 1.03


def test_a_point_far_from_two_bolts_moves_by_the_lever_of_their_distance():
    # two bolts 100 apart, 1 mm each across: turn 2/100; a point 500 off one of them in line: 1 + 500 * 2/100
    play = play_mm(_held(((0.0, 0.0), (100.0, 0.0)), 1.0), [(600.0, 0.0)])
    assert play == pytest.approx(11.0, rel=0.03)
    assert play >= 11.0


def test_no_random_pose_that_keeps_every_bolt_in_moves_a_point_further():
    rng = np.random.default_rng(3)
    for _ in range(15):
        n = int(rng.integers(2, 7))
        there = rng.uniform(-100, 100, (n, 2))
        take_up = rng.uniform(0.2, 2.0, n)
        off = np.array([rng.uniform(0, 0.7 * c) * np.array([math.cos(t), math.sin(t)])
                        for c, t in zip(take_up, rng.uniform(0, 6, n), strict=True)])  # fmt: skip
        here = there + off
        points = rng.uniform(-150, 150, (5, 2))
        held = [
            Held((tuple(a),), (tuple(b),), float(c)) for a, b, c in zip(here, there, take_up, strict=True)
        ]
        play = play_mm(held, [tuple(p) for p in points])
        most = 0.0
        for turn, x, y in rng.uniform(-1, 1, (4000, 3)) * np.array([1.5, 2.0, 2.0]):
            pose = Pose(float(turn), 0.0, 0.0)
            middle = here.mean(axis=0)
            shift = middle - np.array(pose.place(tuple(middle))) + (x, y)

            def moved(p, pose=pose, shift=shift):
                return np.array(pose.place(tuple(p))) + shift

            if all(np.hypot(*(moved(a) - b)) <= c for a, b, c in zip(here, there, take_up, strict=True)):
                most = max(most, *(float(np.hypot(*(moved(p) - p))) for p in points))
        assert most <= play + 1e-9


def test_one_bolt_holds_no_direction_and_a_tight_one_lets_nothing_move():
    assert play_mm(_held(((0.0, 0.0),), 1.0), CORNERS) == math.inf
    assert play_mm(_held(CORNERS, 0.0), CORNERS) == 0.0


def test_a_plate_turns_about_a_fastener_without_room_as_far_as_the_others_let_it():
    # the first is stuck, the second, 100 mm from it, has 1 mm to each side: 1000 mm out that is 10 mm
    held = [Held(((0.0, 0.0),), ((0.0, 0.0),), 0.0), Held(((100.0, 0.0),), ((100.0, 0.0),), 1.0)]
    assert play_mm(held, [(1000.0, 0.0)]) == pytest.approx(10.0, rel=0.03)
    assert play_mm(held, [(1000.0, 0.0)]) >= 10.0
    at_its_edge = [Held(((0.5, 0.0),), ((0.0, 0.0),), 0.5), *held[1:]]
    assert play_mm(at_its_edge, [(1000.0, 0.0)]) >= 10.0
    assert play_mm(_held(((0.0, 0.0),), 0.0), CORNERS) == math.inf


def test_without_room_nothing_moves_and_a_hair_of_it_moves_a_plate_by_its_lever():
    points = [(1000.0, 0.0)]
    tight = play_mm(_held(((0.0, 0.0), (100.0, 0.0)), 0.0), points)
    hair = play_mm(_held(((0.0, 0.0), (100.0, 0.0)), 1e-3), points)
    assert tight == 0
    assert hair == pytest.approx(1e-3 * 19, rel=0.03)


@pytest.mark.parametrize("turned_over", [False, True])
@pytest.mark.parametrize("other", [False, True])
def test_poses_follow_and_undo_each_other(turned_over, other):
    one, two = Pose(33.0, 4.0, -7.0, turned_over), Pose(-121.0, 11.0, 2.0, other)
    for p in CORNERS:
        assert one.after(two).place(p) == pytest.approx(one.place(two.place(p)), abs=1e-9)
        assert one.back.place(one.place(p)) == pytest.approx(p, abs=1e-9)
