"""
Do two hole patterns go together, in what pose, how well, and if not, which holes are wrong.

    fit(PatternCase(a=Ply(holes_a), b=Ply(holes_b), fastener_mm=12, largest_fastener_mm=12))

The pattern is found, not asked: any origin and rotation, turned over where allowed, with holes missing, extra or
displaced. Sought are most passing pairs; at equal number plates that are wholly paired come first, so that a displaced
hole is not hidden by an odd position; then fewest wrong holes, then the largest margin. Ties fall to the least sum of
squared offsets, the not turned over pose, the smallest turn, the first labels.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from ledger.domain.joint import Joint
from ledger.fit.candidates import Table, tabulate
from ledger.fit.case import (
    MOST_WAYS,
    WAYS_UP,
    Fit,
    Kind,
    Pair,
    PatternCase,
    Ply,
    TurnedOver,
    Verdict,
    Way,
    Wrong,
)
from ledger.fit.chance import CLAIM, CLOSE_MM, FEWEST, Chance, met_besides
from ledger.fit.checker import checked
from ledger.fit.effort import MOST_BESIDE, Effort
from ledger.fit.left_over import left_over
from ledger.fit.pairing import Pairing, Plates, find_pairings
from ledger.fit.position import fit_as_positioned
from ledger.fit.report import judged, left_of, nothing
from ledger.fit.rival import close_mm, rival_of
from ledger.fit.trial import TIE_MM, Trial, solve_all, try_pairing

__all__ = [
    "Fit",
    "Joint",
    "Kind",
    "Pair",
    "PatternCase",
    "Ply",
    "TurnedOver",
    "Verdict",
    "Way",
    "Wrong",
    "fit",
]

ASK: Final = "name the holes that take the fastener, or enter the position"
MOST_TRIALS: Final = 500
AT_ONCE: Final = 128


@dataclass(slots=True)
class _Sought:
    """How many holes must agree for a pattern to be claimed; `least` of them are worth looking for."""

    table: Table
    declared: bool
    chance: Chance
    least: int = field(init=False)

    def __post_init__(self) -> None:
        self.least = self._least()

    @property
    def fewer(self) -> int:
        return min(len(self.table.a), len(self.table.b))

    @property
    def more(self) -> int:
        return max(len(self.table.a), len(self.table.b))

    @property
    def half(self) -> int:
        """At least half of the smaller ply, and two where there are two."""
        return max(min(2, self.fewer), math.ceil(self.fewer / 2))

    @property
    def even(self) -> bool:
        return len(self.table.a) == len(self.table.b)

    def _least(self) -> int:
        """Of two and two holes one may be right."""
        if self.fewer <= 2 and self.even:  # noqa: PLR2004 - two holes
            return 1
        alone = self.chance.fewest_claimed()
        return min(alone, self.half) if self.declared or self.even else alone

    def whole(self, trial: Trial) -> bool:
        """Whether both plates are wholly paired, displaced holes included."""
        return self.even and len(trial.pairs) + len(trial.displaced) == self.fewer

    def claims(self, trial: Trial) -> bool:
        """
        Whether the pattern is claimed.

        Plates whose holes are declared, or wholly paired, with half of the holes right; all holes of a plate that has
        one fewer than the other; or more agreement than chance makes.
        """
        right = len(trial.pairs)
        if self.whole(trial) and right >= math.ceil(self.fewer / 2):
            return True
        if self.declared and right >= self.half:
            return True
        if right == self.fewer >= FEWEST and self.more <= self.fewer + 1:
            return True  # one hole is missing
        return any(self._by_chance(trial, k, within) < CLAIM for k, within in _agreements(self.table, trial))

    def _by_chance(self, trial: Trial, agreeing: int, within_mm: float) -> float:
        placed = self.table.placed(trial.pose)
        return self.chance.expected(
            agreeing,
            within_mm,
            lambda: met_besides(placed, self.chance.b, trial.pairs, max(within_mm, CLOSE_MM)),
        )


def fit(case: PatternCase) -> Fit:
    """Compare two hole patterns. Raises BadInput for a number that is not finite or makes no sense."""
    case.check()
    return checked(case, _fitted(case))


def _fitted(case: PatternCase) -> Fit:
    table = tabulate(case)
    if not table.a or not table.b:
        return nothing(case, table, "")
    if case.position is not None:
        return fit_as_positioned(case, table, case.places)
    a, b, _ = table.middles()
    ways_up = WAYS_UP[case.turned_over]
    take_up, astray = table.reach()
    sought = _Sought(table, table.declared, Chance(a, b, len(ways_up)))
    if sought.least > sought.fewer:
        return nothing(case, table, f"so few holes among so many would agree by chance; {ASK}")
    search = find_pairings(Plates(a, b, take_up, astray), ways_up, sought.least)
    pairings = search.pairings or _two_and_two(table, ways_up)
    effort = Effort()
    trials, doubtful = _trials(sought, pairings, effort)
    if not trials:
        short = "" if search.complete and not effort.short else ", of those that were tried"
        return nothing(case, table, doubtful or f"not enough holes agree in any position{short}; {ASK}")
    best = _best(case, table, trials)
    ways = {
        (t.turned_over, t.pairs): t for t in trials if len(t.pairs) == len(best.pairs) and not t.displaced
    }
    beside = Effort(MOST_BESIDE)
    rival = rival_of(table, best, case.turned_over, beside)
    whole = search.complete and len(pairings) <= MOST_TRIALS and not (effort.short or beside.short)
    found = judged(case, table, best, ways=len(ways), searched=whole)
    if rival is not None:
        return replace(found, verdict="NO-GO", ways=0, rival=rival)
    return replace(found, assemblies=_assemblies(table, best, list(ways.values()))) if found.ways else found


def _assemblies(table: Table, best: Trial, ways: list[Trial]) -> tuple[Way, ...]:
    """The ways it goes together, the best first, then by room and turn."""
    order = sorted(
        ways, key=lambda t: (t is not best, t.turned_over, -round(t.margin_mm, 6), abs(t.pose.angle_deg))
    )
    return tuple(
        Way(t.pose, t.margin_mm, tuple((table.a[i].label, table.b[k].label) for i, k in t.pairs))
        for t in order[:MOST_WAYS]
    )


def _agreements(table: Table, trial: Trial) -> Iterator[tuple[int, float]]:
    """How many pairs agree how closely: all of them, and those that agree as drawings of one hole do."""
    apart = close_mm(table, trial)
    yield len(apart), float(apart.max())
    close = int((apart <= CLOSE_MM).sum())
    if close < len(apart):
        yield close, CLOSE_MM


def _two_and_two(table: Table, ways_up: tuple[bool, ...]) -> tuple[Pairing, ...]:
    """Two holes each that lie differently far apart: either pair can be the one that passes."""
    if len(table.a) != 2 or len(table.b) != 2:  # noqa: PLR2004 - two and two
        return ()
    both = (((0, 0), (1, 1)), ((0, 1), (1, 0)))
    return tuple(Pairing(turned_over, pairs, 1, 2) for turned_over in ways_up for pairs in both)


def _trials(sought: _Sought, pairings: tuple[Pairing, ...], effort: Effort) -> tuple[list[Trial], str]:
    """
    Every claimed pairing that none beats in passing pairs, then in being whole, then in fewest wrong ones.

    And what to say of one that lets all holes of a plate pass, but is not claimed.
    """
    done: list[Trial] = []
    doubtful = ""
    least = sought.least
    slotted = bool(
        sought.table.middles()[2].any()
    )  # slots are solved one by one, and only where they could all pass
    for first in range(0, min(len(pairings), MOST_TRIALS), AT_ONCE):
        some = [x for x in pairings[first : min(first + AT_ONCE, MOST_TRIALS)] if x.hopeful >= least]
        solved = (
            [None] * len(some)
            if slotted
            else solve_all(sought.table, [(x.pairs, x.turned_over) for x in some])
        )
        for x, known in zip(some, solved, strict=True):
            if x.hopeful >= least:
                if effort.spent:
                    effort.short = True
                    break
                trial = try_pairing(
                    sought.table, x.pairs, turned_over=x.turned_over, least=least, solved=known, effort=effort
                )
                if trial is not None and sought.claims(trial):
                    least = max(least, len(trial.pairs))
                    done.append(trial)
                elif trial is not None and len(trial.pairs) == sought.fewer:
                    doubtful = doubtful or _doubtful(trial)

    def rank(trial: Trial) -> tuple[int, bool, int]:
        return len(trial.pairs), sought.whole(trial), -len(trial.displaced)

    best = max(map(rank, done), default=None)
    return [t for t in done if rank(t) == best], doubtful


def _doubtful(trial: Trial) -> str:
    pose = trial.pose
    over = "turned over, " if pose.turned_over else ""
    return (
        f"{over}at {pose.x_mm:.3f} {pose.y_mm:.3f} {pose.angle_deg:.4f} (x, y, angle) all {len(trial.pairs)} holes "
        f"meet, but on a grid like this so few can meet by chance: {ASK}"
    )


def _best(case: PatternCase, table: Table, trials: list[Trial]) -> Trial:
    """The best trial; each rule only decides where the ones before it tie."""

    def over(trial: Trial) -> float:
        return sum(map(len, left_over(case, trial.pose, *left_of(table, trial))))

    def strangers(trial: Trial) -> float:
        """Of trials with holes that are off, the one in which most of the others agree closely is meant."""
        return -float((close_mm(table, trial) <= CLOSE_MM).sum()) if trial.displaced else 0.0

    rules: list[Callable[[Trial], float]] = [
        *([over, strangers] if len(trials) > 1 else []),
        lambda t: -t.margin_mm,
        lambda t: t.squares,
        lambda t: float(t.turned_over),
        lambda t: abs(t.pose.angle_deg),
    ]
    left = trials
    for rule in rules:
        least = min(rule(t) for t in left)
        left = [t for t in left if rule(t) <= least + TIE_MM]
    return min(left, key=lambda t: [(table.a[i].label, table.b[k].label) for i, k in t.pairs])
