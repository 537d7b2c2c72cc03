"""The gap that is required: in any unit the same, and more of it or thicker coats never make a stop go away."""

from __future__ import annotations

import random

from case_builders import told_by
from many_cases import hold, many_cases

from ledger.checks import all_checks

CHECK = next(c for c in all_checks() if c.name == "drawn_gap")
IN_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "m": 1000.0, "um": 0.001}


def stops(apart_mm, required, coat_mm=0.0, *, swapped=False):
    """What is found of two plates beside each other, so far apart, with so thick a coat on either."""
    coat = {"coating": "zinc", "coating_thickness": f"{coat_mm:.4f} mm"} if coat_mm else {}
    at = f"{-100 - apart_mm if swapped else 100 + apart_mm} 0 0"
    plates = {side: {"plate": "100 50", **coat} for side in "ab"}
    beside = {"kind": "beside", "position": at, "gap": f">= {required}"}
    outcome = told_by(CHECK, {**plates, "connection": beside})
    assert outcome.state == "ran", outcome.reason
    return [f.code for f in outcome.findings]


def required_gap(seed):
    dice = random.Random(seed)
    apart, required = round(dice.uniform(0.5, 12), 3), round(dice.uniform(0.5, 12), 3)
    found = stops(apart, f"{required} mm")
    assert found == (["gap_small"] if apart < required else [])
    unit = dice.choice(sorted(IN_MM))
    assert stops(apart, f"{required / IN_MM[unit]:.12g} {unit}") == found or abs(apart - required) < 1e-6
    assert stops(apart, f"{required} mm", swapped=True) == found
    more = round(dice.uniform(0.001, 3), 3)
    assert len(stops(apart, f"{required + more:.3f} mm")) >= len(found)
    assert len(stops(apart, f"{required} mm", dice.uniform(0.01, 0.4))) >= len(found)


@many_cases(100)
def test_more_that_is_required_or_a_thicker_coat_never_makes_a_stop_go_away(seeds):
    hold(required_gap, seeds)
