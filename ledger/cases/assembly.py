"""
From connections that lie on a ring to the numbers that the fit of the whole needs.

Every part is taken as one piece with parallel faces: a part whose holes in two connections lie on both sides of a bend,
one that stands on edge or shows faces of other names, and one of which two pieces are recorded, are not fitted at once
with the others, and it is said which.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import inf
from typing import Final

from ledger.assembly.arrangement import Member
from ledger.assembly.closure import AssemblyCase
from ledger.cases.answers import NoDrawing, NotRun
from ledger.cases.bending import crosses_bend
from ledger.cases.bodies import is_bent_between
from ledger.cases.connections import ConnectionCase
from ledger.cases.fitting import fastenings
from ledger.cases.rings import labels_of, linked, parts_of, plies_of
from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.record import Part
from ledger.fit.shared_bolts import Assembled, Connected, Hold
from ledger.fit.stack_case import Labels, StackFit

_BOTH: Final = 2
_FLAT: Final = ("top", "bottom")
Cases = Sequence[ConnectionCase]


def is_one_question(cases: Cases) -> bool:
    """Whether these connections are all of the same parts or bolts: what their common position is looked at for."""
    found, left = {0}, [0]
    while left:
        at = left.pop()
        more = [k for k in range(len(cases)) if k not in found and linked(cases[at], cases[k])]
        found.update(more)
        left += more
    return len(found) == len(cases)


def parts_in(cases: Cases) -> dict[str, Part]:
    """The parts of these connections, by number."""
    return {p.part.number: p.part for c in cases for p in c.plies}


def assembly_case(cases: Cases) -> AssemblyCase:
    """
    What the fit of the whole is given. Raises NotRun, NoDrawing where it cannot be.
    """
    parts = parts_in(cases)
    for number, part in sorted(parts.items()):
        if part.form == "cut" and part.profile is None:
            raise NoDrawing(f"{_ring(cases)}: take the drawing of {number}", number)
    for why in _not_flat(cases, parts):
        raise NotRun(f"{_ring(cases)}: {why}")
    members = tuple(_member(case) for case in cases)
    return AssemblyCase(members, frozenset(n for n, part in parts.items() if part.form == "cut"))


def _ring(cases: Cases) -> str:
    return f"the ring of {', '.join(sorted(parts_in(cases)))}"


def _not_flat(cases: Cases, parts: dict[str, Part]) -> Iterator[str]:
    """Why these parts do not lie in one plane each, or are not one piece each."""
    for number, part in sorted(parts.items()):
        placed = plies_of(cases, number)
        faces = sorted({p.ply.face_up for _, p in placed})
        if len(faces) > 1 and not set(faces) <= set(_FLAT):
            yield f"{number} is bolted on its faces {' and '.join(faces)}, and how they lie to each other is not known"
        if faces == ["edge"]:
            yield f"{number} is bolted on its edge"
        bends = part.profile.bends if part.profile else ()
        centres = sorted({h.centre for _, p in placed for h in p.all_holes})
        crossed = any(crosses_bend(a, b, bends) for a, b in combinations(centres, 2))
        if bends and (crossed or is_bent_between(part, centres)):
            yield f"{number} is bent between its holes, and rings through a bend are not fitted"
    for one, other in combinations(cases, 2):
        twice = _of_two_pieces(one, other)
        if twice:
            names = f"{one.connection.name} and {other.connection.name}"
            yield f"{names} use the same holes of {twice}, taken for two pieces of it"


def _of_two_pieces(one: ConnectionCase, other: ConnectionCase) -> str:
    """The part of which two connections of the same two parts take the same holes, for different holes of the other."""
    if len(one.plies) != _BOTH or parts_of(one) != parts_of(other):
        return ""
    shared = [n for n in sorted(parts_of(one)) if labels_of(one, n) & labels_of(other, n)]
    return shared[0] if len(shared) == 1 else ""


def _member(case: ConnectionCase) -> Member:
    """A connection that fits by itself. Raises NotRun for one that does not."""
    name = case.connection.name
    if len(case.plies) > _BOTH:
        try:
            stack = case.best_stack
        except BadInput as fault:
            raise NotRun(f"{name} cannot be fitted: {fault}") from fault
        if stack is None or stack.verdict != "GO" or stack.margin_mm is None:
            raise NotRun(f"{name} does not fit by itself: fix that first")
        worst = -inf if stack.worst_case_margin_mm is None else stack.worst_case_margin_mm
        return Member(name, _stack(case, stack), stack.margin_mm, worst)
    fit = case.best_fit
    if fit is None or fit.verdict != "GO" or fit.margin_mm is None:
        raise NotRun(f"{name} does not fit by itself: fix that first")
    ways = tuple(Assembled((w.pose, Pose()), tuple((a, b) for a, b in w.pairs)) for w in fit.assemblies)
    parts = tuple(p.part.number for p in case.plies)
    connected = Connected(parts, fastenings(case), ways, len(ways) == fit.ways, _hold(case))
    worst = -inf if fit.worst_case_margin_mm is None else fit.worst_case_margin_mm
    return Member(name, connected, fit.margin_mm, worst)


def _stack(case: ConnectionCase, fit: StackFit) -> Connected:
    """The one way that was found of a stack, and whether there is no other one."""
    parts = tuple(p.part.number for p in case.plies)
    whole = isinstance(case.connection.position, Pose) or all(f.ways == 1 for _, f in fit.pairs)
    bolts = fit.bolts or _held_bolts(fit, len(case.plies))
    return Connected(parts, fastenings(case), (Assembled(fit.poses, bolts),), whole, _hold(case))


def _held_bolts(fit: StackFit, plies: int) -> tuple[Labels, ...]:
    """The bolts of a stack whose ground ply holds them, by what every pair tells."""
    rows: dict[str, list[str | None]] = {}
    for k, pair in fit.pairs:
        for p in pair.pairs:
            own, ground = (p.b, p.a) if fit.ground == 0 else (p.a, p.b)
            row = rows.setdefault(ground, [None] * plies)
            row[fit.ground], row[k] = ground, own
    return tuple(map(tuple, rows.values()))


def _hold(case: ConnectionCase) -> Hold:
    """Whether its parts may be in certain places only, along a guide, or where the holes let them."""
    if case.connection.position is None:
        return "free"
    if len(case.plies) > _BOTH:
        return "fixed"  # the position of a stack is never along a guide
    places = case.pattern.places if case.pattern else ()
    return "fixed" if all(isinstance(p, Pose) for p in places) else "guided"
