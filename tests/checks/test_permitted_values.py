"""A finding that a permit may hold up to a value tells on which side of its bound that value lies."""

from __future__ import annotations

from decimal import Decimal

import pytest
from case_builders import told_by, written_cases

from ledger.checks import all_checks

CHECKS = {c.name: c for c in all_checks()}
BELOW = {
    *(
        "bolt_short",
        "gap_small",
        "gap_in_play",
        "edge_near",
        "holes_near",
        "hole_under_kerf",
        "hole_small",
        "web_thin",
    ),
    *("flange_short", "thread_short", "seat_overhangs", "seats_meet", "no_socket_room", "wall_near_bolt"),
    "part_near_bolt",
}
ABOVE = {"bolt_long", "gap_large"}
FOUND = [
    pytest.param(finding, id=f"{written.ident}-{finding.where}")
    for written in written_cases()
    for finding in told_by(CHECKS[written.check], written.data).findings
    if finding.code in BELOW | ABOVE
]


def test_every_such_code_is_met():
    assert {p.values[0].code for p in FOUND} == BELOW | ABOVE


@pytest.mark.parametrize("finding", FOUND)
def test_the_value_lies_on_the_wrong_side_of_the_bound_and_is_permitted_up_to_itself_only(finding):
    if not finding.value:  # several limits in one finding: one value would not tell how near each is
        assert finding.code in {"edge_near", "holes_near"}
        return
    above, step = finding.code in ABOVE, Decimal("0.001")
    worse = Decimal(finding.value) + (step if above else -step)
    better = Decimal(finding.value) - (step if above else -step)
    assert finding.above is above
    assert finding.no_worse_than(finding.value, above=above)
    assert finding.no_worse_than(str(worse), above=above)
    assert not finding.no_worse_than(str(better), above=above)
