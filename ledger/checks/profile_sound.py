"""
The drawing must be one that can be cut as it stands.

What the reader of drawings found is passed on under its own codes. A file that is read differently by a newer
reader is told apart here: its shapes were agreed to as they were read when it was taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.drawing_notes import against
from ledger.domain.finding import READER_CODES, Finding
from ledger.domain.record import Part, TakenProfile


@check(
    on=PartCase,
    source="common practice: what laser and water-jet vendors refuse, cut twice or cut wrong",
    codes=("profile_missing", "profile_changed", "nothing_known", "words_differ", *READER_CODES),
    severity="stop",
    not_checked="order of cuts, lead-ins and what the kerf takes",
)
def profile_sound(case: PartCase) -> Iterator[Finding]:
    """
    Nothing in the file could be cut otherwise than it was meant.

    An open or doubled contour, a doubtful unit or an entity that nobody has accounted for costs a plate. A part
    that is not cut needs no drawing, but something must be known of it.
    """
    part = case.part
    if part.taken is None:
        yield from _without_drawing(part)
        return
    yield from _told_apart(_of_drawing(part, part.taken))


def _without_drawing(part: Part) -> Iterator[Finding]:
    if part.form == "cut":
        yield Finding(
            "profile_missing",
            f"{part.number} is to be cut and has no drawing",
            severity="stop",
            where="profile",
            fix="take its DXF file",
        )
    elif part.measured_holes or part.dimensions or part.distances:
        raise DoesNotApply
    else:
        yield Finding(
            "nothing_known",
            f"nothing is known of {part.number}: no hole, no dimension, no drawing",
            severity="stop",
            where=part.number,
            fix="record its holes or a key dimension, as measured or as given",
        )


def _of_drawing(part: Part, taken: TakenProfile) -> Iterator[Finding]:
    profile = taken.profile
    yield from profile.findings
    stops = [f.code for f in profile.findings if f.severity == "stop"]
    if profile.outline is None and not stops:
        yield Finding(
            "no_outline",
            "no closed outline was read",
            where="profile",
            fix="close the outline and take the file again",
        )
    if not profile.unit_sure and not any(code.startswith("unit_") for code in stops):
        fix = "take it again and give its unit"
        yield Finding("unit_missing", "the unit of the file is not sure", where="profile", fix=fix)
    yield from _thicker_than_wide(part)
    yield from _words_differ(part, taken)
    if not taken.reads_the_same:
        yield Finding(
            "profile_changed",
            f"{taken.file_name} is now read differently from when it was taken",
            severity="stop",
            where="profile",
            fix="take the file again and look at what differs",
        )


def _thicker_than_wide(part: Part) -> Iterator[Finding]:
    """A plate is wider than it is thick, common practice; where not, its numbers are probably in another unit."""
    size = part.profile.size_mm if part.profile and part.profile.outline else None
    thick = float(part.thickness.mm) if part.thickness and part.thickness.mm.is_finite() else 0.0
    if size is None or max(size) >= thick:
        return
    yield Finding(
        "unit_doubtful",
        f"{part.number} is {size[0]:.1f} × {size[1]:.1f} mm and {thick:g} mm thick: its drawing, read as "
        f"{part.profile.unit_used if part.profile else ''}, is probably in another unit",
        where="thickness",
        fix="measure one known length in the drawing, then take the file and give its unit",
        measured=f"{max(size):.1f} mm",
        limit=f"{thick:g} mm",
    )


def _words_differ(part: Part, taken: TakenProfile) -> Iterator[Finding]:
    """What is written in the drawing against what is recorded of the part."""
    thick = float(part.thickness.mm) if part.thickness and part.thickness.mm.is_finite() else None
    for found in taken.profile.findings:
        if found.code != "drawing_words":
            continue
        for what, written, recorded in against(
            found.measured, taken.unit, thick_mm=thick, count=part.quantity, material=part.material
        ):
            yield Finding(
                "words_differ",
                f"the drawing says “{found.measured}” ({what} {written}); the record of {part.number} says {recorded}",
                severity="warning",
                where=what,
                fix="find out which is right, and correct the drawing or the record",
                measured=written,
                limit=recorded,
            )


def _told_apart(findings: Iterable[Finding]) -> Iterator[Finding]:
    """A place for each: a permit names a finding by its code and its place."""
    seen: Counter[tuple[str, str]] = Counter()
    for finding in findings:
        where = finding.where or "profile"
        seen[finding.code, where] += 1
        times = seen[finding.code, where]
        yield replace(finding, where=where if times == 1 else f"{where} ({times})")
