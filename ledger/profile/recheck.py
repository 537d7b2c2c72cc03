"""
Look again at a profile that came out of the child, before anything believes it.

The child reads hostile bytes; its answer is data like any other. Numbers are finite and on the plate's scale, words
are the known ones, text can be shown. Raises KeyError, TypeError or ValueError on anything else.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

from ledger.domain.errors import visible
from ledger.domain.finding import SEVERITIES, Finding
from ledger.domain.shape import Profile, profile_from_json
from ledger.profile.units import BY_NAME

MOST_MM = 1e6
_MADE_OF = frozenset(("circle", "arcs", "polyline", "spline", "ellipse", "facets", "slot"))
_LONGEST = 4000


def recheck(data: dict[str, Any]) -> Profile:
    """The profile, if it can be one."""
    profile = profile_from_json(data)
    for number in _numbers(profile):
        if not math.isfinite(number) or not abs(number) <= 4 * MOST_MM:
            raise ValueError(number)
    for text in _texts(profile):
        if text != visible(text, most=_LONGEST):
            raise ValueError("text")
    for sound, what in _rules(profile):
        if not sound:
            raise ValueError(what)
    return profile


def _rules(profile: Profile) -> Iterator[tuple[bool, str]]:
    """What holds of every profile, each with its name."""
    yield profile.outline is None or profile.outline in profile.outlines, "outline"
    yield (
        all(h.made_of in _MADE_OF and min(h.diameter_mm, *h.also_mm, 1.0) > 0 for h in profile.holes),
        "hole",
    )
    yield len({h.label for h in profile.holes}) == len(profile.holes), "label"
    yield profile.unit_used in BY_NAME, "unit used"
    yield profile.unit_declared in (None, *BY_NAME), "unit in the header"
    yield isinstance(profile.unit_sure, bool), "unit sure"
    yield all(f.severity in SEVERITIES for f in profile.findings), "severity"


def _numbers(profile: Profile) -> Iterator[float]:
    for ring in (*profile.outlines, *profile.openings):
        yield from _flat(ring.vertices)
        yield ring.chord_error_mm
    for hole in profile.holes:
        yield from (hole.diameter_mm, hole.departure_mm, *hole.also_mm)
        yield from _flat(hole.core)
    for stroke in (*profile.marks, *profile.bends):
        yield from _flat(stroke.vertices)


def _flat(rows: Iterable[tuple[float, ...]]) -> Iterator[float]:
    for row in rows:
        yield from row


def _texts(profile: Profile) -> Iterator[str]:
    yield from profile.layers
    yield from (h.label for h in profile.holes)
    yield from (s.layer for s in (*profile.marks, *profile.bends))
    for finding in profile.findings:
        yield from _words(finding)


def _words(finding: Finding) -> tuple[str, ...]:
    return (finding.code, finding.message, finding.where, finding.fix, finding.measured, finding.limit)
