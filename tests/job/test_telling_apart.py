"""Parts that look alike are told of; a part that is drawn later makes nobody sign again."""

from __future__ import annotations

import pytest
from bench_job import Bench, plate_dxf

from ledger.acts.dimensions import RecordDimension
from ledger.judge.look_alikes import MOST

LOOK = plate_dxf(((30.0, 30.0), (170.0, 70.0)))


@pytest.fixture
def job(tmp_path, clock):
    made = Bench.started(tmp_path, clock)
    for number in ("LEFT", "RIGHT"):
        made.job.write_part(number, {"title": "", "material": "S275", "thickness": "10 mm"}, by="Mira")
        made.job.take_profile(number, f"{number}.dxf", LOOK, by="Mira")
    yield made
    made.job.close()


def warned(job, number, *together):
    verdicts = job.job.verdicts([number, *together])
    return [w.measured for w in verdicts[0].warnings if w.code == "not_told_apart"]


def test_two_open_parts_of_one_material_and_vendor_are_told_of(job):
    assert warned(job, "LEFT") == ["RIGHT"]
    assert warned(job, "RIGHT") == ["LEFT"]


def test_an_etched_number_settles_it_for_both(job):
    job.job.write_part("LEFT", {"etched": "LEFT"}, by="Mira")
    assert warned(job, "LEFT") == warned(job, "RIGHT") == []
    assert job.job.part("LEFT").etched == "LEFT"


def test_another_grade_counts_only_in_the_set_that_goes_out_together(job):
    job.job.write_part("RIGHT", {"material": "S355"}, by="Mira")
    assert warned(job, "LEFT") == []
    assert warned(job, "LEFT", "RIGHT") == ["RIGHT"]


def test_another_vendor_likewise(job):
    job.job.take_profile("RIGHT", "RIGHT.dxf", LOOK, vendor="Cutters", by="Mira")
    assert warned(job, "LEFT") == []
    assert warned(job, "LEFT", "RIGHT") == ["RIGHT"]


def test_a_part_that_is_drawn_later_voids_no_signature(tmp_path, clock):
    made = Bench.started(tmp_path, clock)
    made.plate("ALONE", unconnected=True, etched="")
    for name in ("width", "height"):
        size = {"width": "200 mm", "height": "100 mm"}[name]
        made.do(RecordDimension, number="ALONE", name=name, nominal=size, limits="±0.2", measured_on=name)
    made.sign_all("ALONE")
    (before,) = made.job.verdicts(["ALONE"])
    made.plate("LATER", etched="")
    (after,) = made.job.verdicts(["ALONE"])
    assert before.go
    assert after.go
    assert after.subject == before.subject
    assert [w.measured for w in after.warnings if w.code == "not_told_apart"] == ["LATER"]
    made.job.lock(["ALONE"], "Jonas", tmp_path / "out")
    assert warned(made, "LATER") == []
    made.job.close()


def test_of_many_that_look_alike_the_nearest_are_held_against_it_and_the_rest_is_said(job):
    for k in range(MOST + 3):
        job.job.write_part(f"MORE-{k:02}", {"material": "S275", "thickness": "10 mm"}, by="Mira")
        job.job.take_profile(f"MORE-{k:02}", "more.dxf", LOOK, by="Mira")
    (verdict,) = job.job.verdicts(["LEFT"])
    assert any("4 more parts of about the same size" in said for said in verdict.not_checked)
    (warning,) = (w for w in verdict.warnings if w.code == "not_told_apart")
    assert f"and {MOST - 3} more" in warning.message


def test_a_drawing_taken_by_an_older_program_is_found_too(job):
    from ledger.store.tables import ProfileFact

    with job.job._writing() as facts:
        for number in ("LEFT", "RIGHT"):
            facts.get_one(ProfileFact, (number, "A")).likeness = ""
        facts.flush()
        bench = job.job.judging.bench(facts, ())
        assert [p.number for p in bench.surrounded_part(bench.cases("LEFT")[0]).others] == ["RIGHT"]
        facts.rollback()
