"""
A hole of a thread's size is entered as tapped or as plain; one that is to be tapped can be.

Asked about are coarse threads, by tap drill and by outside diameter, and holes that are in no group: what a group is
for is told by its connection. A fine or medium clearance hole of any thread is taken for that. A hole that is to be
tapped is at most as wide as the thread's largest minor diameter; a smaller one is drilled out first.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.checks._threads import DRAWN_MM, named, too_wide
from ledger.domain.finding import Finding
from ledger.domain.shape import Hole
from ledger.standards.clearance_holes import clearance_holes
from ledger.standards.fasteners import Fastener, fastener, fasteners

_COARSE = ("coarse", "UNC")
_FITS = ("fine", "medium")

_LARGEST_ASKED_MM = {"metric": 36.0, "UN": 25.4}  # a plain hole of 60 mm is no M60
_RARE = ("M3.5", "M7", "#2")


@check(
    on=PartCase,
    source="tap drills: common practice; outside diameters ISO 261 and ASME B1.1, from memory; largest minor diameters "
    "ISO 965-1 6H and ASME B1.1 2B",
    codes=("thread_asked", "too_wide_to_tap"),
    severity="stop",
    not_checked="whether a hole of another size is to be tapped",
)
def thread_size(case: PartCase) -> Iterator[Finding]:
    """
    Nobody has to guess whether a hole is tapped, and what is to be tapped leaves metal for the thread.

    A hole at the size of a tap drill, or at that of the thread itself, is cut as drawn: without a word about the
    thread the plate comes back with plain holes, or with ones too large to tap.
    """
    part = case.part
    if part.form != "cut" or part.taken is None:
        raise DoesNotApply
    tapped = [(part.hole(f.label), f.thread) for f in part.operations if f.operation == "tapped"]
    threads = [(hole, fastener(thread)) for hole, thread in tapped if hole is not None]
    yield from too_wide("too_wide_to_tap", "", part.number, threads)
    settled = {f.label for f in part.operations} | {label for g in part.groups for label in g.labels}
    asked: defaultdict[tuple[str, str], list[Hole]] = defaultdict(list)
    for hole in part.taken.profile.holes:
        meant = None if hole.is_slot or hole.label in settled else _thread(hole.diameter_mm)
        if meant:
            asked[meant].append(hole)
    for (thread, what), holes in asked.items():
        yield Finding(
            "thread_asked",
            f"{named(holes)}: {holes[0].diameter_mm:.2f} mm is {what} of {thread}: tapped, or plain as drawn?",
            severity="stop",
            where=named(holes),
            fix="enter what is done to these holes: tapped with their thread, or plain",
            measured=f"{holes[0].diameter_mm:.2f} mm",
        )


def _thread(diameter_mm: float) -> tuple[str, str] | None:
    """The coarse thread whose tap drill, else whose outside diameter, this is."""
    if any(
        abs(h.diameter_mm(fit) - diameter_mm) <= DRAWN_MM for h in clearance_holes().values() for fit in _FITS
    ):
        return None
    coarse = [f for f in fasteners() if f.series in _COARSE and _usual(f)]
    for what, size in (("the tap drill", _drill), ("the outside diameter", _outside)):
        for thread in coarse:
            if abs(size(thread) - diameter_mm) <= DRAWN_MM:
                return thread.designation, what
    return None


def _usual(thread: Fastener) -> bool:
    """Whether a hole at its size is likelier to be a thread than a round figure: not so for large and rare sizes."""
    most = _LARGEST_ASKED_MM["UN" if thread.system == "UN" else "metric"]
    return thread.diameter_mm <= most and thread.size not in _RARE


def _drill(thread: Fastener) -> float:
    return thread.tap_drill_mm


def _outside(thread: Fastener) -> float:
    return thread.diameter_mm
