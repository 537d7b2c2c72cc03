"""How far a place can come is what the bolts let it: a shift at the bolts, a turn times the distance beyond them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ledger.assembly.arrangement import Member, arranged
from ledger.assembly.poses import best_poses
from ledger.assembly.reach import Ends, farthest
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Ply
from ledger.fit.shared_bolts import Assembled, Connected
from ledger.fit.stack_case import StackFastening

SPACING_MM = 60.0


@pytest.fixture
def made():
    """ARM on BASE by two M12 bolts 60 mm apart in holes of 12.75 mm, drawn turned."""
    base = (Hole("B1", ((0.0, 0.0),), 12.75), Hole("B2", ((SPACING_MM, 0.0),), 12.75))
    pose = Pose(35.0, 20.0, -7.0)
    arm = tuple(Hole(f"A{k}", (pose.bring(h.centre),), 12.75) for k, h in enumerate(base, 1))
    fastening = StackFastening((Ply(arm), Ply(base)), 12.0, 12.0)
    way = Assembled((pose, Pose()), (("A1", "B1"), ("A2", "B2")))
    member = Member("ARM-BASE", Connected(("ARM", "BASE"), (fastening,), (way,), whole=True), 1.5, 1.5)
    return arranged((member,), (way,)), pose


def reach(made, at, along, sign):
    arrangement, pose = made
    place = best_poses(arrangement.drawn, arrangement.start).place
    ends = Ends(("BASE", (0.0, 0.0)), ("ARM", pose.bring(at)), along)
    return ends.measured_mm(farthest(arrangement, arrangement.drawn.room, place, ends, sign))


@pytest.mark.parametrize("sign", [-1, 1])
def test_between_its_bolts_a_place_moves_as_far_as_they_do(made, sign):
    take_up = 0.75
    assert reach(made, (30.0, 0.0), 1 + 0j, sign) == pytest.approx(30 + sign * take_up, abs=1e-3)
    assert reach(made, (30.0, 0.0), 1j, sign) == pytest.approx(sign * take_up, abs=1e-3)


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize("beyond", [60.0, 300.0, 1000.0])
def test_beyond_its_bolts_a_place_moves_by_the_lever(made, beyond, sign):
    middle = SPACING_MM / 2
    lever = 0.75 * (beyond - middle) / middle
    assert reach(made, (beyond, 0.0), 1j, sign) == pytest.approx(sign * lever, rel=2e-3)


def test_no_pose_that_is_drawn_by_lot_reaches_farther(made):
    random, most = np.random.default_rng(1), reach(made, (200.0, 90.0), 1j, 1)
    for _ in range(20_000):
        turn, x, y = random.uniform(-0.03, 0.03), *random.uniform(-0.8, 0.8, 2)
        ends = [math.hypot(s * (math.cos(turn) - 1) + x, s * math.sin(turn) + y) for s in (0.0, SPACING_MM)]
        if max(ends) <= 0.75:
            assert 200 * math.sin(turn) + 90 * math.cos(turn) + y <= most + 1e-6
