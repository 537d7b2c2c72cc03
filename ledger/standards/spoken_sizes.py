"""
Which fasteners the sizes of two plates' holes speak of, where none is named.

A hole speaks of a thread as its *clearance hole* (between the fine and the coarse one of the table) or as its *tap
drill*. A fastener counts where both plates speak of it: clearance on clearance is through, clearance in A on tap drill
in B is tapped. The size with the most holes on both plates comes first, then the one whose medium hole is nearest.
Metric sizes are those of first choice (ISO 262), inch sizes coarse threads.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from ledger.standards.clearance_holes import clearance_holes
from ledger.standards.fasteners import Fastener, fasteners

DRAWN_MM: Final = 0.1  # what a drawn size may differ from the table: common practice, no source
FIRST_CHOICE: Final = frozenset(
    f"M{d}" for d in ("1.6", "2", "2.5", *(3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 30, 36))
)
Sizes = Mapping[str, float]  # label: diameter in mm


@dataclass(frozen=True, slots=True)
class Spoken:
    """A fastener that holes of both plates speak of, with their labels; `off_mm` from its medium hole or drill."""

    fastener: str
    joint: Literal["through", "tapped"]
    a: tuple[str, ...]
    b: tuple[str, ...]
    off_mm: float


def spoken(a: Sizes, b: Sizes, *, inch: bool = False) -> tuple[Spoken, ...]:
    """The fasteners of two plates, each hole for one of them, the largest common set first; empty where none fits."""
    left_a, left_b = dict(a), dict(b)
    found: list[Spoken] = []
    while some := list(_common(left_a, left_b, inch=inch)):
        best = min(some, key=lambda s: (-min(len(s.a), len(s.b)), s.off_mm, s.joint != "through", s.fastener))
        found.append(best)
        left_a = {k: d for k, d in left_a.items() if k not in best.a}
        left_b = {k: d for k, d in left_b.items() if k not in best.b}
    return tuple(found)


def _common(a: Sizes, b: Sizes, *, inch: bool) -> Iterator[Spoken]:
    for thread in _threads(inch=inch):
        clear_a, clear_b, drilled = _cleared(thread, a), _cleared(thread, b), _drilled(thread, b)
        medium = clearance_holes()[thread.size].medium_mm
        for joint, other, size in (("through", clear_b, medium), ("tapped", drilled, thread.tap_drill_mm)):
            if clear_a and other:
                off = [abs(a[k] - medium) for k in clear_a] + [abs(b[k] - size) for k in other]
                yield Spoken(thread.designation, joint, clear_a, other, sum(off) / len(off))  # type: ignore[arg-type]  # both are joints


def _threads(*, inch: bool) -> Iterator[Fastener]:
    sizes = clearance_holes()
    for one in fasteners():
        chosen = one.system == "UN" and one.series == "UNC" if inch else one.designation in FIRST_CHOICE
        if chosen and one.size in sizes:
            yield one


def _cleared(thread: Fastener, of: Sizes) -> tuple[str, ...]:
    hole = clearance_holes()[thread.size]
    low, high = hole.fine_mm - DRAWN_MM, hole.coarse_mm + DRAWN_MM
    return tuple(k for k, d in of.items() if low <= d <= high)


def _drilled(thread: Fastener, of: Sizes) -> tuple[str, ...]:
    return tuple(k for k, d in of.items() if abs(d - thread.tap_drill_mm) <= DRAWN_MM)
