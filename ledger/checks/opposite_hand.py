"""
A part of the opposite hand must be its twin's mirror image.

Every line that is cut, outline, openings and holes, is compared both ways under the best turning over.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from ledger.cases.answers import DoesNotApply, NoDrawing, NotRun
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.fit.mirroring import SAGITTA_MM, departure_mm

LIMIT_MM: Final = 0.02


@check(
    on=PartCase,
    source="common practice: hands are drawn once and mirrored; 0.02 mm is a drawing's rounding",
    codes=("not_mirrored",),
    severity="stop",
    not_checked="hole operations, marks and bend lines of the opposite hand",
)
def opposite_hand(case: PartCase) -> Iterator[Finding]:
    """
    The two hands were not edited apart.

    A change that is made on the left plate and forgotten on the right one is found at the structure.
    """
    part, twin = case.part, case.twin
    if part.hand != "opposite":
        raise DoesNotApply
    if twin is None or twin.profile is None or twin.profile.outline is None:
        raise NotRun(f"the drawing of {part.opposite_of or 'the part it mirrors'} is not known")
    if part.profile is None or part.profile.outline is None:
        raise NoDrawing(f"{part.number} has no drawing to compare", part.number)
    apart = departure_mm(twin.profile, part.profile)
    if math.isfinite(apart) and apart + SAGITTA_MM <= LIMIT_MM:
        return
    out = f"{apart:.3f} mm" if math.isfinite(apart) else "not within reach"
    yield Finding(
        "not_mirrored",
        f"{part.number} is not {twin.number} mirrored: a line is {out} away from its counterpart",
        severity="stop",
        where="profile",
        fix=f"mirror the drawing of {twin.number} again and take it, or change its hand",
        measured=out,
        limit=f"{LIMIT_MM:.2f} mm",
    )
