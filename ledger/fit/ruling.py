"""
The one rule by which holes are GO or NO-GO, for the command line and for the gate of a job.

1. The nominal margin is below 0, or a hole is wrong: NO-GO.
2. Every limit at once still goes together (worst case at least 0): GO.
3. Between them the *odds* decide: the lower end of Wilson's interval is at least what is required: GO, else NO-GO. So
   nothing is GO by the luck of the draw.

Where every limit at once is required, or the odds could not be worked out, the worst case alone decides. Plates that
can still slide or turn along a guide, and stacks of three and more plies, have no odds: the answer says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from ledger.domain.pose import Pose
from ledger.domain.required_odds import USUAL, percent, share_of
from ledger.fit.candidates import Table, tabulate
from ledger.fit.case import Fastening, Fit, PatternCase, Verdict
from ledger.fit.joint import SAME_MM, clears
from ledger.fit.layout import offset_mm
from ledger.fit.lots import Draws, PairMade, finite
from ledger.fit.odds import Odds, odds_of
from ledger.fit.pairing import Pairs
from ledger.fit.stack_case import StackFit
from ledger.fit.trial import solve_all, solve_near

Basis = Literal["nominal", "worst case", "odds"]
STEP_MM: Final = 0.1
MOST_STEPS: Final = 60
MOST_MORE: Final = 4
FEW_LOTS: Final = 2_000
MOST_CULPRITS: Final = 60
TELLING: Final = 0.25  # of what is lacking: a hole that takes less is not named
LITTLE: Final = TELLING * (
    1 - TELLING
)  # of what is lacking: a hole that takes less makes no other one less telling
GUIDED: Final = "no odds: the plates can still slide or turn"
STACKED: Final = "no odds: three and more plies are checked by the worst case"
UNDECIDED: Final = "no odds: too many lots with slots could not be decided"
NAMED_TWICE: Final = "no odds: two holes of one plate have the same label"
NO_NUMBERS: Final = "no odds: a tolerance is not a number"


@dataclass(frozen=True, slots=True)
class Loss:
    """The pair without which the others have so much more margin."""

    a: str
    b: str
    gain_mm: float


@dataclass(frozen=True, slots=True)
class Ruling:
    """
    The verdict, and what it rests on.

    `required` is what the odds are compared with. `no_odds` says why there are none. `larger_mm` is by how much every
    clearance hole must be drawn larger for the odds to reach it (None: not looked for, or no such size helps).
    """

    verdict: Verdict
    basis: Basis
    required: str = USUAL
    odds: Odds | None = None
    no_odds: str = ""
    larger_mm: float | None = None
    loss: Loss | None = None

    @property
    def headline(self) -> str:
        """What the odds are, in words; empty where they did not decide."""
        if self.odds is None:
            return ""
        if self.verdict == "GO":
            return f"goes together in at least {percent(self.odds.low)} of lots, {self.required} % required"
        drawn, sure = percent(self.odds.share), percent(self.odds.low)
        return f"goes together in {drawn} of lots (at least {sure} is certain), {self.required} % required"


def rule(case: PatternCase, found: Fit, required: str = USUAL) -> Ruling:
    """The verdict on a fit of two plies. Raises nothing of its own."""
    if found.verdict != "GO":
        return Ruling(found.verdict, "nominal", required)
    worst = found.worst_case_margin_mm
    if worst is None or not math.isfinite(worst):
        return Ruling("NO-GO", "worst case", required)
    if worst >= -SAME_MM:
        return Ruling("GO", "worst case", required)
    return _between(case, found, required)


def rule_stack(found: StackFit, required: str = USUAL) -> Ruling:
    """The verdict on a fit of three and more plies: by the worst case."""
    if found.verdict != "GO":
        return Ruling("NO-GO", "nominal", required)
    worst = found.worst_case_margin_mm
    good = worst is not None and math.isfinite(worst) and worst >= -SAME_MM
    return Ruling("GO" if good else "NO-GO", "worst case", required, no_odds="" if good else STACKED)


@lru_cache(maxsize=128)
def _between(case: PatternCase, found: Fit, required: str) -> Ruling:
    """Goes together as drawn and not in the worst case."""
    share = share_of(required)
    loss = _loss(case, found)
    if share is None:
        return Ruling("NO-GO", "worst case", required, loss=loss)
    pairs, why = _pairs(case, found)
    if why or found.pose is None:
        return Ruling("NO-GO", "worst case", required, no_odds=why, loss=loss)
    draws, free = Draws.of(pairs), not case.places
    odds = odds_of(pairs, found.pose, free=free, draws=draws.first(FEW_LOTS))
    if odds.high_at_best >= share:  # else few lots already say that it is less
        odds = odds_of(pairs, found.pose, free=free, draws=draws)
    if odds.low >= share:
        return Ruling("GO", "odds", required, odds, loss=loss)
    if odds.low_at_best >= share:
        return Ruling("NO-GO", "worst case", required, no_odds=UNDECIDED, loss=loss)
    worst = found.worst_case_margin_mm or 0.0
    larger = _larger(pairs, found.pose, draws, free=free, lacking_mm=-worst, share=share)
    return Ruling("NO-GO", "odds", required, odds, larger_mm=larger, loss=loss)


def _pairs(case: PatternCase, found: Fit) -> tuple[tuple[PairMade, ...], str]:
    """The pairs of a fit with what fastens them; or why no lots can be drawn of them."""
    if any(not isinstance(place, Pose) for place in case.places):
        return (), GUIDED
    table = tabulate(case)
    of_a = {h.label: (h, f) for h, f in zip(table.a, table.of_a, strict=True)}
    of_b = {h.label: h for h in table.b}
    if len(of_a) < len(table.a) or len(of_b) < len(table.b):
        return (), NAMED_TWICE
    pairs = tuple(PairMade(of_a[p.a][0], of_b[p.b], of_a[p.a][1]) for p in found.pairs)
    return (pairs, "") if finite(pairs) else ((), NO_NUMBERS)


def _larger(
    pairs: Sequence[PairMade], pose: Pose, draws: Draws, *, free: bool, lacking_mm: float, share: float
) -> float | None:
    """The smallest step of size by which every clearance hole must grow; more size never makes the odds worse."""
    low, high = 0, min(MOST_STEPS, math.ceil(2 * lacking_mm / STEP_MM) + 1)
    some = draws.first(FEW_LOTS)

    def odds(step: int, among: Draws) -> Odds:
        return odds_of(pairs, pose, free=free, draws=among, larger_mm=step * STEP_MM)

    while high - low > 1:  # near enough with few lots; all of them then have the word
        middle = (low + high) // 2
        low, high = (low, middle) if odds(middle, some).share >= share else (middle, high)
    for step in range(high, high + MOST_MORE):
        if odds(step, draws).low >= share:
            return round(step * STEP_MM, 3)
    return None


def _loss(case: PatternCase, found: Fit) -> Loss | None:
    """
    The pair that takes the most margin, found by fitting without it: not the innocent one at which it shows.

    None where no single pair takes a good part of what is lacking, or two take as much.
    """
    if not 3 <= len(found.pairs) <= MOST_CULPRITS or found.pose is None or found.margin_mm is None:  # noqa: PLR2004 - of two holes neither is the one
        return None
    table = tabulate(case)
    at_a = {h.label: i for i, h in enumerate(table.a)}
    at_b = {h.label: k for k, h in enumerate(table.b)}
    if len(at_a) < len(table.a) or len(at_b) < len(table.b):
        return None
    lacking = -(found.worst_case_margin_mm or 0.0)
    pairs = tuple((at_a[p.a], at_b[p.b]) for p in found.pairs)
    if case.places:
        rooms = [float(table.allowed[p]) - _offset(table, found.pose, p) for p in pairs]
        margins = [min(rooms[:k] + rooms[k + 1 :]) for k in range(len(rooms))]
    else:
        margins = [found.margin_mm] * len(pairs)
        holding = [k for k, p in enumerate(found.pairs) if _may_hold(found, (p.a, p.b))]
        without = [pairs[:k] + pairs[k + 1 :] for k in holding]
        more = _margins(table, without, found.pose, floor_mm=found.margin_mm + LITTLE * lacking)
        for k, margin_mm in zip(holding, more, strict=True):
            margins[k] = margin_mm
    order = sorted(range(len(pairs)), key=lambda k: -margins[k])
    gain = margins[order[0]] - found.margin_mm
    if gain < TELLING * lacking or gain - (margins[order[1]] - found.margin_mm) < TELLING * gain:
        return None
    pair = found.pairs[order[0]]
    return Loss(pair.a, pair.b, round(gain, 9))


def _may_hold(found: Fit, pair: tuple[str, str]) -> bool:
    """Whether the others may have more margin without this pair: not where no certificate of the margin needs it."""
    proof = found.proof
    return (
        not found.proven
        or proof is None
        or any(proof.pairs[k] == pair for c in proof.certificates for k in c.pairs)
    )


def _margins(table: Table, several: Sequence[Pairs], pose: Pose, *, floor_mm: float) -> list[float]:
    """The margins of several pairings; with slots, which are solved one by one, only those above a floor are exact."""
    if any(h.is_slot for h in (*table.a, *table.b)):
        solved = solve_near(table, several, pose, floor_mm=floor_mm)
    else:
        solved = solve_all(table, [(some, pose.turned_over) for some in several])
    return [best.margin * layout.reach_mm for layout, best in solved]


def _offset(table: Table, pose: Pose, pair: tuple[int, int]) -> float:
    return offset_mm(pose, table.a[pair[0]].core, table.b[pair[1]].core)[0]


def opened_to(fastenings: Sequence[Fastening], found: Fit, larger_mm: float) -> tuple[float, ...]:
    """The diameters of the clearance holes in use of these, each so much larger, smallest first."""
    used_a, used_b = {p.a for p in found.pairs}, {p.b for p in found.pairs}
    sizes = {
        round(h.diameter_mm + larger_mm, 3)
        for f in fastenings
        for ply, used, clear in ((f.a, used_a, True), (f.b, used_b, clears(f.joint, "b")))
        if clear
        for h in ply.holes
        if h.label in used
    }
    return tuple(sorted(sizes))


def larger_words(
    case: PatternCase, found: Fit, ruling: Ruling, standard: Callable[[int, float], str] = lambda _k, _mm: ""
) -> str:
    """
    The hole size that would reach the odds; empty where the odds do not refuse it.

    `standard` names the next clearance hole of a table that is no smaller, for the fastening at a place.
    """
    if ruling.basis != "odds" or ruling.verdict == "GO":
        return ""
    if ruling.larger_mm is None:
        return f"no larger clearance hole reaches {ruling.required} %"
    opened = opened_to(case.fastenings, found, ruling.larger_mm)
    sizes = ", ".join(f"{size:g} mm" for size in opened)
    each = sorted(
        (own[-1], k)
        for k, of in enumerate(case.fastenings)
        if (own := opened_to((of,), found, ruling.larger_mm))
    )
    named = [name for size, k in each if (name := standard(k, size))]
    verb = "size is" if len(named) == 1 else "sizes are"
    more = f"; the next standard {verb} {', '.join(named)}" if named else ""
    return f"make the clearance holes {ruling.larger_mm:g} mm larger ({sizes}): that reaches {ruling.required} %{more}"
