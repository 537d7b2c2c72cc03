"""
Does everything that is bolted together go together, all at once: every fastener of every connection.

    closure(AssemblyCase(members))

Poses that are found and measured again prove that it closes; certificates that are reckoned again prove that it does
not. Where neither is there the answer is not proven, and says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Final, Literal

import numpy as np

from ledger.assembly.arrangement import Arrangement, Member, arranged
from ledger.assembly.checker import measured_mm, refutes
from ledger.assembly.choices import Choices
from ledger.assembly.links import Place
from ledger.assembly.moves import Closing, moves_that_close
from ledger.assembly.poses import Found, best_poses
from ledger.assembly.proof import refuted
from ledger.domain.pose import Pose
from ledger.fit.joint import TOUCH_MM

MOST_SOLVED: Final = 48
NEITHER: Final = "no poses found, and no proof that there are none"
State = Literal["closes", "closes as drawn", "does not close", "both sides up", "not proven"]


@dataclass(frozen=True, slots=True)
class AssemblyCase:
    """Connections that are fitted at once, and the parts whose drawings can be changed."""

    members: tuple[Member, ...]
    movable: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Share:
    """A connection's margin by itself and in the whole (as much as the others leave it), mm, as drawn."""

    name: str
    alone_mm: float
    whole_mm: float


@dataclass(frozen=True, slots=True)
class Closure:
    """
    The answer. *closes*: in the worst case, too; *closes as drawn*: not in the worst case, as far as was found.

    `margin_mm` is the least over all fasteners at the best poses found, as drawn, `worst_case_margin_mm` likewise;
    `closing` says how far the holes of one connection would have to move to close it. `poses` are those of all parts in
    the coordinates of the first.
    """

    state: State
    margin_mm: float | None = None
    worst_case_margin_mm: float | None = None
    poses: tuple[tuple[str, Pose], ...] = ()
    tightest: str = ""
    closing: Closing = field(default_factory=Closing)
    why: str = ""
    arrangement: Arrangement | None = None
    place: Place | None = None


@lru_cache(maxsize=64)  # every part of a ring asks the same
def closure(case: AssemblyCase) -> Closure:
    """
    Whether everything goes together at once.

    Raises BadInput where positions that are entered cannot all be.
    """
    best: tuple[Arrangement, Found] | None = None
    as_drawn: Closure | None = None
    open_, sided, choices = True, True, Choices(case.members)
    for solved, way in enumerate(choices):
        if solved == MOST_SOLVED:
            choices.whole = False
            break
        made = arranged(case.members, way)
        if made is None:
            continue
        sided = False
        answer, found = _tried(case, made)
        if answer is not None and answer.state == "closes":
            return answer
        open_ &= answer is None
        best = _better(best, (made, found))
        if answer is not None and answer.state == "closes as drawn":
            as_drawn = max(answer, as_drawn or answer, key=lambda a: a.worst_case_margin_mm or 0.0)
    return as_drawn or _open(case, best, choices, sided=sided, proven=open_)


def _tried(case: AssemblyCase, made: Arrangement) -> tuple[Closure | None, Found]:
    """What becomes of one arrangement: it closes, perhaps as drawn only, or is not proven; None where it is refuted."""
    hard = best_poses(made.hard, made.start)
    if _holds(case, made, hard, worst=True):
        drawn = best_poses(made.drawn, hard.place)
        better = drawn if _holds(case, made, drawn, worst=False) else hard
        return _closed(case, made, better, hard), better
    drawn = best_poses(made.drawn, made.start)
    if drawn.margin_mm < -TOUCH_MM:
        proof, other = refuted(made.drawn, drawn, -TOUCH_MM)
        if proof is not None and refutes(made.drawn, proof):
            return None, drawn
        if other is None:
            return Closure("not proven", why=NEITHER), drawn
        again = best_poses(made.hard, other.place)
        drawn, hard = other, again if again.margin_mm > hard.margin_mm else hard
    if not _holds(case, made, drawn, worst=False):
        return Closure("not proven", why=NEITHER), drawn
    if _holds(case, made, hard, worst=True):
        return _closed(case, made, drawn, hard), drawn
    return replace(_closed(case, made, drawn, hard), state="closes as drawn"), drawn


def _holds(case: AssemblyCase, made: Arrangement, found: Found, *, worst: bool) -> bool:
    """Whether the poses found hold where they are measured again."""
    if any(m.connected.hold == "guided" for m in case.members):
        return False  # found where the guide may not let it be
    if not found.margin_mm >= -TOUCH_MM:
        return False
    return measured_mm(made.bolts, made.poses(found.place), worst=worst) >= -2 * TOUCH_MM


def _closed(case: AssemblyCase, made: Arrangement, drawn: Found, hard: Found) -> Closure:
    worst = min(hard.margin_mm, *(m.worst_case_margin_mm for m in case.members))
    return Closure(
        "closes" if worst >= -TOUCH_MM else "closes as drawn",
        _mm(min(drawn.margin_mm, *(m.margin_mm for m in case.members))), _mm(worst),
        tuple(made.poses(drawn.place).items()), _tightest(case, made, drawn), arrangement=made, place=drawn.place,
    )  # fmt: skip


def _better(
    best: tuple[Arrangement, Found] | None, new: tuple[Arrangement, Found]
) -> tuple[Arrangement, Found]:
    if best is None or new[1].margin_mm > best[1].margin_mm:
        return new
    return best


def _open(
    case: AssemblyCase, best: tuple[Arrangement, Found] | None, choices: Choices, *, sided: bool, proven: bool
) -> Closure:
    """The answer where no way of them closes."""
    whole = proven and choices.whole and all(m.connected.whole for m in case.members)
    if best is None and choices.nearest is not None:
        made = arranged(case.members, choices.nearest)
        if made is not None:
            sided, best = False, (made, best_poses(made.drawn, made.start))
    if best is None:
        return Closure("both sides up") if whole and sided else Closure("not proven", why=_why(case, choices))
    made, found = best
    hard = best_poses(made.hard, found.place)
    closing = moves_that_close(made, case.members, found.place, case.movable)
    return Closure(
        "does not close" if whole else "not proven", _mm(found.margin_mm), _mm(hard.margin_mm),
        tuple(made.poses(found.place).items()), _tightest(case, made, found),
        closing, "" if whole else _why(case, choices), made, found.place,
    )  # fmt: skip


def _why(case: AssemblyCase, choices: Choices) -> str:
    guided = [m.name for m in case.members if m.connected.hold == "guided"]
    loose = [m.name for m in case.members if not m.connected.whole]
    if guided:
        return f"{guided[0]} leaves its parts free to slide or turn: enter a position in it"
    if loose:
        return f"{loose[0]} may go together in more ways than were looked at: enter a position in it"
    if not choices.whole:
        return "the connections go together in too many ways: enter the position of some of them"
    return NEITHER


def _tightest(case: AssemblyCase, made: Arrangement, found: Found) -> str:
    """The connection that the proof leans on the most for the room it has."""
    pulls = [
        float(sum(found.weights[k] for k, of in enumerate(made.of) if n in of)) / max(m.margin_mm, 1e-6)
        for n, m in enumerate(case.members)
    ]
    return case.members[int(np.argmax(pulls))].name


def shares(case: AssemblyCase, found: Closure) -> tuple[Share, ...]:
    """What the whole leaves each connection of its margin by itself, as drawn, while all others still go in."""
    made, place = found.arrangement, found.place
    if made is None or place is None or found.margin_mm is None:
        return ()
    least = min(found.margin_mm, 0.0) - 1e-5
    told = []
    for k, member in enumerate(case.members):
        own = np.array([k in of for of in made.of])
        links = replace(
            made.drawn,
            room=np.where(own, made.drawn.room, made.drawn.room - least * made.drawn.share),
            share=np.where(own, made.drawn.share, 0.0),
        )
        best = best_poses(links, place).margin_mm if own.any() else member.margin_mm
        told.append(Share(member.name, _mm(member.margin_mm), _mm(min(best, member.margin_mm))))
    return tuple(told)


def _mm(value: float) -> float:
    return round(value, 9) + 0.0
