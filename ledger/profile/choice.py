"""
The user's choice among what a drawing leaves open: which outline is the part, and which of several circles is cut.

Outlines are numbered from the largest, 1. A choice gives another profile; the file itself is not touched, so only a
clean copy of that profile may go to a vendor.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.plural import counted
from ledger.domain.shape import Hole, Profile, Vertex
from ledger.profile.crossing import SAGITTA_MM

SMALLEST, LARGEST, ROUND = "smallest", "largest", "round"
ALL = "all"
_SAME_MM = 0.01


def only_outline(profile: Profile, number: int) -> Profile:
    """The profile with that outline alone, and what lies within it. Raises BadInput for a number that is none."""
    outlines = profile.outlines_by_size
    if not 1 <= number <= len(outlines):
        raise BadInput(
            f"no outline {number}: the drawing has {counted(len(outlines), 'outline')}, numbered from 1, the largest; "
            f"enter one of them"
        )
    kept = outlines[number - 1]
    area = Polygon(kept.flattened(SAGITTA_MM))

    def inside(vertices: tuple[Vertex, ...]) -> bool:
        return all(area.buffer(_SAME_MM).covers(ShapelyPoint(v[0], v[1])) for v in vertices)

    holes = tuple(h for h in profile.holes if area.covers(ShapelyPoint(h.centre)))
    gone = {h.label for h in profile.holes} - {h.label for h in holes}
    return replace(
        profile,
        outline=kept,
        outlines=(kept,),
        openings=tuple(c for c in profile.openings if inside(c.vertices)),
        holes=holes,
        marks=tuple(s for s in profile.marks if inside(s.vertices)),
        bends=tuple(s for s in profile.bends if inside(s.vertices)),
        findings=tuple(f for f in profile.findings if f.code != "several_outlines" and f.where not in gone),
    )


def with_circles(profile: Profile, chosen: Mapping[str, str]) -> Profile:
    """
    The profile with one circle for every hole named: a size in mm, `smallest` or `largest`; `all` names the rest.

    `round` says of a hole with the sides of a nut that it is one.

    Raises UnknownName for a hole that is none, BadInput for a size that is not drawn there.
    """
    known = [h.label for h in profile.holes]
    for label in chosen:
        if label not in (*known, ALL):
            raise UnknownName("hole", label, known)
    said = {h.label: chosen.get(h.label, chosen.get(ALL, "")) for h in profile.holes}
    settled = {h.label for h in profile.holes if h.also_mm and said[h.label] not in ("", ROUND)}
    round_ones = {label for label, size in said.items() if size == ROUND}
    return replace(
        profile,
        holes=tuple(_cut(h, said[h.label]) if h.label in settled else h for h in profile.holes),
        findings=tuple(
            f
            for f in profile.findings
            if not (f.code == "concentric" and f.where in settled)
            and not (f.code == "few_sides" and f.where in round_ones)
        ),
    )


def _cut(hole: Hole, size: str) -> Hole:
    drawn = sorted((hole.diameter_mm, *hole.also_mm))
    if size in (SMALLEST, LARGEST):
        return replace(hole, diameter_mm=drawn[0] if size == SMALLEST else drawn[-1], also_mm=())
    try:
        expected = float(size.removesuffix("mm"))
    except ValueError:
        expected = float("nan")
    found = [d for d in drawn if abs(d - expected) <= _SAME_MM]
    if not found:
        sizes = ", ".join(f"{d:.3f}" for d in drawn)
        raise BadInput(
            f"no circle of {size!r} is drawn at {hole.label}; there are {sizes} mm, smallest, largest"
        )
    return replace(hole, diameter_mm=found[0], also_mm=())
