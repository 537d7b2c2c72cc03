"""
What a key dimension is bound to on the drawing: width, height, `diameter H1`, `distance H1 H2`.

A *binding* is the kind and the hole labels that it names. The act that records a dimension refuses any other
text.
"""

from __future__ import annotations

import math

from ledger.checks._frame import NotRun
from ledger.domain.record import Part

_LABELS_OF = {"width": 0, "height": 0, "diameter": 1, "distance": 2}


def binding(bound: str) -> tuple[str, tuple[str, ...]]:
    """Kind and labels of a binding; ("", ()) for none. Raises NotRun where it cannot be read."""
    kind, *labels = bound.split() or [""]
    if kind and _LABELS_OF.get(kind) != len(labels):
        raise NotRun(f"{bound!r} is none of {', '.join(_LABELS_OF)} with its holes: bind it again")
    return kind, tuple(labels)


def measured_mm(part: Part, kind: str, labels: tuple[str, ...]) -> float | None:
    """The bound value as drawn; None where a hole that it names is gone. Raises NotRun without a drawing."""
    if kind in ("width", "height"):
        size = part.profile.size_mm if part.profile else None
        if size is None:
            raise NotRun(f"there is no drawing to measure the {kind} on")
        return size[kind == "height"]
    holes = [part.hole(label) for label in labels]
    found = [h for h in holes if h is not None]
    if len(found) < len(labels):
        return None
    if kind == "diameter":
        return found[0].diameter_mm
    return math.dist(found[0].centre, found[1].centre)
