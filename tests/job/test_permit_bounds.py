"""A permit up to a value holds while what is found is no worse, and not a hair longer."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.domain.errors import BadInput
from ledger.domain.finding import Finding


def permit(bench, code, place, up_to, number="BASE"):
    fields = {"code": code, "place": place, "reason": "trimmed by hand", "until": "", "up_to": up_to}
    bench.job.permit(number, "Mira", **fields)


def asked_for(bench, nominal):
    bench.do(
        RecordDimension, number="BASE", name="width", nominal=nominal, limits="±0.2", measured_on="width"
    )  # the drawing has 200 mm


def test_it_holds_while_the_drawing_is_no_farther_out(bench):
    asked_for(bench, "199 mm")
    permit(bench, "off_drawing", "width", "200 mm")
    assert "off_drawing" not in bench.codes("BASE")
    asked_for(bench, "199.5 mm")  # nearer than was permitted
    assert "off_drawing" not in bench.codes("BASE")
    asked_for(bench, "201 mm")  # out on the other side
    assert "off_drawing" in bench.codes("BASE")


def test_a_clearance_that_gets_smaller_than_was_permitted_stops_again(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 2 mm")
    bench.job.measure("TURN-BASE", "gap", "1.8 ±0.1 mm feeler", by="Mira")
    permit(bench, "clearance_missed", "TURN-BASE/gap", "1.7 mm")
    assert "clearance_missed" not in bench.codes("BASE")
    bench.job.measure("TURN-BASE", "gap", "1.7 ±0.1 mm feeler", by="Mira")
    assert "clearance_missed" not in bench.codes("BASE")
    bench.job.measure("TURN-BASE", "gap", "1.69 ±0.1 mm feeler", by="Mira")
    assert "clearance_missed" in bench.codes("BASE")


def test_a_value_that_does_not_hold_now_or_is_none_is_refused(bench):
    asked_for(bench, "199 mm")
    with pytest.raises(BadInput, match=r"does not cover what is found: 200\.000 mm"):
        permit(bench, "off_drawing", "width", "199.9 mm")
    with pytest.raises(BadInput, match="a mass"):
        permit(bench, "off_drawing", "width", "5 kg")
    bench.plate("LONE")
    with pytest.raises(BadInput, match="no value that a permit could hold it to"):
        permit(bench, "no_connection", "LONE", "1 mm", number="LONE")


def test_the_bounds_stand_on_the_job_record(bench):
    asked_for(bench, "199 mm")
    permit(bench, "off_drawing", "width", "200 mm")
    bench.lock("BASE", "TURN")
    words = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(bench.job.record("BASE"))).pages)
    assert "this revision, no end date, up to 200 mm" in " ".join(words.split())
    assert bench.job.verify() == ()


@pytest.mark.parametrize(
    ("value", "bound", "up_to", "holds"),
    [
        ("1.8", "2", "1.8", True),
        ("1.8", "2", "1.7", True),
        ("1.8", "2", "1.9", False),
        ("2.5", "2", "2.5", True),
        ("2.5", "2", "2.4", False),
        ("2.5", "2", "1", False),
        ("", "", "1", False),
    ],
)
def test_no_worse_is_no_farther_beyond_on_the_same_side(value, bound, up_to, holds):
    found = Finding("x", "x", value=value, bound=bound)
    assert found.no_worse_than(up_to, above=found.above) is holds
    assert not found.no_worse_than(up_to, above=not found.above)
