"""
Parts of one set that look alike carry a number.

*Alike*: outline, openings and holes lie within 2 mm of the other's, turned as it may be or turned over, sizes and
thickness differ by less than that, and neither is plainly heavier. Looked at are the parts that go out together, and
the job's open parts of the same vendor and material.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.parts import SurroundedPart
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.domain.record import Part
from ledger.domain.shape import Profile
from ledger.fit.likeness import Difference, difference, likeness_of
from ledger.standards.materials import material

ALIKE_MM: Final = 2.0
_SAME_MM: Final = 0.02
_HEAVIER: Final = 1.2  # a fifth more is felt in the hand
_NAMED: Final = 3


@check(
    on=SurroundedPart,
    source="common practice: what differs by less than 2 mm is not told apart by eye on the floor",
    codes=("not_told_apart",),
    severity="warning",
)
def tell_apart(seen: SurroundedPart) -> Iterator[Finding | NotChecked]:
    """
    Two plates that differ by a millimeter or by their hand are mixed up on the floor, and fit nowhere.

    A number that is etched or cut into one of them settles it; a tag is lost at the grinder.
    """
    case = seen.case
    part = case.part
    if part.form != "cut" or part.profile is None or part.profile.outline is None or not seen.others:
        raise DoesNotApply
    alike = [(other, how) for other in seen.others if (how := _alike(part, other))]
    if seen.others_left:
        yield NotChecked(f"{seen.others_left} more parts of about the same size were not compared")
    if not alike:
        return
    named = ", ".join(f"{other.number} ({how})" for other, how in alike[:_NAMED])
    more = f" and {len(alike) - _NAMED} more" if len(alike) > _NAMED else ""
    both = f"; all are etched {part.etched}" if part.etched else ", and has no etched number"
    yield Finding(
        "not_told_apart",
        f"{part.number} looks like {named}{more}{both}",
        severity="warning",
        where="etched",
        fix=f"have its number etched, and record it: fitup part {part.number} --etched {part.number}",
        measured=", ".join(other.number for other, _ in alike[:_NAMED]),
        limit=f"{ALIKE_MM:.0f} mm",
    )


def _alike(part: Part, other: Part) -> str:
    """How two parts look alike, in words; empty where they do not."""
    ours, theirs = part.profile, other.profile
    if part.etched != other.etched or ours is None or theirs is None or theirs.outline is None:
        return ""
    thick = abs(float(part.thickness.mm - other.thickness.mm)) if part.thickness and other.thickness else 0.0
    if not thick < ALIKE_MM or _felt(part, other):
        return ""
    found = _differ(theirs, ours)
    most = max(found.most_mm, thick)
    if not most < ALIKE_MM:
        return ""
    mirrored = "mirrored" if found.turned_over else ""
    if most <= _SAME_MM:
        return mirrored or "the same drawing"
    return f"differs by {most:.2f} mm" + (f", {mirrored}" if mirrored else "")


def _differ(one: Profile, other: Profile) -> Difference:
    """How much two drawings differ, the cheap answers first."""
    if (one.outline, one.openings, one.holes) == (other.outline, other.openings, other.holes):
        return Difference(0.0, turned_over=False)
    figures = likeness_of(one), likeness_of(other)
    if not (figures[0] and figures[1] and figures[0].may_be_within(figures[1], ALIKE_MM)):
        return Difference(math.inf, turned_over=False)
    return difference(one, other, limit_mm=ALIKE_MM, same_mm=_SAME_MM)


def _felt(part: Part, other: Part) -> bool:
    """Whether one is plainly heavier for its size."""
    heavy = [_density(p) for p in (part, other)]
    return heavy[0] > 0 and heavy[1] > 0 and max(heavy) >= _HEAVIER * min(heavy)


def _density(part: Part) -> float:
    """The density that was stated, else the table's; 0 where neither is known."""
    stated = part.density.kg_m3 if part.density else 0.0
    known = material(part.material)
    return stated or (known.density_kg_m3 if known else 0.0)
