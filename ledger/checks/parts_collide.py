"""
No part stands where another one does, once everything is bolted together.

Bodies are flat plates with their holes and coats, and bent ones with flanges and bends; they stand face on face as the
connections say, where the holes fit best. Two collide where a ball fits into what they share that is larger than the
play of all connections between them: no place that the bolts allow parts them.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.build import MOST_PARTS, Build
from ledger.cases.surroundings import BuiltPart
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm


@check(
    on=BuiltPart,
    source="geometry: solids of the drawings in space, intersected; play of the bolts by the fit of each connection",
    codes=("parts_overlap",),
    severity="stop",
)
def parts_collide(seen: BuiltPart) -> Iterator[Finding | NotChecked]:
    """
    Parts that no connection joins are not in each other.

    Two brackets can each fit their plate and stand in the same place.
    """
    build = seen.build
    if not build.is_more_than_pairs:
        raise DoesNotApply
    if len(build.parts) > MOST_PARTS:
        yield NotChecked(f"room in space: more than {MOST_PARTS} parts hang together with {seen.number}")
        return
    yield from (NotChecked(f"room in space: {why}") for why in _left(seen))
    for met in build.meetings:
        if seen.number not in (met.one.number, met.other.number):
            continue
        names = f"{met.one.name} and {met.other.name}"
        if met.collides:
            yield Finding(
                "parts_overlap",
                f"{names} are {show_mm(met.deep_mm, 2)} deep in each other as they are bolted; the bolts leave "
                f"{show_mm(met.play_mm, 2)} of play",
                severity="stop",
                where="/".join(sorted((met.one.name, met.other.name))),
                fix=_fix(build, met.one.number, met.other.number),
                measured=show_mm(met.deep_mm, 2),
                limit=f"<= {show_mm(met.play_mm, 2)}",
            ).held_to(met.deep_mm, met.play_mm)
            continue
        state = (
            f"share {show_mm(met.deep_mm, 2)}" if met.deep_mm > 0 else f"are {show_mm(met.gap_mm, 2)} apart"
        )
        why = met.doubt or f"the bolts leave {show_mm(met.play_mm, 2)} of play"
        yield NotChecked(f"whether {names} meet: they {state} as fitted, {why}")


def _fix(build: Build, one: str, other: str) -> str:
    parts = (build.part(number) for number in dict.fromkeys((one, other)))
    cut_back = [(part, f"move or cut back {part.number}") for part in parts]
    return joined([*cut_back, (None, "correct the connections between them")])


def _left(seen: BuiltPart) -> Iterator[str]:
    """What of this part does not stand, and why."""
    own = {c.connection.name for c in seen.build.connections if c.place_of(seen.number) is not None}
    for name, why in sorted(seen.build.places.left.items()):
        if name == seen.number or name in own:
            yield why
