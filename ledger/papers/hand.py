"""
Which face of a plate the vendor must keep: what the record says, and whether the drawing is the same turned over.

*The same turned over* is a plate whose outline, openings and holes lie on themselves when it is turned over and laid
down again, with the same done to every hole. A plate that anything sets one face apart on (a bend, a mark, an etched
number, a countersink, a nut, a mask) is never called that: it may be, but the drawing alone does not prove it.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from ledger.domain.pose import Pose
from ledger.domain.record import Part
from ledger.domain.shape import Hole, Profile
from ledger.fit.mirroring import SAGITTA_MM, apart_mm, poses

SAME_MM: Final = 0.02  # common practice: a drawing's rounding, as for a part of the opposite hand
_BOTH_FACES: Final = ("plain", "tapped", "reamed")  # done to a hole from end to end

FACES: Final = {
    "same": "same turned over; drawn on its top face",
    "either": "the face shown is the top face; do not mirror the drawing",
    "as drawn": "as drawn: the face shown is the top face; do not turn over",
    "opposite": "opposite hand of {other}; drawn as it is to be cut: the face shown is the top face",
}


def hand_text(part: Part) -> str:
    """The hand in a word or two, with the part that an opposite hand mirrors."""
    if part.opposite_of:
        return f"opposite hand of {part.opposite_of}"
    return "as drawn" if part.hand == "either" and not same_turned_over(part) else part.hand


def face_text(part: Part) -> str:
    """What the vendor sheet says of the face that is shown."""
    kind = "same" if part.hand == "either" and same_turned_over(part) else part.hand
    return FACES.get(kind, part.hand).format(other=part.opposite_of)


def same_turned_over(part: Part) -> bool:
    """Whether the drawing proves that the plate turned over is the same plate."""
    profile = part.profile
    if profile is None or profile.outline is None:
        return False
    if not all(math.isfinite(n) for vertex in profile.outline.vertices for n in vertex):
        return False
    if profile.bends or profile.marks or part.bends or part.etched or part.masked:
        return False
    if any(f.operation not in _BOTH_FACES for f in part.operations):
        return False
    done = {f.label: f"{f.operation} {f.thread}" for f in part.operations if f.operation != "plain"}
    return _on_itself(profile, tuple(done.get(h.label, "") for h in profile.holes))


@lru_cache(maxsize=32)  # asked for by the sheet, the list and the notes
def _on_itself(profile: Profile, done: tuple[str, ...]) -> bool:
    return any(
        apart_mm(profile, profile, pose, most_mm=SAME_MM) + SAGITTA_MM <= SAME_MM
        and _holes_on_themselves(profile.holes, done, pose)
        for pose in poses(profile, profile, turned_over=True)
    )


def _holes_on_themselves(holes: tuple[Hole, ...], done: tuple[str, ...], pose: Pose) -> bool:
    """Whether the hole that each one comes to lie on has the same done to it."""
    worked = {kind: [h.centre for h, k in zip(holes, done, strict=True) if k == kind] for kind in set(done)}
    return len(worked) <= 1 or all(
        min(math.dist(pose.place(here), there) for there in places) <= SAME_MM
        for places in worked.values()
        for here in places
    )
