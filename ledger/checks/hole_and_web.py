"""
Holes and webs are not smaller than the process cuts well.

Below the least by thickness it is a *warning*, once for all holes and once for all webs of a part; from there to what
comes out well a *note*: it costs a question to the vendor, and no signature.

A *web* is the least material between two holes, openings or the outline. A hole no wider than the kerf cannot be
cut at all.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.checks._webs import LEEWAY_MM, labels, thin_webs
from ledger.domain.finding import Finding, Severity
from ledger.domain.record import Part
from ledger.domain.shape import Profile
from ledger.standards.cuts import Smallest, smallest


@check(
    on=PartCase,
    source="common practice: smallest hole and web as multiples of the thickness, kerf; a vendor's numbers go first",
    codes=("hole_under_kerf", "hole_small", "web_thin"),
    severity="stop",
    not_checked="how narrow a slot or an inside corner may be, and heat in many holes near each other",
)
def hole_and_web(case: PartCase) -> Iterator[Finding]:
    """
    A hole much smaller than the sheet is thick is blown out, burnt shut or left with a bead.

    A thin web between two cuts warps or melts away, and what holds the part is then gone.
    """
    part, profile = case.part, case.part.profile
    if part.form != "cut" or profile is None or not part.process.strip():
        raise DoesNotApply
    rule = smallest(part.process)
    if rule is None or part.thickness is None or not part.thickness.mm > 0:
        raise DoesNotApply
    thick = float(part.thickness.mm)
    yield from _holes(part, profile, rule, thick)
    yield from _webs(part, profile, rule, thick)


def _holes(part: Part, profile: Profile, rule: Smallest, thick: float) -> Iterator[Finding]:
    gone = [h for h in profile.holes if not h.diameter_mm > rule.kerf_mm]
    if gone:
        yield Finding(
            "hole_under_kerf",
            f"{labels(h.label for h in gone)} of {part.number}: {gone[0].diameter_mm:.3g} mm is no wider than the "
            f"kerf of {part.process}, at least {rule.kerf_mm:g} mm: nothing can be cut",
            severity="stop",
            where="holes under the kerf",
            fix="draw the hole larger, or have it drilled and leave it out of the drawing",
            measured=f"{gone[0].diameter_mm:.3f} mm",
            limit=f"{rule.kerf_mm:g} mm",
        ).held_to(min(h.diameter_mm for h in gone), rule.kerf_mm)
    least = rule.hole * thick
    small = [h for h in profile.holes if h not in gone and not h.diameter_mm + LEEWAY_MM >= least]
    if small:
        worst = min(small, key=lambda h: h.diameter_mm)
        yield Finding(
            "hole_small",
            f"{part.number} has holes below the {least:.2f} mm that {part.process} cuts well in {thick:g} mm: "
            f"{labels(f'{h.label} {h.diameter_mm:.2f} mm' for h in small)} ({_least(rule.hole_least * thick)})",
            severity=_severity(worst.diameter_mm, rule.hole_least * thick),
            where="holes",
            fix="ask the vendor, or have the holes drilled",
            measured=f"{worst.diameter_mm:.2f} mm",
            limit=f"{least:.2f} mm",
        ).held_to(worst.diameter_mm, least)


def _severity(size_mm: float, least_mm: float) -> Severity:
    return "note" if size_mm + LEEWAY_MM >= least_mm else "warning"


def _least(least_mm: float) -> str:
    return f"minimum {least_mm:.2f} mm, common practice; your vendor's own minimum comes first"


def _webs(part: Part, profile: Profile, rule: Smallest, thick: float) -> Iterator[Finding]:
    least = rule.web * thick
    thin = [w for w in thin_webs(profile, least) if not w.width_mm + LEEWAY_MM >= least]
    if not thin:
        return
    worst = thin[0]
    yield Finding(
        "web_thin",
        f"{part.number} has webs below the {least:.2f} mm that {part.process} leaves well in {thick:g} mm: "
        f"{labels(f'{w.a} to {w.b} {max(w.width_mm, 0.0):.2f} mm' for w in thin)} ({_least(rule.web_least * thick)})",
        severity=_severity(worst.width_mm, rule.web_least * thick),
        where="webs",
        fix="set them further apart, or ask the vendor",
        measured=f"{max(worst.width_mm, 0.0):.2f} mm",
        limit=f"{least:.2f} mm",
    ).held_to(max(worst.width_mm, 0.0), least)
