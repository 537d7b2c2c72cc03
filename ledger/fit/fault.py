"""
The one fault of one drawing that explains why two hole patterns do not go together, where there is one.

A *fault* is only named where nothing else is out: but for it every hole of the smaller plate agrees, within what
drawings of the same hole differ by. It is what to read first; whether the holes go together is for the fit alone.
Looked for in this order: sizes that take no fastener, a drawing turned over, a hole more on one plate, another scale
(a unit, a bolt circle, a pitch), another pitch along one side of a grid, one hole moved, another count on a circle.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

import numpy as np

from ledger.domain.quantity import show_mm
from ledger.domain.shape import Hole
from ledger.fit.agreement import Agreement, agreements, over
from ledger.fit.candidates import tabulate
from ledger.fit.case import WAYS_UP, Fit, PatternCase
from ledger.fit.fault_size import wrong_sizes
from ledger.fit.layout import Plane
from ledger.fit.spacing import circle_mm, pitches_mm

FaultKind = Literal["size", "mirrored", "more", "unit", "circle", "pitch", "scale", "moved", "count"]
MOST_HOLES: Final = 60
FEWEST: Final = 3
FEWEST_MOVED: Final = 4  # two holes of three agree too easily
MOST_PLACES: Final = 4
INCH: Final = 25.4
NEAR: Final = (
    0.002  # a scale is that of a known slip within so much of it: what 0.1 mm is on a pattern of 50 mm
)
_UNITS: Final = {
    True: "its numbers look like millimeters taken as inches",
    False: "its numbers look like inches taken as millimeters",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, in words for the first line, and its fix; `labels` are the holes of A and of B it is about."""

    kind: FaultKind
    text: str
    fix: str
    labels: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())


@dataclass(frozen=True, slots=True)
class _Plates:
    """The holes that are compared on either plate, what the plates are called, and which way up A may lie."""

    a: tuple[Hole, ...]
    b: tuple[Hole, ...]
    names: tuple[str, str]
    case: PatternCase

    @property
    def even(self) -> bool:
        return len(self.a) == len(self.b)

    @property
    def fewer(self) -> int:
        return min(len(self.a), len(self.b))

    @property
    def ways_up(self) -> tuple[bool, ...]:
        return WAYS_UP[self.case.turned_over]

    def agreeing(self, least: int, *, other_side_up: bool = False, scale: float = 1.0) -> Agreement | None:
        """The agreement with the most holes, at least so many; with the side up that is not allowed if asked."""
        ways_up = tuple(f for f in (False, True) if f not in self.ways_up) if other_side_up else self.ways_up
        return agreements(_middles(self.a), _middles(self.b) / scale, ways_up, least)


def likely_fault(case: PatternCase, found: Fit, names: tuple[str, str], drills: str = "") -> Fault | None:
    """
    The fault that explains a fit that is no GO; None for a GO, and where no single one does.

    `names` are those of A and B, `drills` says what holes to drill for the fastener. A stated position, several
    fasteners and more than `MOST_HOLES` are left alone.
    """
    if found.verdict == "GO" or case.places or case.also:
        return None
    if not 1 < max(len(case.a.holes), len(case.b.holes)) <= MOST_HOLES:
        return None
    return _likely(case, any(w.kind == "too small" for w in found.wrong), names, drills)


@lru_cache(maxsize=64)
def _likely(case: PatternCase, small: bool, names: tuple[str, str], drills: str) -> Fault | None:
    plates = _plates(case, names)
    if not plates.a or not plates.b:
        return None
    unit = _scaled(_Plates(case.a.holes, case.b.holes, names, case))
    if unit is not None and unit.kind == "unit":
        return unit
    sizes = wrong_sizes(case, names, drills)
    if sizes:
        return Fault("size", *sizes)
    if small:  # the holes themselves are told, each with its size
        return None
    return next(_faults(plates), None)


def _faults(plates: _Plates) -> Iterator[Fault]:
    whole = plates.agreeing(max(2, plates.fewer))
    if whole is None and plates.fewer >= FEWEST:
        yield from _mirrored(plates)
    if whole is not None and not plates.even and plates.fewer >= FEWEST:
        yield _more(plates, whole)
    if whole is None:
        yield from filter(None, (_scaled(plates), _pitched(plates), _moved(plates), _counted(plates)))


def _plates(case: PatternCase, names: tuple[str, str]) -> _Plates:
    """The holes that could take the fastener; every hole of both where one plate has none such."""
    table = tabulate(case)
    if table.a and table.b:
        return _Plates(table.a, table.b, names, case)
    return _Plates(case.a.holes, case.b.holes, names, case)


def _middles(holes: tuple[Hole, ...]) -> Plane:
    return np.array([complex(*h.centre) for h in holes])


def _mirrored(plates: _Plates) -> Iterator[Fault]:
    if set(plates.ways_up) == {False, True}:
        return
    found = plates.agreeing(plates.fewer, other_side_up=True)
    if found is not None and (plates.even or plates.fewer > FEWEST):
        first, second = plates.names
        way = "turned over" if plates.case.turned_over == "no" else "not turned over"
        other = f"record {first} as {way}"
        yield Fault(
            "mirrored",
            f"all {plates.fewer} holes agree with {first} {way}: a drawing looks mirrored",
            f"mirror the drawing of {first} or of {second}, or {other}",
        )


def _more(plates: _Plates, whole: Agreement) -> Fault:
    on_a = len(plates.a) > len(plates.b)
    holes, used = (plates.a, whole.used_a) if on_a else (plates.b, whole.used_b)
    own, other = plates.names if on_a else plates.names[::-1]
    left = tuple(h.label for k, h in enumerate(holes) if k not in used)
    count = "1 extra hole" if len(left) == 1 else f"{len(left)} extra holes"
    one = "it" if len(left) == 1 else "them"
    place = over(whole, [complex(*h.centre) for h in holes if h.label in left], from_a=on_a)
    told = ", ".join(f"({z.real:.2f}, {z.imag:.2f})" for z in place[:MOST_PLACES])
    told += " and so on" if len(place) > MOST_PLACES else ""
    return Fault(
        "more",
        f"{own} has {count}: {', '.join(left)}; all {plates.fewer} holes of {other} agree",
        f"add the counterpart to {other} at {told} mm, remove {one} from {own}, or name hole groups without {one}",
        (left, ()) if on_a else ((), left),
    )


def _scaled(plates: _Plates) -> Fault | None:
    """Both patterns alike but for their size."""
    if not plates.even or plates.fewer < 2:  # noqa: PLR2004 - two holes have a distance
        return None
    a, b = _middles(plates.a), _middles(plates.b)
    sizes = [float(np.sqrt((np.abs(z - z.mean()) ** 2).mean())) for z in (a, b)]
    if min(sizes) <= 0:
        return None
    scale = sizes[1] / sizes[0]
    if plates.fewer > 2 and plates.agreeing(plates.fewer, scale=scale) is None:  # noqa: PLR2004 - two always do
        return None
    if min(abs(scale * f - 1) for f in (INCH, 1 / INCH)) <= NEAR:
        return _unit(plates, plates.names[scale < 1])
    return _lengths(plates, a, b, _slip(scale, plates))


def _lengths(plates: _Plates, a: Plane, b: Plane, hint: str) -> Fault:
    """The length that shows best that one pattern is larger: of a circle, a pitch, or from one end to the other."""
    one, other = circle_mm(a), circle_mm(b)
    if one and other:
        return Fault("circle", *_two("bolt circle", one, other, plates, hint))
    steps = [pitches_mm(z) for z in (a, b)]
    if all(steps):
        one, other = max(zip(*steps, strict=False), key=lambda x: abs(x[1] - x[0]))
        return Fault("pitch", *_two("hole pitch", one, other, plates, hint))
    one, other = (float(np.abs(z[:, None] - z[None, :]).max()) for z in (a, b))
    return Fault("scale", *_two("distance of the outermost holes", one, other, plates, hint))


def _unit(plates: _Plates, small: str) -> Fault:
    """The pattern of `small` is 25.4 times smaller: it is at fault unless only the other one has odd holes."""
    first, second = plates.names
    table = tabulate(plates.case)
    odd = first if not table.a and table.b else second if not table.b and table.a else ""
    other = second if small == first else first
    told = {
        small: f"{small}: {_UNITS[False]}",
        other: f"{other}: {_UNITS[True]}",
    }
    text = told[odd] if odd else f"{told[small]} (or {told[other]})"
    of = odd or f"{small} and of {other}"
    return Fault(
        "unit",
        f"{text}; its pattern is 25.4 times {'larger' if odd == other else 'smaller'}",
        f"check the unit of {of}",
    )


def _slip(scale: float, plates: _Plates) -> str:
    small = plates.names[0] if scale > 1 else plates.names[1]
    large = scale if scale > 1 else 1 / scale
    if abs(large / 2 - 1) <= NEAR:
        return f"{small} has half the size: a radius taken for a diameter?"
    return "25 taken for 25.4?" if abs(large / (INCH / 25) - 1) <= NEAR / 2 else ""


def _two(what: str, one_mm: float, other_mm: float, plates: _Plates, hint: str = "") -> tuple[str, str]:
    """The words of a length that differs between A and B, and its fix."""
    first, second = plates.names
    one, other = show_mm(one_mm, 2), show_mm(other_mm, 2)
    guess = f"; {hint}" if hint else ""
    return (
        f"{what} of {first} is {one}, of {second} {other}{guess}",
        f"make it {other} in {first}, or {one} in {second}",
    )


def _pitched(plates: _Plates) -> Fault | None:
    """Two grids of as many rows and columns, of another pitch along one side or both."""
    if not plates.even or plates.fewer < FEWEST_MOVED:
        return None
    steps = [pitches_mm(_middles(z)) for z in (plates.a, plates.b)]
    counts = [pitches_mm(_middles(z), count=True) for z in (plates.a, plates.b)]
    if not steps[0] or not steps[1]:
        return None
    a, b = (tuple(zip(n, s, strict=True)) for n, s in zip(counts, steps, strict=True))
    ways = [b, b[::-1]]
    alike = [w for w in ways if [n for n, _ in w] == [n for n, _ in a]]
    if not alike:
        return None
    way = min(alike, key=lambda w: sum(abs(y[1] - x[1]) for x, y in zip(a, w, strict=True)))
    one, other = max(((x[1], y[1]) for x, y in zip(a, way, strict=True)), key=lambda p: abs(p[1] - p[0]))
    return Fault("pitch", *_two("hole pitch", one, other, plates))


def _moved(plates: _Plates) -> Fault | None:
    """One hole of both plates is left over, all others agree."""
    if not plates.even or plates.fewer < FEWEST_MOVED:
        return None
    found = plates.agreeing(plates.fewer - 1)
    if found is None:
        return None
    i = next(k for k in range(len(plates.a)) if k not in found.used_a)
    k = next(k for k in range(len(plates.b)) if k not in found.used_b)
    a, b = plates.a[i], plates.b[k]
    here, there = (complex(*h.centre) for h in (a, b))
    goal = over(found, [there], from_a=False)[0] - here
    back = over(found, [here], from_a=True)[0] - there
    first, second = plates.names
    return Fault(
        "moved",
        f"{b.label} of {second} is {show_mm(abs(back), 2)} off {a.label} of {first}; "
        f"the other {plates.fewer - 1} holes agree",
        f"move {a.label} of {first} by ({goal.real:+.2f}, {goal.imag:+.2f}) mm, or {b.label} of {second} by "
        f"({back.real:+.2f}, {back.imag:+.2f}) mm",
        ((a.label,), (b.label,)),
    )


def _counted(plates: _Plates) -> Fault | None:
    """Both on one circle, evenly, but not as many."""
    rings = [circle_mm(_middles(z)) for z in (plates.a, plates.b)]
    if plates.even or not rings[0] or not rings[1]:
        return None
    (one, other), (first, second) = (len(plates.a), len(plates.b)), plates.names
    sizes = [show_mm(r, 2) for r in rings if r]
    return Fault(
        "count",
        f"{first} has {one} holes on its bolt circle of {sizes[0]}, {second} has {other} on {sizes[1]}",
        f"draw the same count of holes in {first} and {second}",
    )
