"""What bolt patterns take up across a weld, against the floating fastener formula."""

from __future__ import annotations

from case_builders import case_of

from ledger.checks import all_checks


def test_what_two_patterns_take_up_is_the_sum_of_their_margins():
    """
    M12 through 14 mm holes in laser-cut plates (zone 0.4 mm, holes 0.25 mm smaller): each pattern has 14 - 12 - 0.25
    - 0.4 = 1.35 mm in the worst case by the floating fastener formula, so two take up 2.7 mm across the weld.
    """
    part = {"holes": ["0 0 14", "60 0 14"]}
    third = {
        "holes": ["0 0 14", "60 0 14", "440 0 14", "500 0 14"],
        "groups": {"a": ["H1", "H2"], "b": ["H3", "H4"]},
    }
    case = case_of(
        {"a": part, "b": part, "third": third, "mate": {"kind": "welded", "weldment": "B"}, "fastener": "M12"}
    )
    (rule,) = (c for c in all_checks() if c.name == "weld_tolerance")
    (found,) = rule.run(case, "MATE").findings
    assert (found.code, found.measured, found.limit) == ("weld_spread", "2.700 mm", "3.000 mm")
