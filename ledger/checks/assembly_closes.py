"""
Everything on a ring of bolted connections goes together at once.

Each pair can fit and the ring still not close: what one connection takes up the others no longer have. A ring is where
one comes from part to part through bolted connections and back to the first.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Final

from ledger.assembly.closure import AssemblyCase, Closure, closure
from ledger.assembly.heights import height_of, levels
from ledger.assembly.moves import Move
from ledger.assembly.odds import odds_of
from ledger.cases.across import layers_of, thickness_of
from ledger.cases.answers import DoesNotApply, NotChecked, NotRun
from ledger.cases.assembly import assembly_case, is_one_question, parts_in
from ledger.cases.connections import ConnectionCase
from ledger.cases.rings import plies_of
from ledger.cases.surroundings import AssembledPart
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.domain.plates import run_of
from ledger.domain.plural import counted
from ledger.domain.quantity import show_mm
from ledger.domain.required_odds import percent, share_of

_MOST_MOVES: Final = 3
_SAME_MM: Final = 1e-3
_PULLED_IN: Final = 0.002  # of the length over which a part is bent: common practice, no source
_TOUCH_MM: Final = 1e-6
_LARGER: Final = "make the holes larger, choose a closer process, or smaller fasteners"
Cases = Sequence[ConnectionCase]


@check(
    on=AssembledPart,
    source="ASME Y14.5 appendix B, floating and fixed fastener formulas, over every fastener of the ring; that no "
    "positions do: a dual certificate (Boyd and Vandenberghe, Convex Optimization, 2004, 5.2); faces: 0.2 mm pulled in "
    "on 100 mm, common practice",
    codes=("ring_open", "sides_differ", "ring_tight", "ring_odds", "ring_closes", "faces_apart"),
    severity="stop",
    not_checked="",
)
def assembly_closes(seen: AssembledPart) -> Iterator[Finding | NotChecked]:
    """
    A ring whose connections each fit by themselves also closes as a whole.

    Three parts each 0.8 mm off can use up what the last connection would need.
    """
    rings = [cases for cases in seen.rings if not is_one_question(cases)]
    if not rings:
        raise DoesNotApply
    for cases in rings:
        case = assembly_case(cases)
        found = closure(case)
        yield from _told(cases, case, found)
        yield from _steps(cases)
    yield NotChecked("rings: every part is taken as one piece, with its holes where its drawing has them")


def _told(cases: Cases, case: AssemblyCase, found: Closure) -> Iterator[Finding]:
    if found.state == "both sides up":
        yield _sides(cases)
    elif found.state == "does not close":
        yield _open(cases, case, found)
    elif found.state == "not proven" or found.margin_mm is None or found.worst_case_margin_mm is None:
        raise NotRun(f"{ring_words(cases)}: {found.why or 'not proven'}")
    elif found.state == "closes":
        yield Finding(
            "ring_closes",
            f"{ring_words(cases)} closes; margin {show_mm(found.margin_mm)} nominal, "
            f"{show_mm(found.worst_case_margin_mm)} worst case",
            severity="note",
            where=ring_place(cases),
            measured=show_mm(found.margin_mm),
            limit=f"worst case {show_mm(found.worst_case_margin_mm)}",
        )
    else:
        yield _between(cases, case, found, found.worst_case_margin_mm)


def _open(cases: Cases, case: AssemblyCase, found: Closure) -> Finding:
    short = found.closing.short_mm
    lacks = f": short by {show_mm(short)}" if short is not None else ""
    least = found.margin_mm or 0.0
    return Finding(
        "ring_open",
        f"{ring_words(cases)} does not close{lacks}, though {_each(case)} by itself; tightest is {found.tightest}",
        severity="stop",
        where=ring_place(cases),
        fix=moves_words(found)
        or "compare the places of the holes around the ring; no one move that closes it was found",
        measured=show_mm(short if short is not None else -least),
        limit=show_mm(0.0),
    ).held_to(short if short is not None else -least, 0.0)


def _each(case: AssemblyCase) -> str:
    return f"each of {counted(len(case.members), 'connection', 'connections')} fits"


def _between(cases: Cases, case: AssemblyCase, found: Closure, worst_mm: float) -> Finding:
    """What closes as drawn and not in the worst case: the odds decide, where the worst case is not required."""
    required = cases[0].odds
    share = share_of(required)
    odds = odds_of(case) if share is not None else None
    if odds is None or share is None:
        return Finding(
            "ring_tight",
            f"{ring_words(cases)} closes as drawn, but is short by {show_mm(-worst_mm)} with the smallest holes, the "
            f"largest fasteners and every position out; tightest is {found.tightest}",
            severity="stop",
            where=ring_place(cases),
            fix=_LARGER,
            measured=show_mm(worst_mm),
            limit=show_mm(0.0),
        ).held_to(worst_mm, 0.0)
    good = odds.low >= share
    drawn = f"in {percent(odds.share)} of lots (at least {percent(odds.low)} is certain)"
    lots = f"in at least {percent(odds.low)} of lots" if good else drawn
    return Finding(
        "ring_odds" if good else "ring_tight",
        f"{ring_words(cases)} closes {lots}, {required} % required; tightest is {found.tightest}",
        severity="warning" if good else "stop",
        where=ring_place(cases),
        fix="acknowledge the odds when signing, or make the holes larger" if good else _LARGER,
        measured=percent(odds.low),
        limit=f"{required} %",
    ).held_to(math.floor(odds.low * 10_000 + 1e-9) / 100, float(required))


def _sides(cases: Cases) -> Finding:
    ways = ", ".join(
        f"{c.connection.name} {'turned over' if c.connection.turned_over == 'yes' else 'not turned over'}"
        for c in cases
    )
    return Finding(
        "sides_differ",
        f"{ring_words(cases)} cannot be put together: one part would have both sides up ({ways})",
        severity="stop",
        where=ring_place(cases),
        fix="correct which of these connections turns its first part over",
    )


def _steps(cases: Cases) -> Iterator[Finding | NotChecked]:
    """Where faces around the ring do not meet flat: what would have to be pulled in by bending the parts."""
    parts, layers = parts_in(cases), [*layers_of(cases)]
    unknown = sorted(n for n, part in parts.items() if part.thickness is None and part.form == "cut")
    if unknown:
        yield NotChecked(
            f"whether faces meet around {ring_words(cases)}: no thickness of {', '.join(unknown)}"
        )
        return
    thick_mm = {n: thickness_of(part).nominal for n, part in parts.items() if part.thickness is not None}
    span_mm = _longest(cases)
    for step in levels(layers[0].lower, layers)[1]:
        if not set(step.shares) <= set(thick_mm):
            left = sorted(set(step.shares) - set(thick_mm))
            yield NotChecked(
                f"whether faces meet around {ring_words(cases)}: no thickness of {', '.join(left)}"
            )
            continue
        apart_mm = abs(height_of(step.shares, thick_mm))
        allowed_mm = _PULLED_IN * span_mm
        if not apart_mm <= allowed_mm + _TOUCH_MM:
            yield Finding(
                "faces_apart",
                f"around {ring_words(cases)} the faces of {step.connection} are {show_mm(apart_mm)} apart as the parts "
                f"are laid on each other ({show_mm(allowed_mm)} can be pulled in over {show_mm(span_mm)})",
                severity="warning",
                where=f"{ring_place(cases)}/{step.connection}",
                fix=f"add a {show_mm(apart_mm)} shim in {step.connection}, change a thickness, or correct which part "
                "lies on which",
                measured=show_mm(apart_mm),
                limit=show_mm(allowed_mm),
            ).held_to(apart_mm, allowed_mm)


def _longest(cases: Cases) -> float:
    """The longest way in one part from the middle of one connection's holes to another's, mm."""
    longest = 0.0
    for number in parts_in(cases):
        middles = [
            (math.fsum(h.centre[0] for h in p.all_holes) / len(p.all_holes),
             math.fsum(h.centre[1] for h in p.all_holes) / len(p.all_holes))
            for _, p in plies_of(cases, number)
            if p.all_holes
        ]  # fmt: skip
        longest = max(longest, *(math.dist(a, b) for a, b in combinations(middles, 2)), 0.0)
    return longest


def moves_words(found: Closure) -> str:
    """The one move that closes the ring, and as many others that are no longer; empty where there is none."""
    moves = found.closing.moves
    if not moves:
        return ""
    least = moves[0].length_mm
    alike = [m for m in moves if m.length_mm <= least + _SAME_MM]
    worst = "" if found.closing.worst_case else " (closes as drawn, not in the worst case)"
    return "; or ".join(f"{_move(move)}{worst}" for move in alike[:_MOST_MOVES])


def _move(move: Move) -> str:
    x, y = move.move_mm
    return f"move {run_of(move.labels)} of {move.part} by ({x:+.2f}, {y:+.2f}) mm"


def ring_words(cases: Cases) -> str:
    """The ring by its parts."""
    *others, last = sorted(parts_in(cases))
    return f"the ring of {', '.join(others)} and {last}"


def ring_place(cases: Cases) -> str:
    """The parts with their revisions: what is accepted of a ring holds between just these."""
    return "/".join(f"{number} {part.revision}" for number, part in sorted(parts_in(cases).items()))
