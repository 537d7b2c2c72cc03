"""What bolt patterns take up across a weld, against the floating fastener formula."""

from __future__ import annotations

from case_builders import told_by

from ledger.checks import all_checks


def test_what_two_patterns_take_up_is_the_sum_of_their_margins():
    """
    M12 through 14 mm holes in laser-cut plates of 10 mm (zone 0.4 mm, holes 0.3 mm smaller): each pattern has 14 - 12 -
    0.3 - 0.4 = 1.3 mm in the worst case by the floating fastener formula, so two take up 2.6 mm across the weld.
    """
    part = {"holes": ["0 0 14", "60 0 14"]}
    third = {
        "holes": ["0 0 14", "60 0 14", "440 0 14", "500 0 14"],
        "groups": {"a": ["H1", "H2"], "b": ["H3", "H4"]},
    }
    data = {
        "a": part,
        "b": part,
        "third": third,
        "connection": {"kind": "welded", "weld_class": "B"},
        "fastener": "M12",
    }
    (rule,) = (c for c in all_checks() if c.name == "weld_tolerance")
    (found,) = told_by(rule, data).findings
    assert (found.code, found.measured, found.limit) == ("weld_spread", "2.600 mm", "3.000 mm")


def test_patterns_that_go_together_by_the_odds_take_up_nothing_for_certain():
    """Less than nothing in the worst case is not nothing to look at: the weld is judged with no room at all."""
    part = {"holes": ["0 0 12.6", "60 0 12.6"]}
    third = {
        "holes": ["0 0 12.6", "60 0 12.6", "440 0 12.6", "500 0 12.6"],
        "groups": {"a": ["H1", "H2"], "b": ["H3", "H4"]},
    }
    data = {
        "a": part,
        "b": part,
        "third": third,
        "connection": {"kind": "welded", "weld_class": "B"},
        "fastener": "M12",
    }
    (rule,) = (c for c in all_checks() if c.name == "weld_tolerance")
    (found,) = told_by(rule, data).findings
    assert (found.code, found.measured) == ("weld_spread", "0.000 mm")
