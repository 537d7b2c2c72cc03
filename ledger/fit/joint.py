"""
What one fastener joint can take up.

A *through* joint has clearance holes in both plies. A *fixed* joint holds the fastener in ply B (tapped hole, stud,
captive nut, dowel) and has a clearance hole in A only. *Countersunk*: the head centres itself in A, B has clearance;
*countersunk tapped*: the head centres itself in A and the thread in B, so that nothing is left to take up.
The *take up* c of a hole pair is how far apart its two cores may lie, in mm.
The *charge* is what the worst case takes from every take up: smallest holes, largest fastener, position tolerances.
*Passage*: a clearance hole lets the fastener through by itself.

Source: ASME Y14.5 appendix B, floating and fixed fastener formulas, written for two plies of unequal holes.
"""

from __future__ import annotations

from typing import Final, TypeVar

import numpy as np
import numpy.typing as npt

from ledger.domain.joint import Joint, Side

Real = npt.NDArray[np.float64]
Size = TypeVar("Size", float, Real)

LARGEST_CLEARANCE: Final = 3.0  # diameters; a larger opening is not a bolt hole
TAPPED_RANGE: Final = (0.75, 1.05)  # a drawn tap drill or thread, in diameters
SAME_MM: Final = 1e-9  # below this two lengths are the same length
TOUCH_MM: Final = 1e-6  # what drawings do not carry: a fastener that lacks no more passes, with no clearance


def clears(joint: Joint, side: Side) -> bool:
    """Whether the hole of that ply is a clearance hole, which must let the fastener through by itself."""
    return side == "a" or joint in ("through", "countersunk")


def bolt_hole_range_mm(joint: Joint, side: Side, fastener_mm: float) -> tuple[float, float] | None:
    """
    Least and largest diameter that is taken for a hole of this fastener; None where only a declared group can tell.

    The least size belongs to the range of clearance holes; a tapped range includes both ends.
    """
    if clears(joint, side):
        return fastener_mm - TOUCH_MM, LARGEST_CLEARANCE * fastener_mm - TOUCH_MM
    if joint in ("tapped", "stud", "countersunk tapped"):
        low, high = TAPPED_RANGE
        return low * fastener_mm - TOUCH_MM, high * fastener_mm + TOUCH_MM
    return None


def take_up_mm(joint: Joint, radius_a_mm: Size, radius_b_mm: Size, fastener_mm: float) -> Size:
    """The take up with t = 0. Radii may be numbers or arrays that broadcast."""
    if joint == "through":
        return radius_a_mm + radius_b_mm - fastener_mm
    if joint == "countersunk":
        return radius_b_mm - fastener_mm / 2 + 0 * radius_a_mm
    if joint == "countersunk tapped":
        return 0 * radius_a_mm + 0 * radius_b_mm
    return radius_a_mm - fastener_mm / 2 + 0 * radius_b_mm


def charge_mm(
    joint: Joint,
    *,
    shrink_mm: tuple[float, float],
    position_mm: tuple[float, float],
    thicker_mm: float,
) -> float:
    """
    How much smaller every take up is in the worst case.

    `shrink_mm` (A, B) is the loss of hole diameter, `position_mm` (A, B) the diametral position tolerance,
    `thicker_mm` by how much the largest fastener is thicker than the nominal one.
    """
    strays = sum(position_mm) / 2
    if joint == "through":
        return sum(shrink_mm) / 2 + thicker_mm + strays
    if joint == "countersunk tapped":
        return strays
    loses = shrink_mm[1] if joint == "countersunk" else shrink_mm[0]
    return (loses + thicker_mm) / 2 + strays


def passage_mm(radius_mm: float, fastener_mm: float, position_mm: float = 0.0) -> float:
    """Room of one clearance hole by itself: r - d/2 - t/2, not less than 0 where the fastener passes."""
    return radius_mm - fastener_mm / 2 - position_mm / 2


def unprojected_mm(position_mm: float, *, clearance_ply_mm: float, engagement_mm: float) -> float:
    """
    The tolerance of a fixed joint's holding ply that has no projected zone: t (1 + 2 P / D).

    P is the thickness of the clearance ply, D the engagement in the holding ply: a leaning fastener strays more
    the further it stands out (ASME Y14.5 appendix B).
    """
    return position_mm * (1 + 2 * clearance_ply_mm / engagement_mm)
