"""Patterns that go on in several ways: the ring closes if one combination of them does, and only then."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from rings_of_plates import ring

from ledger.assembly.choices import Choices
from ledger.assembly.closure import closure
from ledger.domain.pose import Pose
from ledger.fit.shared_bolts import Assembled


def with_every_turn(case):
    """Square patterns go on in four ways, each a quarter turn from the other; the one that closes comes last."""
    members = []
    for member in case.members:
        (way,) = member.connected.ways
        plies = member.connected.fastenings[0].plies
        a, b = (ply.holes for ply in plies)
        ways = [_turned(way, a, b, quarter) for quarter in (1, 2, 3)]
        members.append(replace(member, connected=replace(member.connected, ways=(*ways, way))))
    return replace(case, members=tuple(members))


def _turned(way, a, b, quarter):
    pose = way.poses[0]
    meets = tuple((h.label, b[(k + quarter) % 4].label) for k, h in enumerate(a))
    x, y = (sum(h.centre[n] for h in b) / 4 for n in (0, 1))
    first = pose.place(a[0].centre)
    best = min(
        (
            Pose(0.0, x, y).after(Pose(angle)).after(Pose(0.0, -x, -y)).after(pose)
            for angle in (90.0, 180.0, 270.0)
        ),
        key=lambda p: math.dist(p.place(a[0].centre), b[quarter].centre),
    )
    assert math.dist(first, b[quarter].centre) > 40
    return Assembled((best, Pose()), meets)


@pytest.mark.parametrize("seed", range(4))
def test_the_combination_that_closes_is_found_among_those_that_do_not(seed):
    case = with_every_turn(ring(seed, plates=5, square=True, holes=4))
    assert closure(case).state == "closes"
    assert sum(1 for _ in Choices(case.members)) < 40  # of 1024


def test_a_ring_is_refused_only_when_no_combination_closes():
    case = with_every_turn(ring(1, off_mm=60.0, plates=4, holes=4, square=True, noise_mm=0.02))
    assert closure(case).state == "does not close"


def test_with_ways_that_were_not_looked_at_nothing_is_refused():
    case = ring(1, off_mm=60.0, plates=4, holes=4, noise_mm=0.02)
    first = case.members[0]
    loose = replace(first, connected=replace(first.connected, whole=False))
    found = closure(replace(case, members=(loose, *case.members[1:])))
    assert found.state == "not proven"
    assert first.name in found.why


def test_along_a_guide_nothing_is_claimed_to_close():
    case = ring(2, plates=4, holes=3)
    first = case.members[0]
    guided = replace(first, connected=replace(first.connected, hold="guided"))
    found = closure(replace(case, members=(guided, *case.members[1:])))
    assert found.state == "not proven"
    assert "free to slide or turn" in found.why


def test_a_part_that_would_be_both_sides_up_is_told():
    case = ring(3, plates=4, holes=3)
    first = case.members[0]
    (way,) = first.connected.ways
    pose = way.poses[0]
    over = replace(way, poses=(replace(pose, turned_over=not pose.turned_over), Pose()))
    turned = replace(first, connected=replace(first.connected, ways=(over,)))
    assert closure(replace(case, members=(turned, *case.members[1:]))).state == "both sides up"
