"""
Plates held by dowel pins: where the first can lie.

One pin leaves a turn about it. Two and more fix the place: wherever all of them go in, at the pose that leaves them
the most room. That the pins still let the plate move by their own clearance is not used: the bolts must go in with
the pins in the middle of their holes, which is on the safe side.
"""

from __future__ import annotations

from collections.abc import Sequence

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.fit.case import WAYS_UP, Fastening, PatternCase, TurnedOver
from ledger.fit.guide import Guide, Turn
from ledger.fit.pattern import fit


def by_pins(pins: Sequence[Fastening], turned_over: TurnedOver) -> tuple[Pose | Guide, ...]:
    """The places that the pins allow. Raises BadInput where they do not go together at all."""
    if not pins or not all(p.a.holes and p.b.holes for p in pins):
        raise BadInput("held by pins, but there are no holes for the pins: name their hole groups")
    first, *others = pins
    if not others and len(first.a.holes) == len(first.b.holes) == 1:
        about_a, about_b = first.a.holes[0].centre, first.b.holes[0].centre
        return tuple(Turn(about_a, about_b, turned_over) for turned_over in WAYS_UP[turned_over])
    case = PatternCase(
        first.a,
        first.b,
        first.fastener_mm,
        first.largest_fastener_mm,
        first.joint,
        turned_over,
        also=tuple(others),
    )
    found = fit(case)
    if found.pose is None:
        raise BadInput("the pin holes of the two parts have no pattern in common: correct them first")
    return tuple(w.pose for w in found.assemblies) or (found.pose,)
