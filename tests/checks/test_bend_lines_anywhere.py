"""Whatever lines are drawn on a bend layer, no check of bent parts breaks, and none passes what it could not see."""

from __future__ import annotations

from decimal import Decimal

from case_builders import part_of
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.cases.parts import PartCase
from ledger.checks import all_checks
from ledger.domain.bend import Bend
from ledger.domain.record import TakenProfile
from ledger.domain.shape import Contour, Hole, Profile, Stroke

CHECKS = [c for c in all_checks() if "bend" in c.name or c.name in ("flat_length", "smallest_flange")]
AT = st.one_of(st.floats(-50, 150), st.sampled_from([0.0, 50.0, 100.0]))
POINT = st.tuples(AT, AT)
LINES = st.lists(
    st.lists(st.tuples(AT, AT, st.sampled_from([0.0, 0.0, 0.5])), min_size=2, max_size=3), max_size=4
)
HOLES = st.lists(st.tuples(POINT, st.floats(0.5, 60.0)), max_size=4)
RING = Contour(((0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 100.0, 0.0), (0.0, 100.0, 0.0)))


def part_of_plate_bent(lines, holes, stated):
    profile = Profile(
        RING,
        outlines=(RING,),
        holes=tuple(Hole(f"H{k}", (p,), d) for k, (p, d) in enumerate(holes, 1)),
        bends=tuple(Stroke(tuple(line)) for line in lines),
    )
    bends = (Bend("B1", stated, Decimal(90), "up"),) if stated else ()
    legs = [
        {"name": "leg", "nominal": "50 mm", "measured_on": "leg B1 20 10"},
        {"name": "to", "nominal": "9 mm", "measured_on": "leg B1 H1"},
    ]
    plain = part_of({"plate": "100 100", "thickness": "3 mm", "dimensions": legs}, "PLATE")
    taken = TakenProfile(profile, "p.dxf", "a" * 64, "b" * 64, "mm")
    return plain.__class__(
        **{n: getattr(plain, n) for n in plain.__slots__} | {"taken": taken, "bends": bends}
    )


@settings(max_examples=150)
@given(lines=LINES, holes=HOLES, stated=st.one_of(st.none(), st.tuples(POINT, POINT)))
def test_no_line_breaks_a_check_of_bent_parts(lines, holes, stated):
    case = PartCase(part_of_plate_bent(lines, holes, stated))
    for check in CHECKS:
        outcome = check.run(case, "PLATE")
        assert outcome.state != "error", outcome.reason
        if check.name == "flat_length":
            assert outcome.state == "not run" or outcome.findings or "no bend data" in outcome.reason


def test_a_line_through_the_middle_of_a_hole_is_always_found():
    for turn in range(1, 60):
        low = (turn * 1.6, 0.0, 0.0)
        hole = ((50.0, 50.0), 10.0)
        high = (100.0 - turn * 1.6, 100.0, 0.0)
        outcome = next(c for c in CHECKS if c.name == "hole_near_bend").run(
            PartCase(part_of_plate_bent([[low, high]], [hole], None)), "PLATE"
        )
        assert [f.code for f in outcome.findings] == ["hole_on_bend"]
