"""What is answered at once to an entry is what the verdict says of it, with its margin or its first stop."""

from __future__ import annotations

import json
import random
from contextlib import suppress

import pytest
from bench_job import CORNERS, PLATE, Bench, plate_dxf

from ledger.acts.connections import RecordConnection, RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.cli import main
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.finding import Finding
from ledger.judge import answers
from ledger.words.answers import Answer, answer_lines, answers_lines


@pytest.fixture
def bench(tmp_path, clock):
    """A job with people and nothing else."""
    made = Bench.started(tmp_path, clock)
    yield made
    made.job.close()


def lines_of(job, **about):
    return [line for found in job.answers(**about) for line in answer_lines(found)]


def bolted(bench, dxf, **fields):
    bench.plate("BASE")
    bench.plate("TURN", dxf)
    bench.do(RecordConnection, name="T-B", connection_kind="bolted", joint="through", fastener="M12",
             plies=({"part": "TURN", "group": "bolts"}, {"part": "BASE", "group": "bolts"}), **fields)  # fmt: skip


def test_a_connection_that_fits_is_answered_with_both_margins(bench):
    bolted(bench, plate_dxf())
    (line,) = lines_of(bench.job, connection="T-B")
    assert line.startswith("T-B: fits; margin 1.500 mm nominal, worst case ")


def test_a_connection_that_does_not_fit_is_answered_with_the_hole_the_move_and_the_code(bench):
    bolted(bench, plate_dxf((*CORNERS[:3], (24.0, 80.0))))
    first, second = lines_of(bench.job, connection="T-B")
    assert first.startswith("T-B: does not fit: H")
    assert "is 4.00 mm off (allows 1.50 mm)  [offset]" in first
    assert second.startswith("  move H")


def test_a_connection_without_a_drawing_is_not_known_yet(bench):
    bench.plate("BASE")
    bench.job.write_part("TURN", PLATE, by="Mira")
    bench.do(RecordConnection, name="T-B", connection_kind="bolted", joint="through", fastener="M12",
             plies=({"part": "TURN"}, {"part": "BASE", "group": "bolts"}))  # fmt: skip
    (found,) = bench.job.answers(connection="T-B")
    assert (found.fits, found.words) == (None, "not known yet, TURN has no drawing")
    assert bench.job.answers(part="BASE") == ()


def test_bolts_are_answered_with_what_the_stack_needs(bench):
    bolted(bench, plate_dxf())
    (found,) = bench.job.answers(connection="T-B", bolts=True)
    assert (found.fits, found.words) == (None, "at least 39.70 mm long; no length entered")


def test_a_reading_is_answered_with_the_margin_that_it_proves(bench):
    bolted(bench, plate_dxf())
    bench.do(RequireClearance, connection="T-B", name="rim", required=">= 2 mm")
    assert lines_of(bench.job, connection="T-B", name="rim") == ["rim: required >= 2 mm, not measured yet"]
    bench.job.measure("T-B", "rim", "2.6 ±0.2 mm feeler", by="Mira")
    assert lines_of(bench.job, connection="T-B", name="rim") == [
        "rim: proven: 2.6 mm ±0.2 mm, required >= 2 mm; margin 0.4 mm"
    ]
    bench.job.measure("T-B", "rim", "2.1 ±0.2 mm feeler", by="Mira")
    first, second = lines_of(bench.job, connection="T-B", name="rim")
    assert first == "not proven: rim is 2.1 mm ±0.2 mm (min 2 mm)  [not_proven]"
    assert second.startswith("  measure with an uncertainty of ±0.1 mm or better")
    with pytest.raises(UnknownName):
        bench.job.answers(connection="T-B", name="rum")


def test_a_dimension_is_answered_with_what_is_drawn_whatever_is_wrong_with_the_others(bench):
    bench.plate("BASE")
    bench.do(
        RecordDimension, number="BASE", name="length", nominal="210 mm", limits="±0.2", measured_on="width"
    )
    bench.do(
        RecordDimension, number="BASE", name="depth", nominal="100.1 mm", limits="±0.3", measured_on="height"
    )
    assert lines_of(bench.job, part="BASE", name="depth") == [
        "depth: holds; drawn 100.000 mm, required 100.1 mm ±0.3 mm; margin 0.200 mm"
    ]
    first, _ = lines_of(bench.job, part="BASE", name="length")
    assert first == "does not hold: length is drawn 200.00 mm (must be 210 mm ±0.2 mm)  [off_drawing]"


@pytest.mark.parametrize("seed", range(6))
def test_an_answer_is_what_the_verdict_of_the_part_says(bench, seed):
    """It fits just where no stop of that connection stands in the verdict, besides that a part is still open."""
    dice = random.Random(seed)
    moved = tuple((x + dice.choice((0, 0, 1.4, 4)), y) for x, y in CORNERS)
    bolted(bench, plate_dxf(moved, dice.choice((11.5, 13.5, 14))))
    (found,) = bench.job.answers(connection="T-B")
    (verdict,) = bench.job.verdicts(["BASE"])
    stops = {s.code for s in verdict.stops if s.where.startswith("T-B/")} - {"partner_open"}
    assert {s.code for s in found.stops} <= stops
    assert found.fits is not bool(stops)
    assert bench.job.answers(part="BASE") == (found,)


def test_the_command_line_answers_in_words_and_in_json(bench, capsys, monkeypatch):
    bolted(bench, plate_dxf())
    bench.job.close()
    words = ["--job", bench.place, "--by", "Mira", "bolt", "T-B", "--length", "40 mm"]
    assert main(words) == 0
    assert capsys.readouterr().out.splitlines() == [
        "the bolts of T-B are recorded",
        "bolts of T-B: long enough: 40 mm, the stack needs 39.70 mm; margin 0.30 mm",
    ]
    assert main([*words[:-1], "20 mm", "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)["answers"]
    assert (told["fits"], told["findings"][0]["code"]) == (False, "bolt_short")


def test_several_answers_begin_with_what_stops_and_are_counted():
    stop = Finding("offset", "m", where="X/A/H1", measured="3.000 mm", limit="1.000 mm", fix="move H1")
    many = [Answer(f"C{k}", fits=True, words="fits") for k in range(5)]
    told = list(answers_lines([*many, Answer("X", fits=False, words="does not fit", findings=(stop, stop))]))
    assert told[0] == "X: does not fit: H1 of A is 3.00 mm off (allows 1.00 mm)  [offset], and 1 more stop"
    assert told[1] == "  move H1"
    assert told[-1] == "and 2 more connections, of which 2 fit"


def test_what_no_check_has_measured_is_not_said_to_fit(bench):
    bench.plate("BASE")
    bench.do(RecordDimension, number="BASE", name="reach", nominal="210 mm", limits="±0.2")
    (found,) = bench.job.answers(part="BASE", name="reach")
    assert found.fits is None
    bench.plate("TURN")
    bench.do(
        RecordConnection, name="T-B", connection_kind="welded", plies=({"part": "TURN"}, {"part": "BASE"})
    )
    (found,) = bench.job.answers(connection="T-B")
    assert found.fits is not True


@pytest.mark.parametrize("measured_on", ["width", "leg B1 20 10", "distance H1 H2"])
def test_a_dimension_holds_only_where_its_check_has_run(bench, measured_on, monkeypatch):
    """Whatever it is measured on: where no check looks at it, nothing is said to hold."""
    bench.plate("BASE")
    with suppress(BadInput):
        bench.do(
            RecordDimension,
            number="BASE",
            name="reach",
            nominal="200 mm",
            limits="±0.2",
            measured_on=measured_on,
        )
        monkeypatch.setattr(answers, "all_checks", lambda: ())
        assert bench.job.answers(part="BASE", name="reach")[0].fits is not True
        return
    assert measured_on != "width"


def test_connections_that_were_left_out_are_told(bench, monkeypatch):
    monkeypatch.setattr(answers, "_MOST_CONNECTIONS", 0)
    bolted(bench, plate_dxf())
    (found,) = bench.job.answers(part="BASE")
    assert (found.fits, found.words) == (None, "1 more connection not looked at: fitup verdict BASE")
