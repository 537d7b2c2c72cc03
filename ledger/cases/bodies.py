"""
The body of a part in space: its flat drawing with its thickness and coats, bent where it is bent.

A part has none whose outline or thickness is not known, or whose bends are not; it is said why. Masks, countersinks and
threads are left out: a coat counts all over, a hole is as drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ledger.assembly.folded import Folded, Piece, folded, parted, solids_of
from ledger.assembly.solids import Flat, joined, prism
from ledger.assembly.space import HERE, Bend, Frame
from ledger.cases.answers import NotRun
from ledger.domain.bend import ends_of
from ledger.domain.record import Part
from ledger.domain.shape import Contour, Point
from ledger.fit.joint import Real
from ledger.standards.bending import bent, off_per_bend

if TYPE_CHECKING:
    from manifold3d import Manifold

SAGITTA_MM: Final = 0.01


@dataclass(frozen=True, slots=True)
class Body:
    """
    A part as one solid, in the frame of its first flange, where the drawn face is at z = 0; None where it is not known.

    `off_mm` and `off_deg` are what every bend may be out.
    """

    number: str
    solid: Manifold | None = None
    made: Folded | None = None
    flats: tuple[Flat, ...] = ()
    off_mm: float = 0.0
    off_deg: float = 0.0

    def lines(self, bends: Iterable[int]) -> Iterator[tuple[Real, Real]]:
        """A place on each of these bend lines and the direction along it, in the frame of the first flange."""
        if self.made is None:
            return
        known = {k: (bend, near) for bend, near, k in self.made.bends}
        for k in bends:
            bend, near = known[k]
            a, b = (self.made.pieces[near].frame.place(np.array([*p, 0.0])) for p in (bend.a, bend.b))
            yield a, (b - a) / np.linalg.norm(b - a)

    @property
    def bends(self) -> frozenset[int]:
        """All its bends, by number."""
        return frozenset(k for _, _, k in self.made.bends) if self.made else frozenset()

    def bends_to(self, points: Sequence[Point]) -> frozenset[int]:
        """The bends from the first flange to the one where these places are. Raises NotRun where it is not one."""
        return frozenset(self._piece(points).bends) if self.made else frozenset()

    def frame_at(self, points: Sequence[Point]) -> Frame:
        """The flange on which all these places are. Raises NotRun where it is not one."""
        return self._piece(points).frame if self.made else HERE

    def _piece(self, points: Sequence[Point]) -> Piece:
        piece = self.made.piece_at(points) if self.made else None
        if piece is None:
            raise NotRun(f"the holes that bolt {self.number} are not on one flange of it")
        return piece


def body_of(part: Part) -> Body:
    """The body of a part. Raises NotRun with the reason where it has none."""
    number, profile, thick = part.number, part.profile, part.thickness
    if profile is None or profile.outline is None:
        raise NotRun(f"{number} has no outline: its body is not known")
    if thick is None or not thick.mm > 0:
        raise NotRun(f"the thickness of {number} is not known: fitup part {number} --thickness")
    sheet = sheet_of(profile.outline, (*profile.openings, *(h.contour() for h in part.holes)))
    coat, t = coat_of(part), float(thick.mm)
    if not profile.bends:
        return Body(number, prism(sheet, -t - coat, coat), flats=(Flat(sheet, HERE, t),))
    bends = bends_of(part)
    made = folded(sheet, bends)
    if made is None:
        raise NotRun(
            f"{number} is bent in a way that is not followed: its bend lines do not part it into flanges"
        )
    off_mm, off_deg, _ = off_per_bend()
    stated = [float(b.tolerance.mm) for b in part.bends if b.tolerance]
    solid = joined(solids_of(made, sheet, t, coat))
    flats = tuple(Flat(p.flat, p.frame, t) for p in made.pieces)
    return Body(number, solid, made, flats, max([off_mm, *stated]), off_deg)


def is_bent_between(part: Part, points: Sequence[Point]) -> bool:
    """Whether these places of a part's drawing are not all on one flat piece of it, by its bend lines alone."""
    profile = part.profile
    if profile is None or profile.outline is None or not profile.bends:
        return False
    sheet = sheet_of(profile.outline, (*profile.openings, *(h.contour() for h in part.holes)))
    lines = [ends for stroke in profile.bends if (ends := ends_of(stroke)) is not None]
    return len(lines) < len(profile.bends) or parted(sheet, lines, points)


def coat_of(part: Part) -> float:
    """The coat on one face of a part that is cut, mm."""
    return float(part.coating_thickness.mm) if part.coating_thickness and part.form == "cut" else 0.0


def sheet_of(outline: Contour, inside: Iterable[Contour]) -> BaseGeometry:
    """The outline less what is cut out of it, arcs flattened to a hundredth of a mm."""
    cut = [_filled(c) for c in inside]
    return shapely.difference(_filled(outline), shapely.union_all(cut)) if cut else _filled(outline)


def _filled(contour: Contour) -> BaseGeometry:
    return shapely.Polygon(contour.flattened(SAGITTA_MM)).buffer(0)


def bends_of(part: Part) -> tuple[Bend, ...]:
    """The bends of a part in numbers. Raises NotRun where nothing is entered of one."""
    if part.profile is None or not part.profile.bends:
        return ()
    if part.thickness is None:
        raise NotRun(f"the thickness of {part.number} is not known: fitup part {part.number} --thickness")
    thick, found = float(part.thickness.mm), []
    for label, stroke in part.bend_lines.items():
        ends, said = ends_of(stroke), part.bend(label)
        if ends is None or said is None:
            raise NotRun(f"{label} of {part.number} has no bend data: fitup bend {part.number} {label} --as")
        n = bent(said, thick, part.material, part.bend_data)
        found.append(Bend(*ends, n.angle_deg, n.radius_mm, n.allowance_mm, thick, said.direction == "up"))
    return tuple(found)
