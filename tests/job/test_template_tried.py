"""A template that was tried is of the revision's record, speaks of one drawing, and stops where it did not fit."""

from __future__ import annotations

import json

import pytest
from bench_job import CORNERS, plate_dxf

from ledger.acts.trials import RecordTrial
from ledger.cli import main
from ledger.domain.errors import BadInput, UnknownName
from ledger.words.trials import trial_line, trial_words

OTHER = plate_dxf((*CORNERS[:3], (25.0, 80.0)))


@pytest.fixture
def plate(bench):
    bench.plate("BASE")
    return bench


def tried(bench, result="fits", note="", by="Mira"):
    return bench.job.enter("RecordTrial", by=by, number="BASE", result=result, note=note)


def judged(bench):
    (verdict,) = bench.job.verdicts(("BASE",))
    return verdict


def codes(bench):
    verdict = judged(bench)
    return {f.code for f in (*verdict.stops, *verdict.warnings)}


def test_who_tried_it_when_and_what_came_of_it_is_recorded(plate):
    tried(plate, "fits", "S2 is tight", by="Jonas")
    (trial,) = plate.job.part("BASE").trials
    assert (trial.result, trial.note, trial.by) == ("fits", "S2 is tight", "Jonas")
    assert trial.day == "2026-03-02"
    assert plate.job.part("BASE").tried == trial
    assert plate.reopen().part("BASE").tried == trial


def test_one_that_does_not_fit_stops_until_one_fits(plate):
    tried(plate, "does not fit", "S2 is 4 mm off")
    assert "template_misfit" in codes(plate)
    tried(plate)
    assert "template_misfit" not in codes(plate)


def test_the_policy_may_ask_for_it(plate):
    assert "template_not_tried" not in codes(plate)
    plate.job.set_policy(raised=("template_not_tried",), by="Mira")
    assert "template_not_tried" in {s.code for s in judged(plate).stops}
    tried(plate)
    assert "template_not_tried" not in codes(plate)


def test_another_drawing_has_not_been_tried(plate):
    plate.job.set_policy(raised=("template_not_tried",), by="Mira")
    tried(plate)
    plate.job.take_profile("BASE", "base.dxf", OTHER, by="Mira")
    assert plate.job.part("BASE").tried is None
    assert "template_not_tried" in codes(plate)
    plate.job.take_profile("BASE", "base.dxf", plate_dxf(), by="Mira")
    assert "template_not_tried" not in codes(plate)  # the drawing that was tried is back


def test_a_misfit_of_an_earlier_drawing_does_not_stop_the_new_one(plate):
    tried(plate, "does not fit", "S2 is 4 mm off")
    plate.job.take_profile("BASE", "base.dxf", OTHER, by="Mira")
    assert "template_misfit" not in codes(plate)


def test_it_can_be_undone(plate):
    seq = tried(plate)
    plate.job.undo(seq, by="Mira")
    assert plate.job.part("BASE").trials == ()


def test_it_changes_the_fingerprint_and_is_told(plate):
    before = judged(plate).subject
    tried(plate)
    assert judged(plate).subject != before


def test_what_cannot_be_recorded_is_refused(plate):
    plate.job.write_part("STUD", {"form": "bought"}, by="Mira")
    with pytest.raises(BadInput, match="has no drawing, so no template of it was printed"):
        plate.job.enter("RecordTrial", by="Mira", number="STUD", result="fits")
    with pytest.raises(BadInput, match="needs a note"):
        tried(plate, "does not fit")
    with pytest.raises(UnknownName):
        tried(plate, "nearly")
    assert RecordTrial.model_fields["kind"].default == "record_trial"


@pytest.mark.parametrize("line", ["fits", "fits: S2 is tight", "does not fit: S2 is 4 mm off"])
def test_its_line_goes_both_ways(line):
    assert trial_words(**trial_line(line).fields) == line


def test_the_command_records_it(plate, monkeypatch, capsys):
    monkeypatch.setenv("FITUP_JOB", plate.place)
    assert main(["tried", "BASE", "Does not  fit: S2 is 4 mm off", "--by", "Mira"]) == 0
    assert main(["show", "BASE", "--json"]) == 0
    (said,) = json.loads(capsys.readouterr().out.partition("\n")[2])["trials"]
    assert (said["result"], said["note"]) == ("does not fit", "S2 is 4 mm off")
    assert main(["tried", "BASE", "perhaps", "--by", "Mira"]) != 0
    assert "fits, does not fit" in capsys.readouterr().err
