"""
Loops against published and closed forms: the gap of the closing corner, and what passes through three plates at once.

Traverse: NPTEL, Surveying, Ex 29-4 and 29-6 (second azimuth 94° 03', as its printed departure needs). Frame of six
plates: the sum of complex sides. Passage: hole less the diameter of the smallest circle about the centers.
"""

from __future__ import annotations

import cmath
import math

import pytest

from ledger.assembly.arrangement import Member, arranged
from ledger.assembly.closure import AssemblyCase, closure
from ledger.assembly.poses import best_poses
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Ply
from ledger.fit.shared_bolts import Assembled, Connected
from ledger.fit.stack_case import StackFastening

BOLT_MM, HOLE_MM = 12.0, 13.5


def member(name, parts, holes, pose, hold):
    """A connection of two parts by one bolt, one hole in each."""
    plies = tuple(Ply((Hole(label, ((z.real, z.imag),), HOLE_MM),)) for label, z in holes)
    way = Assembled((pose, Pose()), (tuple(label for label, _ in holes),))
    connected = Connected(parts, (StackFastening(plies, BOLT_MM, BOLT_MM),), (way,), whole=True, hold=hold)
    return Member(name, connected, math.inf, math.inf)


def loop(sides, turns_deg):
    """Legs of these lengths, each turned against the one before, positions entered but for the last connection."""
    count, members = len(sides), []
    for k in range(count):
        following = (k + 1) % count
        turn = turns_deg[k]
        pose = Pose(turn, sides[k] * 1.0, 0.0).back  # this leg on the next, which begins where it ends
        last = k == count - 1
        members.append(
            member(
                f"C{k}", (f"P{k}", f"P{following}"), ((f"E{k}", complex(sides[k])), (f"S{following}", 0j)),
                pose, "free" if last else "fixed",
            )
        )  # fmt: skip
    return AssemblyCase(tuple(members))


def gap_mm(case):
    """What the last connection lacks: all else is entered, so that the gap is what it is."""
    found = closure(case)
    assert found.state == "does not close"
    return HOLE_MM - BOLT_MM - found.margin_mm


def test_a_frame_of_six_plates_whose_corners_turn_a_twentieth_of_a_degree_too_far():
    side, turn = 500.0, 60.05
    assert gap_mm(loop([side] * 6, [turn] * 6)) == pytest.approx(2.616014, abs=1e-6)
    closed = sum(side * cmath.exp(1j * math.radians(turn * k)) for k in range(6))
    assert abs(closed) == pytest.approx(2.616014, abs=1e-6)


def test_a_traverse_of_four_legs_closes_to_the_published_error():
    lengths = [372.222, 164.988, 242.438, 197.145]
    azimuths = [0 + 42 / 60, 94 + 3 / 60, 183 + 4 / 60, 232 + 51 / 60]
    turns = [azimuths[k] - azimuths[(k + 1) % 4] for k in range(4)]
    assert gap_mm(loop([1000 * x for x in lengths], turns)) == pytest.approx(1154.8, abs=1.0)


@pytest.mark.parametrize(
    ("centres", "passage"),
    [
        ((0j, 1 + 0j, 0.5 + 1j * math.sqrt(3) / 2), 12.345299),
        ((0j, 1 + 0j, 0.4 + 0.1j), 12.5),
    ],
)
def test_what_passes_through_three_plates_at_once(centres, passage):
    """Two connections share the middle plate's hole: one bolt through all three."""
    first, middle, last = ((f"H{k}", z) for k, z in enumerate(centres))
    members = (
        member("AB", ("A", "B"), (first, middle), Pose(), "fixed"),
        member("BC", ("B", "C"), (middle, last), Pose(), "fixed"),
    )
    made = arranged(members, [m.connected.ways[0] for m in members])
    found = best_poses(made.drawn, made.start)
    assert BOLT_MM + found.margin_mm == pytest.approx(passage, abs=1e-6)
