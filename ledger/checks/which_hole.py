"""
Which of two holes that do not go together is contradicted by a key dimension or by a third part.

Two drawings cannot say which of them errs. A *witness* is a key dimension that places one of the two holes, or another
part that bolts to the same hole; it agrees with the hole where it is drawn, or contradicts it. Witnesses are a hint,
never a verdict: they may err as well.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotRun
from ledger.cases.surroundings import CountedConnection
from ledger.checks._frame import check
from ledger.checks._measured_on import holds, measured_mm
from ledger.domain.finding import Finding
from ledger.domain.record import Dimension, Part

_BOTH = 2
_PLACED_BY = ("distance", "distance-x", "distance-y", "edge")


@check(
    on=CountedConnection,
    source="common practice: the drawing that its own dimensions and its other partners bear out is taken for right",
    codes=("witnessed",),
    severity="note",
)
def which_hole(seen: CountedConnection) -> Iterator[Finding]:
    """
    Of two holes that miss each other one is usually right, and something else on the drawings knows which.

    Without a hint the easier drawing is changed, and then the other joint no longer goes together.
    """
    case = seen.case
    fit = case.best_fit
    wrong = [w for w in fit.wrong if w.kind == "offset"] if fit else []
    if not wrong or len(case.plies) != _BOTH:
        raise DoesNotApply
    for pair in wrong:
        for place, label in enumerate((pair.a, pair.b)):
            number = case.plies[place].part.number
            said = [
                f"{words} {'agrees with' if agrees else 'contradicts'} {label} of {number}"
                for agrees, words in (*_dimensions(seen, place, label), *_thirds(seen, number, label))
            ]
            if said:
                yield Finding(
                    "witnessed",
                    "; ".join(said),
                    severity="note",
                    where=f"{case.connection.name}/{number}/{label}",
                )


def _dimensions(seen: CountedConnection, place: int, label: str) -> Iterator[tuple[bool, str]]:
    """Key dimensions that place the hole, and whether the drawing keeps them."""
    for dimension in seen.dimensions[place] if seen.dimensions else ():
        drawn = _drawn(seen.case.plies[place].part, dimension, label)
        if drawn:
            yield (
                all(holds(dimension, v) for v in drawn),
                f"key dimension {dimension.name} ({dimension.nominal})",
            )


def _drawn(part: Part, dimension: Dimension, label: str) -> tuple[float, ...] | None:
    """What the drawing has for a dimension that places this hole; None for any other."""
    try:
        measured_on = dimension.measured_on
        if measured_on is None or measured_on.kind not in (*_PLACED_BY, "pitch", "circle"):
            return None
        group = part.group(measured_on.group) if measured_on.group else None
        if label not in (group.labels if group else measured_on.labels):
            return None
        return measured_mm(part, measured_on)
    except NotRun:
        return None


def _thirds(seen: CountedConnection, number: str, label: str) -> Iterator[tuple[bool, str]]:
    """Other parts whose hole lies opposite the same hole, and whether it passes there."""
    for other in seen.around:
        place = other.place_of(number)
        fit = other.best_fit if len(other.plies) == _BOTH else None
        if place is None or fit is None or fit.code:
            continue
        third = other.plies[1 - place].part.number
        if label in {(p.a, p.b)[place] for p in fit.pairs}:
            yield True, f"{third} ({other.connection.name})"
        elif label in {(w.a, w.b)[place] for w in fit.wrong if w.kind == "offset"}:
            yield False, f"{third} ({other.connection.name})"
