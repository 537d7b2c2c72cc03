"""A GO of three plies is measured at the poses that are told, and refused where a bolt does not go in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Ply
from ledger.fit.stack import StackCase, StackFit, fit_stack
from ledger.fit.stack_checker import checked_stack, refused_stack

POINTS = np.array([[0.0, 0.0], [120.0, 6.0], [130.0, 80.0], [-8.0, 70.0]])


def _ply(off, diameter=13.5, slot=0.0):
    holes = [Hole(f"H{n}", ((x, y),), diameter) for n, (x, y) in enumerate((POINTS + off).tolist(), 1)]
    x, y = holes[0].centre
    first = replace(holes[0], core=((x - slot, y), (x + slot, y))) if slot else holes[0]
    return Ply((first, *holes[1:]), declared=True)


def _case(joint="through", slot=0.0, **fields):
    rng = np.random.default_rng(5)
    diameter = {"through": 13.5, "tapped": 10.2}.get(joint, 12.0)
    plies = [_ply(rng.uniform(-0.2, 0.2, (4, 2)), slot=slot) for _ in range(2)]
    return StackCase((*plies, _ply(rng.uniform(-0.2, 0.2, (4, 2)), diameter)), 12, 12, joint, **fields)


CASES = {
    "floating": _case(),
    "floating, slots": _case(slot=4.0),
    "held": _case("tapped"),
    "as drawn": _case(places=((Pose(), Pose(), Pose()),)),
}


def _pose(found: StackFit, **by: float) -> StackFit:
    first, *rest = found.poses
    return replace(found, poses=(replace(first, **{k: getattr(first, k) + v for k, v in by.items()}), *rest))


@pytest.mark.parametrize("name", CASES)
def test_a_stack_as_it_is_holds_and_one_that_was_moved_does_not(name: str) -> None:
    case = CASES[name]
    found = fit_stack(case)
    assert (found.verdict, found.proven) == ("GO", True)
    assert refused_stack(case, found) is None
    tampered = [
        _pose(found, x_mm=3.0), _pose(found, angle_deg=2.0), replace(found, poses=found.poses[:2]),
        replace(found, poses=(replace(found.poses[0], turned_over=True), *found.poses[1:])),
        replace(found, margin_mm=(found.margin_mm or 0.0) + 0.01), replace(found, margin_mm=None),
    ]  # fmt: skip
    if found.bolts:
        one, two, *rest = found.bolts
        tampered += [
            replace(found, bolts=((two[0], *one[1:]), (one[0], *two[1:]), *rest)),
            replace(found, bolts=(one, (one[0], *two[1:]), *rest)),
            replace(found, bolts=(two, *rest)),
            replace(found, bolts=((None, *one[1:]), two, *rest)),
        ]
    for wrong in tampered:
        assert refused_stack(case, wrong) is not None
        assert not checked_stack(case, wrong).proven


def test_plies_that_pass_two_by_two_and_not_together_are_no_go_that_holds() -> None:
    one, other = np.zeros((4, 2)), np.zeros((4, 2))
    one[0], other[0] = (1.2, 0.0), (-1.2, 0.0)
    plies = (_ply(one, 12.6), _ply(other, 12.6), _ply(np.zeros((4, 2)), 13.8))
    case = StackCase(plies, 12, 12, places=((Pose(), Pose(), Pose()),))
    found = fit_stack(case)
    assert found.verdict == "NO-GO"
    bolts = tuple((f"H{n}",) * 3 for n in range(1, 5))
    claimed = replace(
        found, verdict="GO", margin_mm=0.0, poses=(Pose(),) * 3, bolts=bolts, proven=True, blamed=()
    )
    assert "no bolt goes through H1, H1, H1" in str(refused_stack(case, claimed))


def test_a_slot_that_holds_its_fastener_does_not_hold_it_in_two_places() -> None:
    base = _ply(np.zeros((4, 2)), 10.2)
    x, y = base.holes[0].centre
    base = replace(base, holes=(replace(base.holes[0], core=((x - 6, y), (x + 6, y))), *base.holes[1:]))
    off = np.zeros((4, 2))
    off[0] = (5.0, 0.0)
    case = StackCase((_ply(off), _ply(-off), base), 12, 12, "captive nut")
    found = fit_stack(case)
    assert not (found.verdict == "GO" and found.proven)
