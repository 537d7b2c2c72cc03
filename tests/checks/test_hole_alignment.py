"""What the check of holes makes of fits that are rare: not proven, not a number, more than one answer."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from case_builders import case_of

from ledger.checks.hole_alignment import hole_alignment

SQUARE = ["0 0 13.5", "100 0 13.5", "100 60 13.5", "0 60 13.5"]


def judged(holes_b: list[str], **changed):
    """The outcome where the fit came out with these things changed."""
    case = case_of({"a": {"holes": SQUARE}, "b": {"holes": holes_b}}).shown((), ())
    fit = case.best_fit
    case.__dict__["best_fit"] = replace(fit, **changed)
    return hole_alignment.run(case, "MATE")


def test_a_go_that_is_not_proven_is_not_run():
    outcome = judged(SQUARE, proven=False)
    assert outcome.state == "not run"
    assert "no proof" in outcome.reason


@pytest.mark.parametrize("name", ["margin_mm", "worst_case_margin_mm"])
@pytest.mark.parametrize("value", [math.nan, math.inf, None])
def test_a_margin_that_is_not_a_number_never_passes(name, value):
    assert judged(SQUARE, **{name: value}).state == "not run"


def test_a_no_go_that_names_no_hole_is_not_run():
    assert judged(SQUARE, verdict="NO-GO").state == "not run"


def test_a_no_go_that_is_not_proven_says_that_other_holes_may_be_wrong():
    outcome = judged(["0 0 13.5", "104 0 13.5", *SQUARE[2:]], proven=False)
    assert [f.code for f in outcome.findings] == ["offset"]
    assert "other holes may be the wrong ones" in outcome.findings[0].remedy


def test_another_set_of_holes_that_could_be_the_wrong_ones_is_named():
    out = ["0 0 13.5", "104 0 13.5", *SQUARE[2:]]
    wrong = case_of({"a": {"holes": SQUARE}, "b": {"holes": out}}).best_fit.wrong[0]
    outcome = judged(out, also_wrong=((replace(wrong, a="H1"), replace(wrong, a="H4")),))
    assert "; or else H1 and H4 of TURN" in outcome.findings[0].remedy


def test_a_go_tells_both_margins_the_tightest_hole_and_the_ways():
    [fits] = judged(SQUARE).findings
    assert fits.measured == "1.500 mm"
    assert fits.limit == "worst case 0.800 mm"
    assert "tightest at H1 of TURN on H1 of BASE" in fits.message
    assert "2 ways" in fits.message


def test_a_margin_of_nothing_to_spare_in_the_worst_case_still_passes():
    assert [f.code for f in judged(SQUARE, worst_case_margin_mm=0.0).findings] == ["fits"]
    assert [f.code for f in judged(SQUARE, worst_case_margin_mm=-1e-6).findings] == ["odds"]
