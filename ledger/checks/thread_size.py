"""
A hole of a thread's size is said to be tapped, or to be plain.

Looked at are coarse threads, by tap drill and by outside diameter, and holes that are in no group: what a group is
for is told by its mate. A fine or medium clearance hole of any thread is taken for that.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from ledger.checks._case import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.domain.shape import Hole
from ledger.standards.clearance_holes import clearance_holes
from ledger.standards.fasteners import Fastener, fasteners

_SAME_MM = 0.011  # sizes are drawn to a hundredth of a millimetre
_COARSE = ("coarse", "UNC")
_FITS = ("fine", "medium")
_LONGEST = 60


@check(
    on=PartCase,
    source="tap drills: common practice; outside diameters ISO 261 and ASME B1.1, from memory",
    codes=("thread_asked",),
    severity="stop",
    not_checked="whether a hole of another size is to be tapped",
    apart_from=("dimensions", "questions", "note"),
)
def thread_size(case: PartCase) -> Iterator[Finding]:
    """
    Nobody has to guess whether a hole is tapped.

    A hole at the size of a tap drill, or at that of the thread itself, is cut as drawn: without a word about the
    thread the plate comes back with plain holes, or with ones too large to tap.
    """
    part = case.part
    if part.form != "cut" or part.taken is None:
        return
    settled = {f.label for f in part.hole_finishes} | {label for g in part.groups for label in g.labels}
    asked: defaultdict[tuple[str, str], list[Hole]] = defaultdict(list)
    for hole in part.taken.profile.holes:
        meant = None if hole.is_slot or hole.label in settled else _thread(hole.diameter_mm)
        if meant:
            asked[meant].append(hole)
    for (thread, what), holes in asked.items():
        labels = " ".join(h.label for h in holes)
        yield Finding(
            "thread_asked",
            f"{labels}: {holes[0].diameter_mm:.2f} mm is {what} of {thread}: tapped, or plain as drawn?",
            severity="stop",
            where=labels if len(labels) <= _LONGEST else f"{holes[0].label} and {len(holes) - 1} more",
            remedy="say what is done to these holes: tapped with their thread, or plain",
            measured=f"{holes[0].diameter_mm:.2f} mm",
        )


def _thread(diameter_mm: float) -> tuple[str, str] | None:
    """The coarse thread whose tap drill, else whose outside diameter, this is."""
    if any(
        abs(h.diameter_mm(fit) - diameter_mm) <= _SAME_MM for h in clearance_holes().values() for fit in _FITS
    ):
        return None
    coarse = [f for f in fasteners() if f.series in _COARSE]
    for what, size in (("the tap drill", _drill), ("the outside diameter", _outside)):
        for thread in coarse:
            if abs(size(thread) - diameter_mm) <= _SAME_MM:
                return thread.designation, what
    return None


def _drill(thread: Fastener) -> float:
    return thread.tap_drill_mm


def _outside(thread: Fastener) -> float:
    return thread.diameter_mm
