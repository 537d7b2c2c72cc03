"""
Bolted connections that put three and more parts on the same bolts: which holes of a part two connections both take.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from ledger.cases.answers import NotRun
from ledger.cases.connections import ConnectionCase
from ledger.cases.fitting import fastenings
from ledger.cases.rings import labels_of, parts_of
from ledger.checks._common_pattern import of_two_pieces
from ledger.domain.pose import Pose
from ledger.fit.shared_bolts import Assembled, Connected, Hold

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


def fits_alone(case: ConnectionCase) -> bool:
    """Whether a connection fits by itself."""
    fit = case.best_fit if len(case.plies) == _BOTH else case.best_stack
    return fit is not None and fit.verdict == "GO"


def connected(case: ConnectionCase) -> Connected:
    """A connection that fits by itself, for the fit of shared bolts. Raises NotRun for a stack without bolts."""
    parts = tuple(p.part.number for p in case.plies)
    if len(case.plies) > _BOTH:
        return _stack(case, parts)
    fit = case.best_fit
    ways = tuple(
        Assembled((w.pose, Pose()), tuple((a, b) for a, b in w.pairs))
        for w in (fit.assemblies if fit else ())
    )
    return Connected(parts, fastenings(case), ways, fit is not None and len(ways) == fit.ways, _hold(case))


def _stack(case: ConnectionCase, parts: tuple[str, ...]) -> Connected:
    """The one way that was found of a stack; another one is only ruled out where its position is stated."""
    fit = case.best_stack
    if fit is None or not fit.bolts or not fit.poses:
        raise NotRun(
            f"{case.connection.name} is a stack whose bolts {parts[-1] if parts else ''} holds, and shares holes with "
            f"other connections: enter the position of each"
        )
    whole = isinstance(case.connection.position, Pose)
    return Connected(parts, fastenings(case), (Assembled(fit.poses, fit.bolts),), whole, _hold(case))


def _hold(case: ConnectionCase) -> Hold:
    """Whether its parts may lie in certain places only, along a guide, or where the holes let them."""
    if case.connection.position is None:
        return "free"
    if len(case.plies) > _BOTH:
        return "fixed"  # the position of a stack is never along a guide
    places = case.pattern.places if case.pattern else ()
    return "fixed" if all(isinstance(p, Pose) for p in places) else "guided"
