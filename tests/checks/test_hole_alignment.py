"""What the check of holes makes of fits that are rare: not proven, not a number, more than one answer."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from case_builders import case_of, written_cases

from ledger.checks.hole_alignment import hole_alignment

SQUARE = ["0 0 13.5", "100 0 13.5", "100 60 13.5", "0 60 13.5"]


def judged(holes_b: list[str], **changed):
    """The outcome where the fit came out with these things changed."""
    case = case_of({"a": {"holes": SQUARE}, "b": {"holes": holes_b}})
    fit = case.best_fit
    case.__dict__["best_fit"] = replace(fit, **changed)
    return hole_alignment.run(case, "CONNECTION")


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
    assert "other holes may be the wrong ones" in outcome.findings[0].fix


def test_another_set_of_holes_that_could_be_the_wrong_ones_is_named():
    out = ["0 0 13.5", "104 0 13.5", *SQUARE[2:]]
    wrong = case_of({"a": {"holes": SQUARE}, "b": {"holes": out}}).best_fit.wrong[0]
    outcome = judged(out, also_wrong=((replace(wrong, a="H1"), replace(wrong, a="H4")),))
    assert "; or else H1 and H4 of TURN" in outcome.findings[0].fix


def test_a_go_tells_both_margins_the_tightest_hole_and_the_ways():
    [fits] = judged(SQUARE).findings
    assert fits.measured == "1.500 mm"
    assert fits.limit == "worst case 0.800 mm"
    assert "tightest at H1 of TURN on H1 of BASE" in fits.message
    assert "2 ways" in fits.message


def test_a_margin_of_nothing_to_spare_in_the_worst_case_still_passes():
    assert [f.code for f in judged(SQUARE, worst_case_margin_mm=0.0).findings] == ["fits"]
    assert [f.code for f in judged(SQUARE, worst_case_margin_mm=-1e-6).findings] == ["odds"]


def first_of(data):
    return hole_alignment.run(case_of(data), "CONNECTION").findings[0]


def test_the_fault_of_a_drawing_comes_before_what_follows_from_it():
    """One corner of a rectangle 30 mm off, and a drawing mirrored: the first stop says so, and its fix is for that."""
    right = ["0 0 13.5", "100 0 13.5", "100 60 13.5", "0 60 13.5"]
    first = first_of({"a": {"holes": right}, "b": {"holes": ["0 0 13.5", "130 0 13.5", *right[2:]]}})
    assert first.message == "H2 of BASE is 30.00 mm off H2 of TURN; the other 3 holes agree"
    assert first.fix.startswith("move H2 of TURN by (+30.00, +0.00) mm")
    odd = ["0 0 13.5", "100 0 13.5", "120 70 13.5", "15 60 13.5", "60 35 13.5"]
    turned = {"holes": [f"-{x}" for x in odd]}
    first = first_of({"a": {"holes": odd}, "b": turned})
    assert first.message.startswith("all 5 holes agree with TURN turned over: a drawing looks mirrored")


@pytest.mark.parametrize(
    ("bolt", "size", "drill"),
    [
        ("M12", 10, "13.5 mm (medium, ISO 273; fine 13 mm)"),
        ("M10", 9, "11 mm (medium, ISO 273; fine 10.5 mm)"),
        ("1/2-13", 12, "9/16 (14.29 mm) (medium, ASME B18.2.8; fine 17/32 (13.49 mm))"),
    ],
)
def test_a_hole_that_is_too_small_names_the_drill(bolt, size, drill):
    """One hole of a group, or all of them: the fix says what to drill."""
    names = {
        "group": "bolts",
        "groups": {"bolts": ["H1", "H2", "H3", "H4"]},
        "holes": [*SQUARE[:3], f"0 60 {size}"],
    }
    wide = {"holes": [f"{x.rpartition(' ')[0]} 15" for x in SQUARE]}
    first = first_of({"a": names, "b": wide, "fastener": bolt})
    assert first.code == "too_small"
    assert first.fix.startswith(f"drill H4 to {drill}")
    first = first_of(
        {"a": {"holes": [f"{x.rpartition(' ')[0]} {size}" for x in SQUARE]}, "b": wide, "fastener": bolt}
    )
    assert first.message.startswith(f"all 4 holes of TURN are {size:.2f} mm: too small")
    assert first.fix.startswith(f"drill {drill} in TURN")


def test_odds_that_are_too_low_name_the_next_standard_hole():
    eleven = {"holes": [x.replace("13.5", "11") for x in SQUARE]}
    first = first_of(
        {"a": eleven, "b": {"holes": ["0 0 11", "102 0 11", "100 60 11", "0 60 11"]}, "fastener": "M10"}
    )
    assert first.code == "odds_too_low"
    assert "the next standard size is 12 mm (coarse)" in first.fix


@pytest.mark.parametrize(
    "written", [w for w in written_cases() if w.check == "hole_alignment"], ids=lambda w: w.ident
)
def test_holes_left_over_on_one_plate_are_in_the_line_of_the_verdict(written):
    case = case_of(written.data)
    found = hole_alignment.run(case, "subject").findings
    lines = [f.message for f in found if f.code in ("fits", "odds", "odds_too_low", "tight_worst_case")]
    fit = case.best_fit if len(case.plies) == 2 and lines else None
    for placed, labels in zip(case.plies, (fit.unmatched_a, fit.unmatched_b) if fit else (), strict=False):
        told = f"of {placed.part.number} without a counterpart: {', '.join(labels)}"
        assert all((told in line) == bool(labels) for line in lines)
