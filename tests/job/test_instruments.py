"""Instruments of the job's own: what they are good for, when they are due, and what was read with them."""

from __future__ import annotations

import json
from functools import partial

import pytest

from ledger.acts.base import make
from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import dimension_act
from ledger.acts.instruments import RecordInstrument
from ledger.acts.survey import distance_act, point_act
from ledger.cli import main
from ledger.domain.errors import BadInput, UnknownName

TODAY = "2026-03-02"  # of the clock of these tests


def tool(bench, name="caliper 7", kind="caliper", calibrated="2026-01-10", **fields):
    bench.do(RecordInstrument, name=name, tool=kind, calibrated=calibrated, day=TODAY, **fields)


def dimension(bench, **fields):
    fields = {"number": "BASE", "name": "slot", "source": "measured", **fields}
    bench.job.do_made(partial(dimension_act, **fields), by="Mira")
    return next(d for d in bench.job.part("BASE").dimensions if d.name == fields["name"])


def warnings(bench, number="BASE"):
    (verdict,) = bench.job.verdicts([number])
    return {(w.code, w.where) for w in verdict.warnings}


def test_a_dimension_takes_its_uncertainty_from_the_instrument(bench):
    tool(bench, standard="0.2 mm")
    found = dimension(bench, nominal="90 mm", instrument="caliper 7")
    assert (found.nominal.written, found.instrument) == ("90 mm", "caliper 7")
    # root of 0.2² + 0.01²/12 + 0.02², times 1.96, rounded up: GUM 5.1.2
    assert found.uncertainty.written == "0.4 mm"
    assert "calibrated 2026-01-10" in found.how


def test_a_tape_of_a_class_is_as_good_as_its_class(bench):
    for grade in ("I", "III"):
        tool(bench, name=f"tape {grade}", kind="tape", grade=grade)
    one, three = (
        dimension(bench, name=f"span {g}", nominal="4000 mm", instrument=f"tape {g}") for g in ("I", "III")
    )
    assert one.uncertainty.mm < three.uncertainty.mm


def test_hole_spacing_is_the_mean_of_inside_and_outside_edges(bench):
    found = dimension(bench, nominal="inside 82 outside 98 mm caliper")
    assert found.nominal.written == "90 mm"
    assert "inside and outside edges of equal holes" in found.how


def test_work_read_warm_is_corrected_to_20_degrees(bench):
    bench.job.write_part("BASE", {"material": "6061-T6"}, by="Mira")
    found = dimension(bench, nominal="1000 mm", instrument="steel rule", uncertainty="0.02 mm", at="30C")
    assert float(found.nominal.mm) == pytest.approx(1000 - 0.121, abs=2e-3)
    bench.job.write_part("BASE", {"material": "oak"}, by="Mira")
    with pytest.raises(UnknownName, match="coefficient of expansion"):
        dimension(bench, nominal="1000 mm", instrument="steel rule", at="30C")
    with pytest.raises(BadInput, match="as a temperature"):
        dimension(bench, nominal="1000 mm", instrument="steel rule", at="warm")
    with pytest.raises(BadInput, match="belongs to a measured dimension"):
        dimension(bench, nominal="1000 mm", source="given", at="30C")


def test_what_was_read_past_its_day_is_a_warning_and_what_was_read_in_time_stays_so(bench):
    tool(bench, calibrated="2025-01-31", months=12)
    dimension(bench, nominal="90 ±0.1 mm caliper 7")
    assert ("instrument_overdue", "slot") in warnings(bench)
    tool(bench, calibrated="2026-03-01")
    assert ("instrument_overdue", "slot") not in warnings(bench)
    (known,) = bench.job.instruments()
    assert (known.calibrated, known.due) == ("2026-03-01", "2027-03-01")


def test_a_month_that_is_shorter_ends_sooner(bench):
    tool(bench, calibrated="2025-08-31", months=6)
    assert bench.job.instruments()[0].due == "2026-02-28"


def test_a_clearance_a_distance_and_a_point_say_so_too(bench):
    tool(bench, name="tape 2", kind="tape", calibrated="2024-01-31")
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")
    bench.job.measure("TURN-BASE", "gap", "5 mm tape 2", by="Mira")
    assert ("reading_overdue", "TURN-BASE/gap") in warnings(bench)
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    for label, at in (("P1", ("0 mm", "0 mm")), ("P2", ())):
        made = partial(point_act, number="PIER", label=label, at=at, instrument="tape 2" if at else "")
        bench.job.do_made(made, by="Mira")
    made = partial(distance_act, number="PIER", a="P1", b="P2", reading="1532 1533 mm tape 2")
    bench.job.do_made(made, by="Mira")
    assert warnings(bench, "PIER") >= {("distance_overdue", "P1 to P2"), ("point_overdue", "P1")}
    assert bench.job.part("PIER").points[0].uncertainty is not None


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"calibrated": "2026-03-03"}, "is in the future; today is 2026-03-02"),
        ({"calibrated": "2026-02-30"}, "expected YYYY-MM-DD"),
        ({"calibrated": "20260110"}, "expected YYYY-MM-DD"),
        ({"standard": "0 mm"}, "expected a length above zero"),
        ({"resolution": "0 mm"}, "expected a length above zero"),
        ({"standard": "0.1 kg"}, "a mass"),
        ({"standard": "0.1 mm", "limit": "0.1 mm"}, "say once how good it is"),
        ({"grade": "IV"}, "no class 'IV'"),
        ({"kind": "calliperr"}, "no instrument 'calliperr'.*calliper|caliper"),
        ({"name": "5 m tape"}, "put a word first"),
        ({"months": 0}, "months"),
    ],
)
def test_what_cannot_be_is_refused(bench, fields, why):
    with pytest.raises(BadInput, match=why):
        tool(bench, **fields)
    assert bench.job.instruments() == ()


def test_an_instrument_nobody_knows_is_told_with_the_nearest(bench):
    tool(bench, name="depth gauge A", kind="depth gauge")
    with pytest.raises(UnknownName, match=r"no instrument 'depth guage'.*depth gauge"):
        dimension(bench, nominal="12 mm", instrument="depth guage")


def test_by_hand(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FITUP_BY", "Mira")

    def said(*words):
        code = main([*words, "--json"])
        return code, json.loads(capsys.readouterr().out)

    said("start", "Pier mount")
    said("part", "PIER", "--form", "site", "--material", "concrete")
    assert (
        said("instrument", "tape 2", "--kind", "tape", "--class", "II", "--calibrated", "2020-01-10")[0] == 0
    )
    code, listed = said("instrument")
    assert (code, listed["instruments"][0]["overdue"]) == (0, True)
    assert said("instrument", "tape 3", "--kind", "tape")[0] == 2
    assert said("instrument", "tape 3", "--kind", "tape", "--calibrated", "2999-01-01")[0] == 2
    assert said("point", "PIER", "P1", "P2")[0] == 0
    code, made = said("distance", "PIER", "P1", "P2", "1532 1533 mm tape 2", "--at", "30C")
    assert code == 0
    assert "from 30 to 20 °C (ISO 1) for concrete" in made["done"]
    code, made = said("dimension", "PIER", "pad", "inside 82 outside 98 mm tape 2", "--source", "measured")
    assert (code, made["value"]) == (0, "90 mm")
    assert main(["instrument"]) == 0
    assert "OVERDUE since 2021-01-10" in capsys.readouterr().out


def test_the_act_is_read_again_from_the_journal(bench):
    tool(bench)
    assert bench.job.verify() == ()
    with pytest.raises(BadInput):
        make(RecordInstrument, name="x", tool="tape", calibrated="2026-01-01", day=TODAY, months=121)
