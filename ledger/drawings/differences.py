"""
What differs between two drawings of one part, in a few words: `H5 moved 3.00 mm`, `outline 4.00 mm wider`.

Holes are told by their labels, which follow them from one drawing to the next. One that left its label behind because
it moved far is paired with the only new one of its size.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import hypot
from typing import Final

from ledger.domain.plural import counted
from ledger.domain.shape import Contour, Hole, Profile, Stroke

MOST: Final = 3
_MM: Final = 0.0005  # what rounds to the same thousandth is the same
_PLACES: Final = 4


def in_few_words(old: Profile, new: Profile) -> tuple[str, ...]:
    """Everything that differs, at most MOST of it by name; nothing where both are one shape."""
    found = [*_holes(old.holes, new.holes), *_outlines(old.outline, new.outline)]
    for what, many in (("opening", "openings"), ("bend line", "bend lines"), ("mark", "marks")):
        found += _several(what, many, *(_figures(p, many) for p in (old, new)))
    more = [f"{len(found) - MOST} more"] if len(found) > MOST + 1 else []
    return (*found[: MOST if more else MOST + 1], *more)


def _holes(old: Iterable[Hole], new: Iterable[Hole]) -> Iterator[str]:
    before, now = ({h.label: h for h in holes} for holes in (old, new))
    both = [label for label in before if label in now]
    went = [h for label, h in before.items() if label not in now]
    came = [h for label, h in now.items() if label not in before]
    pairs = [(before[label], now[label]) for label in both]
    for hole in list(went):
        same = [h for h in came if _size(h) == _size(hole)]
        if len(same) == 1 and sum(_size(h) == _size(hole) for h in went) == 1:
            pairs.append((hole, same[0]))
            went.remove(hole)
            came.remove(same[0])
    yield from _moved(pairs)
    for a, b in pairs:
        if abs(a.diameter_mm - b.diameter_mm) >= _MM:
            yield f"{a.label} is {b.diameter_mm:.2f} mm (was {a.diameter_mm:.2f})"
    yield from _named(went, "removed")
    yield from _named(came, "new")


def _moved(pairs: Iterable[tuple[Hole, Hole]]) -> Iterator[str]:
    """Holes that moved, those that moved alike together."""
    alike: dict[tuple[float, float], list[tuple[Hole, Hole]]] = {}
    for a, b in pairs:
        dx, dy = (round(q - p, 3) + 0.0 for p, q in zip(a.centre, b.centre, strict=True))
        if hypot(dx, dy) >= _MM:
            alike.setdefault((dx, dy), []).append((a, b))
        elif _core(a) != _core(b):
            yield f"{a.label} has another length or direction"
    for (dx, dy), some in alike.items():
        by = f"{hypot(dx, dy):.2f} mm"
        if len(some) > 1:
            yield f"{counted(len(some), 'hole')} moved {by} alike"
        else:
            ((a, b),) = some
            yield f"{a.label} moved {by}{'' if a.label == b.label else f', as {b.label}'}"


def _named(holes: list[Hole], how: str) -> list[str]:
    if len(holes) > 1:
        return [f"{counted(len(holes), 'hole')} {how}"]
    return [f"{h.label} {how}" for h in holes]


def _size(hole: Hole) -> tuple[bool, float]:
    return hole.is_slot, round(hole.diameter_mm, 3)


def _core(hole: Hole) -> list[tuple[float, float]]:
    return sorted((round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in hole.core)


def _outlines(old: Contour | None, new: Contour | None) -> list[str]:
    if old is None or new is None:
        return [] if old is new else [f"outline {'removed' if new is None else 'new'}"]
    if _ring(old) == _ring(new):
        return []
    a, b = ((box[2] - box[0], box[3] - box[1]) for box in (old.box, new.box))
    said = [
        f"{abs(after - before):.2f} mm {more if after > before else less}"
        for before, after, more, less in ((a[0], b[0], "wider", "narrower"), (a[1], b[1], "higher", "lower"))
        if abs(after - before) >= _MM
    ]
    return [f"outline {' and '.join(said)}" if said else "outline changed"]


def _several(what: str, many: str, old: list[str], new: list[str]) -> list[str]:
    if old == new:
        return []
    more = len(new) - len(old)
    if more:
        return [f"{counted(abs(more), what, many)} {'more' if more > 0 else 'less'}"]
    return [f"{many} changed"]


def _figures(profile: Profile, what: str) -> list[str]:
    if what == "openings":
        return sorted(map(_ring, profile.openings))
    strokes: Iterable[Stroke] = profile.bends if what == "bend lines" else profile.marks
    runs = ([tuple(round(n, _PLACES) + 0.0 for n in v) for v in s.vertices] for s in strokes)
    return sorted(str(min(run, run[::-1])) for run in runs)


def _ring(contour: Contour) -> str:
    return str([[round(n, _PLACES) + 0.0 for n in v] for v in contour.canonical().vertices])
