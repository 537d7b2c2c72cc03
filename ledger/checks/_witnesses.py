"""
What else is known of two holes that do not go together: key dimensions bound to them, and other parts they meet.

Two drawings cannot say which of them errs. A *witness* is a key dimension or a third part that agrees with one of the
two holes where it is drawn, or contradicts it. Witnesses are a hint, never a verdict: they may err as well.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._binding import binding, holds, measured_mm
from ledger.checks._case import MateCase, PlacedPly
from ledger.checks._frame import NotRun
from ledger.domain.record import Part

_BOTH = 2
_PLACED_BY = ("distance", "distance-x", "distance-y", "edge")


def witnesses(case: MateCase, labels: tuple[str, str]) -> str:
    """What speaks for and against each hole of a wrong pair, as a sentence to put behind its remedy; or nothing."""
    said = []
    for placed, label in zip(case.plies, labels, strict=True):
        for agrees, words in (*_dimensions(placed.part, label), *_thirds(case, placed, label)):
            said.append(
                f"{words} {'agrees with' if agrees else 'contradicts'} {label} of {placed.part.number}"
            )
    return "".join(f"; {words}" for words in said)


def _dimensions(part: Part, label: str) -> Iterator[tuple[bool, str]]:
    """Key dimensions that place the hole, and whether the drawing keeps them."""
    for dimension in part.dimensions:
        try:
            bound = binding(dimension.bound)
            if bound is None or bound.kind not in (*_PLACED_BY, "pitch", "circle"):
                continue
            group = part.group(bound.group) if bound.group else None
            if label not in (group.labels if group else bound.labels):
                continue
            drawn = measured_mm(part, bound)
        except NotRun:
            continue
        if drawn is not None:
            yield (
                all(holds(dimension, v) for v in drawn),
                f"key dimension {dimension.name} ({dimension.nominal})",
            )


def _thirds(case: MateCase, placed: PlacedPly, label: str) -> Iterator[tuple[bool, str]]:
    """Other parts whose hole lies opposite the same hole, and whether it passes there."""
    number = placed.part.number
    for other in case.neighbours():
        place = next((n for n, p in enumerate(other.plies) if p.part.number == number), None)
        if place is None or len(other.plies) != _BOTH or other.mate.kind != "bolted":
            continue
        fit = other.best_fit
        if fit is None or fit.verdict == "NO PATTERN":
            continue
        third = other.plies[1 - place].part.number
        if label in {(p.a, p.b)[place] for p in fit.pairs}:
            yield True, f"{third} ({other.mate.name})"
        elif label in {(w.a, w.b)[place] for w in fit.wrong if w.kind == "offset"}:
            yield False, f"{third} ({other.mate.name})"
