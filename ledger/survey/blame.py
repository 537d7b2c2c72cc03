"""
Which reading is off, where the readings of a network disagree.

Every reading is held against all others; the one whose removal mends most is the suspect, and so is every other that
would mend nearly as much. In a sparse network a slip can bend points over, so there the rest is solved from the
beginning without each reading in turn. Nothing is blamed that leaves the rest in disagreement; only one that leaves it
in agreement and has no rival is blamed with *certainty*.
Source: data snooping (Baarda 1968) with limits for the whole network (Bonferroni), then each suspect left out in turn.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ledger.domain.one_thread import on_one_thread
from ledger.survey.network import Mark, Tie, without
from ledger.survey.solve import Left, Solution, solve, solve_near, sparse

LOOK_AGAIN = 2.576  # standard deviations: one good reading in a hundred lies farther off
_OFF = 0.05  # chance that any reading of a good network is called off
_CERTAIN = 1e-4
_RIVAL = 18.0  # chi-square by which the suspect must mend more than any other to have no rival
_TRIED = 6  # so many suspects are left out in turn
_ALL = 60  # in a sparse network of so many readings, all of them
_MOST = 3  # so many readings are sought that are off together


@dataclass(frozen=True, slots=True)
class Off:
    """
    One or several readings that do not fit the rest.

    `suspects` are the readings that could each alone explain it, the likeliest first, or with `together` all of
    them at once; `off_mm` how far the first is off by all others; `rest_mm` the largest disagreement without it.
    """

    suspects: tuple[Tie | Mark, ...]
    off_mm: float
    rest_mm: float
    rest_agrees: bool
    certain: bool
    serious: bool
    together: bool = False

    @property
    def words(self) -> str:
        """In words, for the person with the tape."""
        named = [s.words for s in self.suspects]
        if not named:
            return f"the readings disagree by up to {abs(self.off_mm):.1f} mm, and no single one explains it"
        rest = f"without {'them' if self.together else 'it'} the rest agrees to {self.rest_mm:.1f} mm"
        if self.together:
            return f"{', '.join(named[:-1])} and {named[-1]} seem off together; {rest}"
        if len(named) > 1:
            return (
                f"one of {', '.join(named[:-1])} and {named[-1]} is off ({named[0]} by {abs(self.off_mm):.1f} mm); "
                "the readings cannot tell which"
            )
        if self.certain:
            return f"{named[0]} is {abs(self.off_mm):.1f} mm off; {rest}"
        return f"{named[0]} seems {abs(self.off_mm):.1f} mm off; {rest}"


@on_one_thread()
def off_readings(solution: Solution) -> Off | None:
    """What does not fit the rest; None where every reading does. `serious` is what chance hardly explains."""
    checked = [x for x in solution.left if x.share > 0]
    if not checked:
        return None
    worst = max(checked, key=lambda x: x.times_sigma)
    if worst.times_sigma < LOOK_AGAIN:
        return None
    serious = not solution.agrees or worst.times_sigma >= _limit(_OFF, len(checked))
    found = _alone(solution, checked, serious=serious)
    if found.rest_agrees or not serious:
        return found
    return _several(solution) or replace(found, suspects=(), certain=False, off_mm=_largest(solution))


def rest_without(
    solution: Solution, dropped: tuple[int, ...], *, again: bool = False
) -> tuple[Solution, float]:
    """A network without some readings, solved from where it lay or `again`, and the largest disagreement left, mm."""
    fewer = without(solution.network, dropped)
    rest = solve(fewer, thorough=False) if again else solve_near(fewer, solution)
    return rest, _largest(rest)


def _largest(solution: Solution) -> float:
    return max((abs(x.left_mm) for x in solution.left), default=0.0)


def _alone(solution: Solution, checked: list[Left], *, serious: bool) -> Off:
    order = sorted(checked, key=lambda x: -x.times_sigma)
    place = {id(x): k for k, x in enumerate(solution.left)}
    again = serious and sparse(solution.network) and len(order) <= _ALL
    tried = []
    for left in order if again else order[:_TRIED]:
        rest, rest_mm = rest_without(solution, (place[id(left)],), again=again)
        if rest.points:
            tried.append((rest.chi_square, left, rest, rest_mm))
    if not tried:
        left = order[0]
        return Off(
            (left.reading,), left.off_mm, abs(left.left_mm), rest_agrees=False, certain=False, serious=serious
        )
    tried.sort(key=lambda t: t[0])
    best_chi, left, rest, rest_mm = tried[0]
    if not rest.agrees and not again:  # a gross error may have pulled points over others
        fewer, fewer_mm = rest_without(solution, (place[id(left)],), again=True)
        if fewer.points and fewer.chi_square < rest.chi_square:
            best_chi, rest, rest_mm = fewer.chi_square, fewer, fewer_mm
    # those not left out in turn: what they would mend by the linear rule
    others = [] if again else [solution.chi_square - x.times_sigma**2 for x in order[_TRIED:]]
    rivals = [x.reading for chi, x, *_ in tried[1:] if chi - best_chi < _RIVAL]
    close = sum(chi - best_chi < _RIVAL for chi in others)
    reach = _near(best_chi, solution.chi_square) if serious else 1.0
    near = [
        x.reading
        for chi, x, other, _ in tried[1:]
        if (other.agrees and chi - best_chi < _RIVAL if again else chi - best_chi < reach)
    ]
    certain = (
        not rivals
        and not close
        and not near
        and rest.agrees
        and rest.redundancy > 1
        and not rest.images
        and left.times_sigma >= _limit(_CERTAIN, len(checked))
        and off_readings_left(rest) is None
    )
    suspects = (left.reading, *near)
    return Off(suspects, _off_by(rest, left), rest_mm, rest.agrees, certain, serious)


def off_readings_left(rest: Solution) -> Left | None:
    """A reading of the rest that is itself far off."""
    checked = [x for x in rest.left if x.share > 0]
    limit = _limit(_OFF, max(1, len(checked)))
    return next((x for x in checked if x.times_sigma >= limit), None)


def _near(best: float, whole: float) -> float:
    """Suspects that would mend nearly as much: within four, or a tenth of what the best one mends."""
    return max(4.0, 0.1 * (whole - best))


def _off_by(rest: Solution, left: Left) -> float:
    """How far a reading is off by the points that all others give."""
    if isinstance(left.reading, Mark):
        return left.off_mm
    a, b = rest.point(left.reading.a), rest.point(left.reading.b)
    return left.reading.value_mm - math.dist(a.at_mm, b.at_mm) if a and b else left.off_mm


def _several(solution: Solution) -> Off | None:
    """Two or three readings that are off together; never with certainty."""
    network = solution.network
    dropped: list[int] = []
    now, places = solution, list(range(len(network.readings)))
    first = 0.0
    while len(dropped) < _MOST:
        checked = [(x, p) for x, p in zip(now.left, places, strict=True) if x.share > 0]
        if not checked:
            return None
        worst, place = max(checked, key=lambda c: c[0].times_sigma)
        first = first or worst.off_mm
        dropped.append(place)
        now, rest_mm = rest_without(solution, tuple(dropped))
        if not now.points:
            return None
        places = [k for k in range(len(network.readings)) if k not in dropped]
        if len(dropped) > 1 and now.agrees and now.redundancy > len(dropped):
            named = tuple(network.readings[k] for k in dropped)
            return Off(named, first, rest_mm, rest_agrees=True, certain=False, serious=True, together=True)
    return None


def _limit(chance: float, count: int) -> float:
    """The standard deviations that any of so many good readings exceeds with this chance."""
    from scipy.special import ndtri

    return float(-ndtri(chance / count / 2))
