"""A position that explains the holes better is told, and a GO beside it is none; grids prove little."""

from __future__ import annotations

import numpy as np
import pytest
from plates_of_holes import MOUNT_BASE, compare, laid, ply

TURNED_BETTER = [(30.0, 5.0), (71.8, 55.0)], [(30.0, 5.0), (68.5, 55.0)]


def frames(pitch):
    """46 holes around a frame of 336 x 300 mm; one side's ten at another pitch."""
    sides = [[(28.0 * k, y) for k in range(13)] for y in (0.0, 300.0)]
    ends = [[(0.0, 28.0 * k + 10) for k in range(1, 11)], [(336.0, pitch * k + 10) for k in range(1, 11)]]
    return [p for row in (*sides, *ends) for p in row]


def grid(random, n, pitch, cells):
    at = random.choice(cells * cells, n, replace=False)
    return [(pitch * (int(k) // cells), pitch * (int(k) % cells)) for k in at]


def test_a_go_in_one_position_beside_a_better_one_is_none_and_both_are_told():
    a, b = ([*MOUNT_BASE, *more] for more in TURNED_BETTER)
    for one, other in ((a, b), (b, a), (laid(a, 33, 7, 9), b)):
        found = compare(one, other)
        assert found.verdict == "NO-GO"
        assert len(found.pairs) == 6
        assert not found.wrong
        assert found.rival.passing == 5
        assert [pair[0] for pair in found.rival.off] == ["H6"]
        assert found.rival.most_mm > 3
        assert "5 of 6 holes agree and 1 is off" in found.rival.told()


def test_the_same_go_stands_where_the_position_is_stated():
    a, b = ([*MOUNT_BASE, *more] for more in TURNED_BETTER)
    there = compare(a, b).pose
    assert compare(a, b, position=there).verdict == "GO"


def test_frames_of_another_pitch_on_one_side_are_no_go_and_the_drawn_position_is_told():
    found = compare(frames(28.0), frames(29.0))
    assert found.verdict == "NO-GO"
    poses = [found.pose, *([found.rival.pose] if found.rival else [])]
    assert any(abs(p.angle_deg) < 1 for p in poses)


def test_a_mirrored_plate_is_told_to_agree_turned_over():
    crooked = [(0.0, 0.0), (100.0, 0.0), (120.0, 70.0), (15.0, 60.0), (60.0, 35.0), (90.0, 20.0)]
    found = compare(crooked, [(-x, y) for x, y in crooked])
    assert found.verdict == "NO-GO"
    assert found.rival.pose.turned_over
    assert found.rival.passing == 6


def test_plates_that_differ_by_less_than_the_holes_allow_have_no_rival():
    for seed in range(40):
        random = np.random.default_rng(seed)
        a = [
            (0.0, 0.0),
            *((float(x), float(y)) for x, y in random.uniform(0, 300, (int(random.integers(3, 12)), 2))),
        ]
        b = laid(
            [
                (x + u, y + v)
                for (x, y), (u, v) in zip(a, random.uniform(-0.5, 0.5, (len(a), 2)), strict=True)
            ],
            50,
        )
        found = compare(a, b)
        assert (found.verdict, found.rival) == ("GO", None)


@pytest.mark.parametrize(("few", "many", "pitch", "cells"), [(4, 8, 50, 8), (8, 30, 25, 6), (6, 30, 50, 8)])
def test_unrelated_plates_on_a_grid_are_no_go(few, many, pitch, cells):
    for seed in range(12):
        random = np.random.default_rng([seed, few])
        found = compare(grid(random, few, pitch, cells), laid(grid(random, many, pitch, cells), 0, 3, -7))
        assert found.verdict != "GO"


@pytest.mark.bench
@pytest.mark.parametrize(("few", "many", "pitch", "cells"), [(4, 8, 50, 8), (8, 30, 25, 6), (6, 30, 50, 8)])
def test_unrelated_plates_on_a_grid_are_seldom_a_go(few, many, pitch, cells):
    """The claim promises less than one in a hundred."""
    go = 0
    for seed in range(1000):
        random = np.random.default_rng([seed, few])
        go += (
            compare(grid(random, few, pitch, cells), laid(grid(random, many, pitch, cells), 0, 3, -7)).verdict
            == "GO"
        )
    assert go <= 10


def test_where_a_grid_proves_nothing_the_position_is_asked_for():
    """Four holes at the corners of one field of a grid of 36: they meet in many places."""
    full = [(50.0 * x, 50.0 * y) for x in range(6) for y in range(6)]
    corner = [(0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0)]
    found = compare(corner, full)
    assert found.code == "no_common_pattern"
    assert any("enter the position" in note for note in found.notes)
    from ledger.domain.pose import Pose

    assert compare(corner, full, position=Pose()).verdict == "GO"
    whole = ply(corner, declared=True), ply(corner, declared=True)
    assert compare(*whole).verdict == "GO"


def test_a_pattern_measured_by_tape_has_no_rival_that_agrees_no_closer():
    """Grids of which one side is 0.4 mm out at every hole, as tape readings are, and all of whose bolts go in."""
    for seed in range(12):
        rng = np.random.default_rng(seed)
        count = int(rng.choice([6, 8, 10]))
        side = int(np.ceil(np.sqrt(count)))
        places = [(40.0 * (k % side), 40.0 * (k // side)) for k in range(count)]
        around = rng.uniform(0, 2 * np.pi, count)
        off = rng.uniform(0, 0.4, count)
        read = [
            (x + r * np.cos(w), y + r * np.sin(w)) for (x, y), r, w in zip(places, off, around, strict=True)
        ]
        found = compare(places, read)
        assert (found.verdict, len(found.pairs), found.rival) == ("GO", count, None)
