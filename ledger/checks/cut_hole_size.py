"""
A hole left as cut has limits that a thermal cut can hold.

Looked at are holes with limits on their diameter that are left as cut. The size is held to the tolerance class of
ISO 9013 that the process keeps as a rule, the edge to its perpendicularity. Where no value is known, that is said.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.domain.record import Dimension, Part
from ledger.standards.cuts import cut_size

_AS_CUT = ("", "plain")


@check(
    on=PartCase,
    source="ISO 9013:2017 limit deviations, classes 1 and 2; ISO 9013:2002 perpendicularity; which a process holds: "
    "common practice",
    codes=("size_not_held", "edge_not_square"),
    severity="warning",
    not_checked="roughness, drag lines and dross of the cut edge",
)
def cut_hole_size(case: PartCase) -> Iterator[Finding | NotChecked]:
    """
    A thermal cut leaves a hole larger or smaller, and wider on one face than on the other.

    A fit that is only drawn is not there when the plate comes back: it needs a drill or a reamer.
    """
    part = case.part
    if part.form != "cut" or part.thickness is None or not part.process.strip():
        raise DoesNotApply
    asked = [(key, label) for key in part.dimensions if (label := _diameter(key))]
    if not asked:
        raise DoesNotApply
    for key, label in asked:
        yield from _held(part, key, label)


def _diameter(key: Dimension) -> str:
    """The label of the hole whose diameter this is; empty for another dimension."""
    on = key.measured_on
    return on.labels[0] if on and on.kind == "diameter" else ""


def _held(part: Part, key: Dimension, label: str) -> Iterator[Finding | NotChecked]:
    operation = next((f.operation for f in part.operations if f.label == label), "")
    hole, limits = part.hole(label), key.limits
    if operation not in _AS_CUT or hole is None or limits is None or part.thickness is None:
        return
    if limits.lower_mm is None or limits.upper_mm is None:
        return
    made = cut_size(part.process, float(part.thickness.mm), hole.diameter_mm)
    if made is None:
        size = f"a hole of {hole.diameter_mm:g} mm in {part.thickness}"
        yield NotChecked(f"whether {part.process} holds {key.name}: no value is known for {size}")
        return
    if made.taper_mm is None:
        yield NotChecked(f"how square {part.process} cuts {label}: no value is known")
    half = float(limits.upper_mm - limits.lower_mm) / 2
    told = [("size_not_held", f"holds ±{made.deviation_mm:.2f} mm on it", made.deviation_mm)]
    if made.taper_mm is not None:
        told.append(
            ("edge_not_square", f"leaves its edge {made.taper_mm:.2f} mm out of square", made.taper_mm)
        )
    for code, what, least in told:
        if half >= least:
            continue
        yield Finding(
            code,
            f"{key.name} requires {label} of {part.number} within ±{half:.3f} mm; {part.process} in "
            f"{part.thickness} {what} ({made.source})",
            severity="warning",
            where=key.name,
            fix=f"have {label} drilled or reamed (fitup operation {part.number} {label} --as reamed), "
            "or allow more",
            measured=f"{half:.3f} mm",
            limit=f"{least:.2f} mm",
        )
