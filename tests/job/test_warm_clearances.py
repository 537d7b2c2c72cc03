"""A clearance read on warm parts is kept as it is at 20 °C, beside what was read and how warm it was."""

from __future__ import annotations

import json

import pytest

from ledger.acts.connections import RequireClearance
from ledger.cli import main
from ledger.domain.connection import Reading
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.readings import apart_from_warmth, as_read


@pytest.fixture
def gap(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 500 mm")
    return bench


def aluminium(bench, *numbers):
    for number in numbers:
        bench.job.write_part(number, {"material": "6061-T6"}, by="Mira")


def reading(bench) -> Reading:
    return bench.job.connections()[0].clearances[0].reading


def test_the_room_between_two_aluminium_parts_is_smaller_when_it_is_cool(gap):
    aluminium(gap, "BASE", "TURN")
    made = gap.job.measure("TURN-BASE", "gap", "500.1 ±0.05 mm steel rule", warm="45C", by="Mira")
    # by hand: 500.1 (1 + 11.5e-6·25) / (1 + 23.6e-6·25) = 500.1 (1 - 0.0003023) = 499.949 mm; with ISO 1's 20 °C,
    # 23.6e-6/K of 6061 (Callister & Rethwisch, table B.6) and 11.5e-6/K of a steel scale
    assert float(made.value.mm) == pytest.approx(499.949, abs=2e-3)
    assert made.uncertainty.mm > reading(gap).uncertainty.mm / 2
    assert made.words.endswith("steel rule, read 500.1 mm at 45 °C")
    (finding,) = [f for f in gap.job.connection_view("TURN-BASE").findings if f.code == "not_proven"]
    assert "too small" in finding.message  # as it was read, 500.1 ±0.05 mm, it would have passed


def test_the_correction_adds_its_own_doubt(gap):
    aluminium(gap, "BASE", "TURN")
    made = gap.job.measure("TURN-BASE", "gap", "500.1 ±0.05 mm steel rule at 45C", by="Mira")
    # by hand, standard uncertainties: 0.025 of the reading; 500.1·(23.6-11.5)e-6·2/√3 = 0.00699 for the temperature
    # being known to ±2 K; 500.1·25·1e-6/√3 = 0.00722 for the coefficient; together 0.0269, times 2 = 0.054 mm
    assert float(made.uncertainty.mm) == pytest.approx(0.054, abs=1.5e-3)


def test_parts_that_do_not_grow_alike_cannot_be_corrected(gap):
    aluminium(gap, "TURN")
    with pytest.raises(BadInput, match="how the room between them moves with heat") as told:
        gap.job.measure("TURN-BASE", "gap", "500.1 ±0.05 mm steel rule", warm="45C", by="Mira")
    assert "TURN is aluminium 6061-T6" in str(told.value)
    gap.job.measure("TURN-BASE", "gap", "500.1 ±0.05 mm steel rule", by="Mira")
    assert reading(gap).how == ""


@pytest.mark.parametrize("warm", ["warm", "500C", "30"])
def test_a_temperature_that_is_none_is_refused(gap, warm):
    with pytest.raises(BadInput):
        gap.job.measure("TURN-BASE", "gap", "500.1 ±0.05 mm steel rule", warm=warm, by="Mira")


def test_a_part_of_unknown_material_names_those_that_are_known(gap):
    gap.job.write_part("TURN", {"material": "oak"}, by="Mira")
    with pytest.raises(UnknownName, match="coefficient of expansion"):
        gap.job.measure("TURN-BASE", "gap", "500.1 ±0.05 mm steel rule", warm="45C", by="Mira")


def test_a_temperature_is_said_once(gap):
    with pytest.raises(BadInput, match="say once"):
        gap.job.measure("TURN-BASE", "gap", "500.1 ±0.05 mm steel rule at 45C", warm="30C", by="Mira")


def test_the_command_line_takes_it_and_tells_both(gap, monkeypatch, capsys):
    aluminium(gap, "BASE", "TURN")
    monkeypatch.setenv("FITUP_BY", "Mira")
    words = ["measure", "TURN-BASE", "gap", "500.1 ±0.05 mm steel rule", "--at", "45C", "--job", gap.place]
    assert main([*words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["value"].startswith("499.9")
    assert "500.1 mm from 45 to 20 °C (ISO 1)" in told["how"]
    assert main(["connections", "--job", gap.place]) == 0
    assert "read 500.1 mm at 45 °C" in capsys.readouterr().out


def test_a_signature_does_not_survive_another_temperature(gap):
    aluminium(gap, "BASE", "TURN")
    gap.job.measure("TURN-BASE", "gap", "510 ±0.5 mm steel rule at 30C", by="Mira")
    (before,) = gap.job.verdicts(["BASE"])
    gap.job.measure("TURN-BASE", "gap", "510 ±0.5 mm steel rule at 31C", by="Mira")
    (after,) = gap.job.verdicts(["BASE"])
    assert before.subject != after.subject


@pytest.mark.parametrize(
    ("text", "parted"),
    [
        ("1.8 ±0.1 mm feeler at 30C", ("1.8 ±0.1 mm feeler", "30C")),
        ("1.8 mm feeler at -5 °C", ("1.8 mm feeler", "-5 °C")),
        ("1.8 mm feeler at bench", ("1.8 mm feeler at bench", "")),
    ],
)
def test_the_words_behind_a_reading_are_told_apart(text, parted):
    assert apart_from_warmth(text) == parted


def test_what_was_read_is_found_in_how_a_value_came_about():
    assert as_read("3 readings (k = 2.1); 10.2 mm from 30 to 20 °C (ISO 1) for S235") == (
        "read 10.2 mm at 30 °C"
    )
    assert as_read("3 readings") == ""
