"""A calculated dimension follows what it was calculated from, until its part is locked."""

from __future__ import annotations

import pytest

from ledger.acts.dimensions import CalculateDimension, RecordDimension
from ledger.acts.parts import NewRevision
from ledger.domain.errors import BadInput, UnknownName


def named(job, number, name):
    return next(d for d in job.part(number).dimensions if d.name == name)


def calculate(bench, name, formula, number="BASE", **more):
    bench.do(CalculateDimension, number=number, name=name, formula=formula, **more)


def test_it_follows_the_dimension_it_names_and_the_digest_follows_it(bench):
    calculate(bench, "reach", "2*width + 3/16 in", limits="±0.1")
    assert named(bench.job, "BASE", "reach").nominal.written == "404.7625 mm"
    (before,) = bench.job.verdicts(["BASE"])
    bench.do(RecordDimension, number="BASE", name="width", nominal="210 mm", measured_on="width")
    assert named(bench.job, "BASE", "reach").nominal.written == "424.7625 mm"
    (after,) = bench.job.verdicts(["BASE"])
    assert before.subject != after.subject


def test_it_follows_another_part_through_a_third(bench):
    bench.plate("ARM")
    bench.do(RecordDimension, number="ARM", name="bolt circle", nominal="8 in")
    calculate(bench, "reach", "[bolt circle] of ARM + width", number="TURN")
    calculate(bench, "gap", "reach of TURN - width")
    assert named(bench.job, "BASE", "gap").nominal.written == "203.2 mm"
    bench.do(RecordDimension, number="ARM", name="bolt circle", nominal="10 in")
    assert named(bench.job, "BASE", "gap").nominal.written == "254 mm"


def test_a_ring_is_refused_with_its_names(bench):
    calculate(bench, "a", "width + 1 mm")
    calculate(bench, "b", "a of BASE / 2", number="TURN")
    with pytest.raises(BadInput, match="would be calculated from itself: a -> b of TURN -> a"):
        calculate(bench, "a", "b of TURN * 2")
    with pytest.raises(BadInput, match="c would be calculated from itself: c -> c"):
        calculate(bench, "c", "c + 1 mm")


def test_names_that_are_not_there_are_told_with_the_nearest(bench):
    with pytest.raises(UnknownName, match=r"no dimension of BASE 'widht'.*width"):
        calculate(bench, "half", "widht/2")
    with pytest.raises(UnknownName, match=r"no part 'BAS'.*BASE"):
        calculate(bench, "half", "width of BAS/2")


@pytest.mark.parametrize(
    ("formula", "why"),
    [
        ("width*height", "an area; a dimension that is not measured on the drawing is a length"),
        ("width/height", "a plain number"),
        ("width - 200 mm", "a dimension is above zero"),
        ("width - 300 mm", "a dimension is above zero"),
        ("width/(height - 100 mm)", "is zero"),
        ("width + 5 kg", "a mass"),
        ("width*1000000", "more than anything here is"),
    ],
)
def test_what_is_no_length_is_refused(bench, formula, why):
    with pytest.raises(BadInput, match=why):
        calculate(bench, "x", formula)
    assert bench.job.part("BASE").dimensions[-1].name == "width"


def test_a_kind_follows_the_binding(bench):
    calculate(bench, "plate", "width*height - 572.555 mm2", measured_on="area", limits="±5 mm2")
    found = named(bench.job, "BASE", "plate")
    assert found.nominal.written == "19427.445 mm2"
    assert "off_drawing" not in bench.codes("BASE")
    with pytest.raises(BadInput, match="measured on width it is a length"):
        calculate(bench, "other", "width*height", measured_on="width")


def test_uncertainty_is_propagated(bench):
    for name, u in (("p", "0.3 mm"), ("q", "0.2 mm")):
        bench.do(
            RecordDimension, number="BASE", name=name, nominal="50 mm", source="measured", instrument="caliper",
            uncertainty=u,
        )  # fmt: skip
    calculate(bench, "r", "p + 2*q")
    assert named(bench.job, "BASE", "r").uncertainty.written == "0.5 mm"  # sqrt(0.3² + 0.4²)


def test_a_locked_part_keeps_its_value_and_the_next_revision_follows_again(bench):
    calculate(bench, "reach", "2*width of TURN", number="BASE", frozen=True)
    bench.lock("BASE", "TURN")
    assert bench.job.verify() == ()
    bench.do(NewRevision, number="TURN", reason="wider")
    bench.do(RecordDimension, number="TURN", name="width", nominal="210 mm", measured_on="width")
    assert named(bench.job, "BASE", "reach").nominal.written == "400 mm"
    bench.do(NewRevision, number="BASE", reason="follow TURN")
    assert named(bench.job, "BASE", "reach").nominal.written == "420 mm"
    assert {"frozen_changed"} <= bench.codes("BASE")
    assert bench.job.verify() == ()
    words = [c.words for c in bench.job.changes_between("BASE").changes]
    assert "dimension reach: 400 mm -> 420 mm" in words


def test_a_dimension_taken_back_under_a_formula_stops_and_nothing_fails(bench):
    bench.do(RecordDimension, number="TURN", name="lip", nominal="5 mm")
    bench.job.do(bench_act("BASE", "twice", "2*lip of TURN"), by="Jonas")
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert "no dimension of TURN 'lip'" in named(bench.job, "BASE", "twice").fault
    (verdict,) = bench.job.verdicts(["BASE"])
    assert {s.where for s in verdict.stops if s.code == "not_calculated"} == {"twice"}
    assert bench.job.report()


def bench_act(number, name, formula):
    return CalculateDimension(number=number, name=name, formula=formula)


def test_an_open_part_that_it_follows_is_a_warning_but_not_in_one_set(bench):
    calculate(bench, "reach", "2*width of TURN")
    (alone,) = bench.job.verdicts(["BASE"])
    assert "source_open" in {w.code for w in alone.warnings}
    both = bench.job.verdicts(["BASE", "TURN"])
    assert "source_open" not in {w.code for v in both for w in v.warnings}


def test_a_table_may_calculate_from_its_own_rows_in_any_order(bench):
    table = (
        "part,name,nominal,source\n"
        "BASE,outer,2*inner + lip,calculated\n"
        "BASE,inner,width/4,calculated\n"
        "BASE,lip,5 mm,given\n"
    )
    found = bench.job.preview_table(table.encode())
    assert [(r.state, r.words) for r in found.rows] == [
        ("new", "2*inner + lip = 105 mm"),
        ("new", "width/4 = 50 mm"),
        ("new", "5 mm"),
    ]
    bench.job.enter_table(table.encode(), by="Mira")
    assert named(bench.job, "BASE", "outer").nominal.written == "105 mm"
    again = bench.job.preview_table(bench.job.dimension_table("BASE"))
    assert {r.state for r in again.rows} == {"unchanged"}


def test_an_entry_seen_from_the_past_has_the_value_of_then(bench):
    calculate(bench, "reach", "2*width of TURN")
    bench.sign_all("BASE", "TURN")
    bench.do(RecordDimension, number="TURN", name="width", nominal="210 mm", measured_on="width")
    words = [c.words for c in bench.job.changes_since("BASE", "Mira").changes]
    assert "dimension reach: 400 mm -> 420 mm" in words
