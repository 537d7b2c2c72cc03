"""`fitup template` writes a part at full size, and asks before it fills a printer's tray."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pypdf
import pytest
from bench_job import plate_dxf

from ledger.cli import main


@pytest.fixture
def plates(bench, tmp_path, monkeypatch):
    monkeypatch.setenv("FITUP_JOB", bench.place)
    monkeypatch.chdir(tmp_path)
    bench.plate("BASE")
    bench.plate("PIER-CAP", plate_dxf(width=1500.0, height=1400.0))
    return bench


def test_it_is_written_and_says_how_many_sheets(plates, capsys):
    assert main(["template", "BASE", "-o", "base.pdf", "--paper", "a4", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    data = Path("base.pdf").read_bytes()
    assert len(pypdf.PdfReader(io.BytesIO(data)).pages) == said["sheets"] == said["across"] * said["down"]
    assert plates.job.template("BASE").data == data  # the same part, the same bytes
    assert main(["template", "BASE", "-o", "base.pdf", "--paper", "A3"]) == 0
    assert "1 sheet of 297 x 420 mm; print at 100 %" in capsys.readouterr().out


def test_more_than_forty_sheets_are_asked_for_and_nothing_is_written(plates, capsys):
    assert main(["template", "PIER-CAP", "-o", "cap.pdf"]) != 0
    assert "--yes" in capsys.readouterr().err
    assert not Path("cap.pdf").exists()
    assert main(["template", "PIER-CAP", "-o", "cap.pdf", "--yes"]) == 0
    assert Path("cap.pdf").exists()


def test_a_file_of_another_kind_is_refused(plates, capsys):
    assert main(["template", "BASE", "-o", "base.dxf"]) != 0
    assert "expected a name that ends .pdf" in capsys.readouterr().err
