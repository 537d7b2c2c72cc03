"""
Several bolted connections of the same two parts as one pattern: all their fasteners, and where the first part may lie.

All are turned to one *order* of the two parts: that of the connection whose fasteners one part holds. What they state
of the position must agree; what only one of them states holds for all. Holes of one part that two connections take
while the other part has holes for each are those of two pieces of it, which lie in two positions.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import combinations
from typing import cast

from ledger.cases.answers import NotRun
from ledger.cases.bending import crosses_bend
from ledger.cases.connections import ConnectionCase
from ledger.cases.fitting import fastenings, flush_places
from ledger.cases.rings import plies_of
from ledger.domain.connection import Pins, Sides
from ledger.domain.pose import Pose
from ledger.fit.case import WAYS_UP, Fastening, Fit, PatternCase, Ply, TurnedOver
from ledger.fit.guide import Guide
from ledger.fit.pattern import fit
from ledger.fit.pins import by_pins

_SAME = 1e-6  # mm or degrees between two stated positions
_MOST_SIDES = 2


def order_of(cases: Sequence[ConnectionCase]) -> tuple[str, str]:
    """Which of the two parts is laid on the other. Raises NotRun where fasteners are held on both sides."""
    orders = {_order(c): c.connection.name for c in cases if any(f.joint != "through" for f in fastenings(c))}
    if len(orders) > 1:
        first, second = sorted(orders.values())[:2]
        raise NotRun(
            f"{first} and {second} hold their fasteners in different parts: enter the position in both, and each is "
            f"then checked there"
        )
    return next(iter(orders), _order(cases[0]))


def _order(case: ConnectionCase) -> tuple[str, str]:
    first, second = (p.part.number for p in case.plies)
    return first, second


def turned(case: ConnectionCase, order: tuple[str, str]) -> ConnectionCase:
    """The connection with its plies in this order; what it states of their position likewise."""
    if _order(case) == order:
        return case
    connection, position = case.connection, case.connection.position
    if isinstance(position, Pose):
        position = position.back
    elif isinstance(position, Sides):
        position = Sides(tuple((b, a) for a, b in position.pairs))
    also = tuple(replace(m, groups=m.groups[::-1]) for m in connection.also)
    connection = replace(connection, plies=connection.plies[::-1], position=position, also=also)
    return replace(case, connection=connection, plies=case.plies[::-1])


def ways_up_of(case: ConnectionCase) -> frozenset[bool]:
    """Which way up the first part may be laid."""
    position = case.connection.position
    if isinstance(position, Pose):
        return frozenset((position.turned_over,))
    return frozenset(WAYS_UP[cast("TurnedOver", case.connection.turned_over)])


def same_position(one: ConnectionCase, other: ConnectionCase) -> bool:
    """Whether two connections in one order do not state positions that differ."""
    first, second = one.connection.position, other.connection.position
    if not (isinstance(first, Pose) and isinstance(second, Pose)):
        return True
    apart = (first.x_mm - second.x_mm, first.y_mm - second.y_mm, (first.angle_deg - second.angle_deg) % 360.0)
    turn = min(apart[2], 360.0 - apart[2])
    return max(abs(apart[0]), abs(apart[1]), turn) <= _SAME


def of_two_pieces(one: ConnectionCase, other: ConnectionCase) -> str:
    """
    The part of which two connections take the same holes, for different holes of the other; empty if there is none.
    """
    if any(not p.ply.group for c in (one, other) for p in c.plies):
        return ""
    numbers = [p.part.number for p in one.plies]
    shared = [n for n in numbers if _labels(one, n) & _labels(other, n)]
    return shared[0] if len(shared) == 1 else ""


def _labels(case: ConnectionCase, number: str) -> frozenset[str]:
    return frozenset(h.label for _, p in plies_of((case,), number) for h in p.all_holes)


def across_bend(cases: Sequence[ConnectionCase]) -> str:
    """The part whose holes in these connections lie on both sides of a bend; empty if there is none."""
    for number in _order(cases[0]):
        placed = [p for _, p in plies_of(cases, number)]
        profile = placed[0].part.profile
        centres = {h.centre for p in placed for h in p.all_holes}
        if profile and any(crosses_bend(a, b, profile.bends) for a, b in combinations(sorted(centres), 2)):
            return number
    return ""


def common_pattern(cases: Sequence[ConnectionCase]) -> PatternCase:
    """
    The question that connections in one order, which state nothing that differs, are together.

    Raises NotRun where what they state cannot be put together, BadInput where one hole takes two fasteners.
    """
    stated = next((c.connection.position for c in cases if isinstance(c.connection.position, Pose)), None)
    if stated is not None:
        cases = [replace(c, connection=replace(c.connection, position=stated)) for c in cases]
    ways_up = frozenset.intersection(*map(ways_up_of, cases))
    turned_over: TurnedOver = "either" if len(ways_up) > 1 else "yes" if True in ways_up else "no"
    first, *rest = _merged([f for c in cases for f in _fastenings(c, cases)])
    pattern = PatternCase(
        first.a, first.b, first.fastener_mm, first.largest_fastener_mm, first.joint, turned_over,
        _places(cases, turned_over, stated), tuple(rest),
    )  # fmt: skip
    pattern.check()
    return pattern


@lru_cache(maxsize=32)
def fitted(pattern: PatternCase) -> Fit:
    """The fit of a question that several connections ask. Raises BadInput."""
    return fit(pattern)


def _places(
    cases: Sequence[ConnectionCase], turned_over: TurnedOver, stated: Pose | None
) -> Pose | tuple[Pose | Guide, ...] | None:
    pinned = [c for c in cases if isinstance(c.connection.position, Pins)]
    flush = [c for c in cases if isinstance(c.connection.position, Sides)]
    if stated is not None:
        return stated
    if pinned and flush:
        raise NotRun(
            f"{pinned[0].connection.name} holds the parts by pins and {flush[0].connection.name} by flush sides: enter "
            f"the same in both"
        )
    if pinned:
        pins = [f.between(0, 1) for c in pinned for f in fastenings(c)[1:] if f.joint == "dowel"]
        return by_pins(_merged(pins), turned_over)
    if not flush:
        return None
    pairs = tuple(dict.fromkeys(p for c in flush for p in cast("Sides", c.connection.position).pairs))
    if len(pairs) > _MOST_SIDES:
        raise NotRun(
            f"{' and '.join(c.connection.name for c in flush)} name different flush sides: name the same ones"
        )
    return flush_places(flush[0], Sides(pairs), turned_over)


def _fastenings(case: ConnectionCase, cases: Sequence[ConnectionCase]) -> list[Fastening]:
    """The connection's fastenings, without holes that another connection names where its own group is not named."""
    numbers = _order(case)
    taken = [{x for c in cases if c is not case for x in _named(c, number)} for number in numbers]
    return [
        replace(f, a=_without(f.a, taken[0]), b=_without(f.b, taken[1]))
        for f in (x.between(0, 1) for x in fastenings(case))
    ]


def _named(case: ConnectionCase, number: str) -> frozenset[str]:
    placed = [p for _, p in plies_of((case,), number)]
    return frozenset(h.label for p in placed for g in (p.ply.group, *p.ply.also) for h in p.holes_of(g))


def _without(ply: Ply, taken: Collection[str]) -> Ply:
    if ply.declared:
        return ply
    return replace(ply, holes=tuple(h for h in ply.holes if h.label not in taken))


def _merged(every: Sequence[Fastening]) -> list[Fastening]:
    """Fastenings of one size and joint that may take the same holes become one."""
    found: list[Fastening] = []
    for new in every:
        same = next((f for f in found if _alike(f, new) and _overlap(f, new)), None)
        if same is None:
            found.append(new)
        else:
            found[found.index(same)] = replace(same, a=_both(same.a, new.a), b=_both(same.b, new.b))
    return found


def _alike(one: Fastening, other: Fastening) -> bool:
    sizes = (one.fastener_mm, one.largest_fastener_mm, one.joint)
    return sizes == (other.fastener_mm, other.largest_fastener_mm, other.joint)


def _overlap(one: Fastening, other: Fastening) -> bool:
    sides = ((one.a, other.a), (one.b, other.b))
    return any({h.label for h in x.holes} & {h.label for h in y.holes} for x, y in sides)


def _both(one: Ply, other: Ply) -> Ply:
    known = {h.label for h in one.holes}
    return Ply(
        (*one.holes, *(h for h in other.holes if h.label not in known)),
        declared=one.declared and other.declared,
        position_mm=max(one.position_mm, other.position_mm),
        shrink_mm=max(one.shrink_mm, other.shrink_mm),
    )
