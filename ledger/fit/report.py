"""From a trial to the answer: margins, moves, what is left over, and what has to be said beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole, Point
from ledger.fit.candidates import Table, allowed_mm, worst_passage_mm
from ledger.fit.case import Fastening, Fit, Kind, Pair, PatternCase, Wrong
from ledger.fit.certificate import Proof
from ledger.fit.joint import SAME_MM, TOUCH_MM, Real, clears
from ledger.fit.layout import Layout, offset_mm
from ledger.fit.left_over import left_over
from ledger.fit.minimax import Best
from ledger.fit.pairing import Pairs
from ledger.fit.proof import proves
from ledger.fit.trial import Trial, solve

DECIMALS: Final = 9
NEEDS_GROUP: Final = "a {joint} joint is compared only where the holding holes are named as a group"
LEAN: Final = "the lean of a fastener in its holes is not modeled"
NO_CLEARANCE: Final = "margin 0, no clearance: the fasteners touch the holes"
ONE: Final = (
    "one hole: it fixes no direction; with a free position the position tolerances could not matter and are "
    "charged all the same"
)
TWO: Final = "two holes: only their distance is compared"


def nothing(case: PatternCase, table: Table, why: str) -> Fit:
    """NO-GO for want of a common pattern, with the reason."""
    notes = [
        f"{side} has no hole that could take the fastener"
        for side, holes in (("A", table.a), ("B", table.b))
        if not holes
    ]
    if not table.b and case.b.holes and case.joint in ("captive nut", "dowel") and not case.b.declared:
        notes.append(NEEDS_GROUP.format(joint=case.joint))
    if why:
        notes.append(f"no common pattern: {why}")
    return Fit("NO-GO", code="no_common_pattern", notes=tuple(notes))


def judged(case: PatternCase, table: Table, trial: Trial, *, ways: int, searched: bool) -> Fit:
    """The answer for the best trial of a free pose."""
    together = tuple(sorted(trial.pairs + trial.displaced))
    lacking = [p for p in together if table.allowed[p] < table.take_up[p] - TOUCH_MM]
    if trial.displaced or lacking:
        layout, best = solve(table, together, turned_over=trial.turned_over, of=table.allowed)
        margin = best.margin * layout.reach_mm
    else:
        known = trial.solved if trial.pairs == together else None
        layout, best = known or solve(table, together, turned_over=trial.turned_over)
        margin = trial.margin_mm
    proven = _proven(table, together, table.allowed, (layout, best), margin_mm=margin)
    charges = [float(table.charge[p]) for p in together]
    worst, of_worst = margin - max(charges), None
    if (
        max(charges) - min(charges) > SAME_MM
    ):  # fasteners of several sizes: the worst case has a best pose of its own
        left = table.allowed - table.charge
        solved = solve(table, together, turned_over=trial.turned_over, of=left)
        worst = solved[1].margin * solved[0].reach_mm
        of_worst = solved[1].certificates, solved[0].pose(solved[1].angle, solved[1].shift)
        proven = proven and _proven(table, together, left, solved, margin_mm=worst)
    notes = []
    if layout.slotted:
        notes.append("slots: the margin is proven to 0.000001 mm")
    if not searched:
        notes.append("too many possible positions: not all were tried")
    if not trial.smallest:
        notes.append("fewer or other holes than these may be the wrong ones")
    found = answer(
        case, table, trial, margin_mm=margin, worst_mm=worst, ways=ways,
        proven=proven and searched and trial.smallest, notes=notes,
    )  # fmt: skip
    labels = tuple((table.a[i].label, table.b[k].label) for i, k in together)
    return replace(found, proof=Proof(labels, best.certificates, of_worst))


def _proven(
    table: Table, pairs: Pairs, take_up: Real, solved: tuple[Layout, Best], *, margin_mm: float
) -> bool:
    """Whether what was found is proven to be the best of all poses."""
    layout, best = solved
    return proves(
        [table.a[i].core for i, _ in pairs],
        [table.b[k].core for _, k in pairs],
        [float(take_up[p]) for p in pairs],
        best.certificates,
        turned_over=layout.turned_over,
        margin_mm=margin_mm,
        tolerance_mm=layout.tolerance * layout.reach_mm,
    )


def answer(
    case: PatternCase,
    table: Table,
    trial: Trial,
    *,
    margin_mm: float,
    worst_mm: float,
    ways: int,
    proven: bool,
    notes: list[str],
) -> Fit:
    """The answer for a trial whose margins over its holes, as drawn and in the worst case, are known."""
    pose = trial.pose
    small = tuple(p for p in trial.pairs if table.allowed[p] < table.take_up[p] - TOUCH_MM)
    passing = tuple(p for p in trial.pairs if p not in small)
    pairs = tuple(_pair(table, p, pose) for p in passing)
    wrong = [_wrong(table.of_a[i], table.a[i], table.b[k], pose) for i, k in sorted(trial.displaced + small)]
    left_a, left_b = left_of(table, trial)
    facing, left_a, left_b = _facing(table, pose, left_a, left_b)
    margin = min([margin_mm, *(w.allowed_mm - w.offset_mm for w in facing)])
    wrong += facing
    together = trial.pairs + trial.displaced
    rooms = [worst_passage_mm(table.of_a[i], table.a[i], table.b[k]) for i, k in together]
    worst = min([worst_mm, *(margin - float(table.charge.min()) for _ in facing)])
    if min(rooms) < -TOUCH_MM:
        worst = min([worst, *rooms])
        i, k = together[rooms.index(min(rooms))]
        notes = [*notes, _too_small_words(table.of_a[i], table.a[i], table.b[k])]
    named = {h.label for f in case.fastenings if f.a.declared for h in f.a.holes}
    named_b = {h.label for f in case.fastenings if f.b.declared for h in f.b.holes}
    whole = not any(h.label in named for h in left_a) and not any(h.label in named_b for h in left_b)
    margin = _mm(margin)
    over = left_over(case, pose, left_a, left_b)
    if margin == 0 and not wrong:
        notes = [*notes, NO_CLEARANCE]
    good = margin >= 0 and not wrong and whole and not any(over)
    return Fit(
        verdict="GO" if good else "NO-GO",
        margin_mm=margin,
        worst_case_margin_mm=_mm(worst),
        pose=pose,
        pairs=pairs,
        wrong=tuple(wrong),
        unmatched_a=tuple(h.label for h in left_a),
        unmatched_b=tuple(h.label for h in left_b),
        left_over=over,
        ways=ways if good else 0,
        proven=proven,
        tightest=_tightest(pairs, wrong),
        also_wrong=tuple(
            tuple(_wrong(table.of_a[i], table.a[i], table.b[k], other) for i, k in out)
            for out, other in trial.also
        ),
        notes=(*notes, *_said_beside(case, table), LEAN),
    )


def _too_small_words(case: Fastening, a: Hole, b: Hole) -> str:
    """The hole of a pair that has the least room for the fastener in the worst case, with every number of the sum."""
    sides = [(a, case.a, "A"), (b, case.b, "B")][: 2 if clears(case.joint, "b") else 1]
    hole, ply, side = min(sides, key=lambda x: x[0].diameter_mm - x[1].shrink_mm - x[1].position_mm)
    largest = case.fastener_mm + case.thicker_mm
    less = f" less shrink {ply.shrink_mm:.3f}"
    less += f" and position {ply.position_mm:.3f}" if ply.position_mm else ""
    left = hole.diameter_mm - ply.shrink_mm - ply.position_mm
    return (
        f"in the worst case {hole.label} of {side} is too small: {hole.diameter_mm:.3f}{less} is {left:.3f} mm, "
        f"the largest fastener is {largest:.3f} mm"
    )


def _pair(table: Table, pair: tuple[int, int], pose: Pose) -> Pair:
    a, b = table.a[pair[0]], table.b[pair[1]]
    offset, allowed = offset_mm(pose, a.core, b.core)[0], float(table.allowed[pair])
    return Pair(a.label, b.label, _mm(offset), _mm(allowed), _mm(allowed - offset))


def _wrong(case: Fastening, a: Hole, b: Hole, pose: Pose, *, small: bool = False) -> Wrong:
    offset, move = offset_mm(pose, a.core, b.core)
    allowed = allowed_mm(case, a, b)
    kind: Kind = "too small" if allowed < -TOUCH_MM or small else "offset"
    back = (-move[0], -move[1])
    return Wrong(a.label, b.label, kind, _mm(offset), _mm(allowed), _move(pose.turn_back(move)), _move(back))


def left_of(table: Table, trial: Trial) -> tuple[list[Hole], list[Hole]]:
    """Candidates of A and of B that are in no pair, passing or displaced."""
    together = trial.pairs + trial.displaced
    used_a, used_b = {i for i, _ in together}, {k for _, k in together}
    return (
        [h for i, h in enumerate(table.a) if i not in used_a],
        [h for k, h in enumerate(table.b) if k not in used_b],
    )


def _facing(
    table: Table, pose: Pose, left_a: list[Hole], left_b: list[Hole]
) -> tuple[list[Wrong], list[Hole], list[Hole]]:
    """Holes too small to be candidates whose core lies inside an unmatched candidate of the other ply, each once."""
    in_a = _inside(left_a, table.small_b, lambda hole, small: offset_mm(pose, hole.core, small.core)[0])
    in_b = _inside(left_b, table.small_a, lambda hole, small: offset_mm(pose, small.core, hole.core)[0])
    found = [_wrong(f, hole, small, pose, small=True) for hole, small, f in in_a]
    found += [_wrong(f, small, hole, pose, small=True) for hole, small, f in in_b]
    used_a, used_b = {h.label for h, _, _ in in_a}, {h.label for h, _, _ in in_b}
    return (
        found,
        [h for h in left_a if h.label not in used_a],
        [h for h in left_b if h.label not in used_b],
    )


def _inside(
    holes: list[Hole], smaller: tuple[tuple[Hole, Fastening], ...], apart: Callable[[Hole, Hole], float]
) -> list[tuple[Hole, Hole, Fastening]]:
    """Each hole with the small one inside it, the nearest first and none twice."""
    near = sorted(
        (
            (offset, hole.label, small.label, hole, small, fastening)
            for hole in holes
            for small, fastening in smaller
            if (offset := apart(hole, small)) <= hole.diameter_mm / 2
        ),
        key=lambda x: x[:3],
    )
    found: list[tuple[Hole, Hole, Fastening]] = []
    used: set[tuple[str, str]] = set()
    for _, one, other, hole, small, fastening in near:
        if ("hole", one) not in used and ("small", other) not in used:
            used |= {("hole", one), ("small", other)}
            found.append((hole, small, fastening))
    return found


def _tightest(pairs: tuple[Pair, ...], wrong: list[Wrong]) -> tuple[str, str] | None:
    """The pair with the least room, wrong ones included; the first labels where several tie."""
    rooms = [(p.margin_mm, p.a, p.b) for p in pairs] + [
        (_mm(w.allowed_mm - w.offset_mm), w.a, w.b) for w in wrong
    ]
    return min(rooms)[1:] if rooms else None


def _said_beside(case: PatternCase, table: Table) -> list[str]:
    fewer = min(len(table.a), len(table.b))
    if fewer == 1:
        return [ONE] if case.position is None else []
    return [TWO] if fewer == 2 and case.position is None else []  # noqa: PLR2004 - two holes


def _mm(value: float) -> float:
    """Rounded; what drawings do not carry is 0."""
    return 0.0 if abs(value) <= TOUCH_MM else round(value, DECIMALS) + 0.0


def _move(move: Point) -> Point:
    return round(move[0], DECIMALS) + 0.0, round(move[1], DECIMALS) + 0.0
