"""
A mate is judged only on parts that are there and stay as they are.

A ply's *face* is what the mate reads of its part. A part that is still open can change after the other is
cut, unless it goes out in the same set, is locked, or its face was frozen for this mate.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._case import MateCase, PlacedPly
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.domain.record import UNSIGNED


@check(
    on=MateCase,
    source="common practice: mating parts are released together or against a frozen interface",
    codes=("group_unknown", "group_incomplete", "no_holes", "partner_open", "face_changed"),
    severity="stop",
    besides=("standing",),
)
def plies_known(case: MateCase) -> Iterator[Finding]:
    """
    Every ply has the holes that the mate speaks of, and its face will still be the same when the parts meet.

    Two parts that fit today and are cut from different days' drawings are the commonest way not to fit.
    """
    frozen = dict(case.mate.frozen_faces)
    for placed in case.plies:
        yield from _holes_of(case, placed)
        yield from _standing_of(case, placed, frozen.get(placed.part.number))


def _holes_of(case: MateCase, placed: PlacedPly) -> Iterator[Finding]:
    part, name = placed.part, placed.ply.group
    group = part.group(name) if name else None
    where = f"{case.mate.name}/{part.number}"
    if name and group is None:
        message = f"{part.number} has no hole group {name}"
        yield _stop("group_unknown", message, where, "name the group, or choose another one")
        return
    gone = [label for label in group.labels if part.hole(label) is None] if group else []
    if gone:
        message = f"group {name} of {part.number} has lost {', '.join(gone)}"
        yield _stop("group_incomplete", message, where, "put the holes back, or name it again without them")
    if case.mate.kind == "bolted" and not placed.holes:
        message = f"{part.number} has no holes for the bolts of {case.mate.name}"
        yield _stop("no_holes", message, where, "take its drawing, or record its holes")


def _standing_of(case: MateCase, placed: PlacedPly, frozen: str | None) -> Iterator[Finding]:
    number, where = placed.part.number, f"{case.mate.name}/{placed.part.number}"
    if frozen is not None and frozen != placed.face:
        message = f"the face of {number} was frozen for {case.mate.name} and has changed since"
        yield _stop("face_changed", message, where, "put it back, or freeze the face anew")
    kept = placed.standing == "frozen" and frozen is not None
    settled = kept or placed.standing in ("in the set", "locked")
    if number == case.viewed_from or settled:
        return
    revision = f"{number} revision {placed.part.revision}"
    if placed.standing == "lock unsigned":
        message = f"{revision} {UNSIGNED}"
        remedy = f"see fitup verify; then lock a new revision of {number} together with this part"
    else:
        message = f"{revision} is still open and may change"
        remedy = f"lock {number} together with this part, or freeze its face for {case.mate.name}"
    yield _stop("partner_open", message, where, remedy)


def _stop(code: str, message: str, where: str, remedy: str) -> Finding:
    return Finding(code, message, severity="stop", where=where, remedy=remedy)
