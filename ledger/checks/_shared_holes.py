"""
Bolted connections that put three and more parts on the same bolts: which holes of a part two connections both take.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from ledger.checks._case import ConnectionCase
from ledger.checks._common_pattern import of_two_pieces
from ledger.checks._fitting import fastenings
from ledger.checks._rings import labels_of, parts_of
from ledger.fit.case import Way
from ledger.fit.shared_bolts import Connected

_BOTH = 2


def on_shared_holes(
    case: ConnectionCase, connections: Sequence[ConnectionCase]
) -> tuple[tuple[ConnectionCase, ...], tuple[str, ...]]:
    """The connections on whose bolts this one's parts are, with it; and what is not known of others, in words."""
    found, left, doubtful = {case.connection.name: case}, [case], []
    while left:
        one = left.pop()
        for other in connections:
            if other.connection.name in found:
                continue
            sure, perhaps = _share(one, other)
            if sure:
                found[other.connection.name] = other
                left.append(other)
            elif perhaps and one is case:
                doubtful.append(
                    f"whether {one.connection.name} and {other.connection.name} take the same holes of {perhaps}"
                )
    return tuple(found[n] for n in sorted(found)), tuple(doubtful)


def _share(one: ConnectionCase, other: ConnectionCase) -> tuple[bool, str]:
    """Whether two connections surely take the same hole, or the same two parts; else the part of which they may."""
    shared = sorted(parts_of(one) & parts_of(other))
    if len(shared) > 1:
        pieces = len(one.plies) == len(other.plies) == _BOTH and of_two_pieces(one, other)
        return not pieces, ""
    for number in shared:
        if labels_of(one, number) & labels_of(other, number):
            meet = [bool(a & b) for a, b in product(_taken(one, number), _taken(other, number))]
            if not meet or any(meet):
                return all(meet), number
    return False, ""


def _taken(case: ConnectionCase, number: str) -> list[frozenset[str]]:
    """The holes of a part that a connection takes, in every way it goes together."""
    place, fit = case.place_of(number), case.best_fit
    declared = all(p.ply.group for p in case.plies if p.part.number == number)
    if declared or place is None or fit is None or len(case.plies) > _BOTH:
        return [labels_of(case, number)]
    return [frozenset(pair[place] for pair in way.pairs) for way in fit.assemblies]


def connected(case: ConnectionCase) -> Connected:
    """A connection of two plies that go together, as the fit of shared bolts needs it."""
    first, second = (p.part.number for p in case.plies)
    fit = case.best_fit
    ways: tuple[Way, ...] = fit.assemblies if fit else ()
    return Connected(
        (first, second), tuple(f.between(0, 1) for f in fastenings(case)), ways,
        fit is not None and len(ways) == fit.ways,
    )  # fmt: skip
