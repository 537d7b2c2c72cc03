"""
A clean copy of a drawing: what was understood of it, and nothing else.

Texts, hidden layers, doubled lines and the like are left out; small gaps are closed, curves fixed, the unit stands in
the header. What a copy cannot decide (an open contour, a unit that is not sure, which of several outlines is the
part) is refused with what to do. The copy is read again before it is handed out, and must be the same shape.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from ledger.domain.errors import BadInput
from ledger.domain.finding import Finding
from ledger.domain.record import Part
from ledger.domain.shape import Profile
from ledger.words.clean_copies import ASKED, FIXED

# What a copy leaves out and the record goes on telling of.
KEPT = ("unit_differs", "drawing_words", "dimension_differs")
_TOLD = ("hole_moved", "hole_gone")


@dataclass(frozen=True, slots=True)
class Choices:
    """
    What the user said about a drawing: its unit, what layers are for, which outline is the part (0: not said).

    `circles`: which circle is cut at a hole (its size in mm, `smallest`, `largest`, or that it is `round`; `all` names
    the rest). `as_drawn`: lines count where a typed dimension says otherwise.
    """

    unit: str | None = None
    roles: Mapping[str, str] = field(default_factory=dict)
    outline: int = 0
    circles: Mapping[str, str] = field(default_factory=dict)
    as_drawn: bool = False


@dataclass(frozen=True, slots=True)
class Mended:
    """The copy, the shape it holds, and what of the drawing is fixed by it."""

    data: bytes
    profile: Profile
    fixed: tuple[Finding, ...]
    guessed: bool

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; lengths in mm."""
        size = self.profile.size_mm
        return {
            "size_mm": [round(n, 6) for n in size] if size else None,
            "holes": [{"label": h.label, "diameter_mm": h.diameter_mm} for h in self.profile.holes],
            "fixed": [f.to_json() for f in self.fixed],
        }


CLEAN = "-clean.dxf"


def as_taken(part: Part, choices: Choices) -> Choices:
    """The choices, completed by what was said when the drawing was taken and by what holes are worked to."""
    taken = part.taken
    if taken is None:
        return choices
    profile = taken.profile
    worked = {f.label for f in part.operations if f.operation != "plain"}
    known = {h.label: "smallest" for h in profile.holes if h.also_mm and h.label in worked}
    return replace(
        choices,
        unit=choices.unit or (taken.unit if taken.unit_stated else None),
        roles={**dict(taken.roles), **choices.roles},
        circles={**known, **choices.circles},
    )


def mended(data: bytes, choices: Choices, before: Profile | None = None) -> Mended:
    """
    A clean copy of these bytes, in mm or, where the drawing is in inches, in those. Holes are named as in `before`.

    Raises Unreadable for what is no drawing, BadInput for what a copy cannot decide, UnknownName for a hole that is
    none.
    """
    from ledger.profile.choice import only_outline, with_circles
    from ledger.profile.labels import carry_labels
    from ledger.profile.read import geometry_digest, read_profile
    from ledger.profile.write import write_profile

    seen = read_profile(data, unit=choices.unit, roles=choices.roles)
    if before is not None:
        seen, _ = carry_labels(seen, before)
    profile = only_outline(seen, choices.outline) if choices.outline else seen
    profile = with_circles(profile, choices.circles)
    left = [f for f in profile.findings if f.severity == "stop" and f.code not in FIXED]
    left.extend(f for f in profile.findings if f.code == "dimension_differs" and not choices.as_drawn)
    left.extend(_pockets(profile, choices))
    if left:
        raise BadInput(f"a clean copy cannot be written: {_words(left)}")
    unit = profile.unit_used if profile.unit_used in ("mm", "in") else "mm"
    copy = write_profile(profile, unit=unit)
    again = read_profile(copy, unit=unit)
    if geometry_digest(again) != geometry_digest(profile) or not again.usable:
        raise BadInput("the clean copy is not read as the same shape; please report this drawing")
    fixed = tuple(f for f in seen.findings if f.code not in _TOLD and f not in again.findings)
    guessed = any(f.code == "only_recovered" for f in seen.findings)
    return Mended(copy, replace(again, unit_declared=unit), fixed, guessed)


def _pockets(profile: Profile, choices: Choices) -> Iterator[Finding]:
    """Holes that may be pockets for nuts and of which nobody has said that they are round."""
    from ledger.profile.choice import ALL, ROUND
    from ledger.profile.departures import few_sides, may_be_pocket

    for hole in profile.holes:
        said = choices.circles.get(hole.label, choices.circles.get(ALL))
        if may_be_pocket(hole) and said != ROUND:
            yield few_sides(hole)


def _words(left: list[Finding]) -> str:
    first = min(left, key=lambda f: f.code == "no_outline")
    more = f"; and {len(left) - 1} more" if len(left) > 1 else ""
    asked = list(dict.fromkeys(ASKED[f.code] for f in left if f.code in ASKED))
    fix = "; ".join(asked) if asked and all(f.code in ASKED for f in left) else first.fix
    return f"{first.message}{more}; {fix}"
