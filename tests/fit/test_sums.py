"""The sum behind a margin adds up to what the fit says, whatever the joint, the sizes and the tolerances are."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from many_cases import hold, many_cases

from ledger.domain.shape import Hole
from ledger.fit.case import PatternCase, Ply
from ledger.fit.pattern import fit
from ledger.fit.sums import pair_sum

CROOKED = [(0.0, 0.0), (100.0, 0.0), (120.0, 70.0), (15.0, 60.0)]
JOINTS = ("through", "tapped", "stud", "dowel", "countersunk", "countersunk tapped")


def adds_up(seed):
    """Every total is the sum of the terms above it; nominal it is the margin of the pair in the fit."""
    dice = random.Random(seed)
    joint = dice.choice(JOINTS)
    holds = joint in ("tapped", "stud", "dowel", "countersunk tapped")

    def side(diameter):
        holes = tuple(
            Hole(f"H{k}", ((x + dice.uniform(-0.1, 0.1), y),), diameter)
            for k, (x, y) in enumerate(CROOKED, 1)
        )
        return Ply(holes, declared=True, position_mm=dice.choice((0, 0.4)), shrink_mm=dice.choice((0, 0.3)))

    a, b = side(13.5 + dice.random()), side(10.2 if holds else 13.5 + dice.random())
    case = PatternCase(a, b, 12.0, 12.0 + dice.choice((0, 0.2)), joint)
    found = fit(case)
    (fastening,) = case.fastenings
    of_a, of_b = ({h.label: h for h in ply.holes} for ply in (a, b))
    for pair in found.pairs:
        terms = pair_sum(fastening, of_a[pair.a], of_b[pair.b], pair.offset_mm, ("A", "B"))
        running = 0.0
        for term in terms:
            if term.total:
                assert term.mm == pytest.approx(running, abs=1e-9)
            else:
                running += term.mm
        nominal, worst = (t.mm for t in terms if t.total)
        assert nominal == pytest.approx(pair.margin_mm, abs=2e-6)
        assert worst <= nominal
    if found.verdict == "GO" and found.pose is not None:
        totals = [
            pair_sum(fastening, of_a[p.a], of_b[p.b], p.offset_mm, ("A", "B"))[-1].mm for p in found.pairs
        ]
        assert min(totals) <= found.worst_case_margin_mm + 1e-4 or found.worst_case_margin_mm < 0
    return ""


@many_cases(suite=100, bench=10_000)
def test_terms_add_up_to_the_margin_of_the_fit(seeds):
    hold(adds_up, seeds)


def test_a_worked_sum_by_the_floating_fastener_formula():
    """ASME Y14.5 appendix B: H = F + T for two plates; holes of F + T each leave nothing in the worst case."""
    a = b = Ply((Hole("H1", ((0.0, 0.0),), 12.4),), declared=True, position_mm=0.4)
    case = PatternCase(a, replace(b), 12.0, 12.0)
    terms = pair_sum(case.fastenings[0], a.holes[0], b.holes[0], 0.0, ("BASE", "TURN"))
    assert [round(t.mm, 6) for t in terms if t.total] == [0.4, 0.0]
    assert terms[0].text == "     +6.200 mm  half of H1 of BASE, 12.400 mm as drawn"
