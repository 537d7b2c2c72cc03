"""What was measured is written as a DXF to draw over: at true size, in mm, each kind on a layer of its own."""

from __future__ import annotations

import io
from pathlib import Path

import ezdxf
import pytest

from ledger.acts.parts import RecordHole
from ledger.acts.survey import RecordPoint
from ledger.cli import main
from ledger.job import Job


@pytest.fixture
def pier(bench, tmp_path, monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")
    monkeypatch.setenv("FITUP_JOB", bench.place)
    monkeypatch.chdir(tmp_path)
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    return bench


def drawn(data):
    document = ezdxf.read(io.StringIO(data.decode()))
    assert document.header["$INSUNITS"] == 4
    return document.modelspace()


def circles(space, layer):
    return sorted(
        (round(c.dxf.center.x, 6), round(c.dxf.center.y, 6), round(c.dxf.radius, 6))
        for c in space.query(f'CIRCLE[layer=="{layer}"]')
    )


def test_holes_and_points_lie_where_they_were_measured(pier):
    hole = {"number": "PIER", "diameter": "5/8 in", "uncertainty": "0.8 mm"}
    pier.do(RecordHole, label="S1", x="-150.6 mm", y="-149.5 mm", **hole)
    pier.do(RecordHole, label="S2", x="6 in", y="0 mm", **hole)
    pier.do(RecordPoint, number="PIER", label="P1", at=("10 mm", "20 mm"), uncertainty="2 mm", side="")
    assert main(["points", "PIER", "-o", "pier.dxf"]) == 0
    space = drawn(Path("pier.dxf").read_bytes())
    assert circles(space, "MEASURED_HOLES") == [(-150.6, -149.5, 7.9375), (152.4, 0.0, 7.9375)]
    assert circles(space, "UNCERTAINTY") == [(-150.6, -149.5, 0.8), (10.0, 20.0, 2.0), (152.4, 0.0, 0.8)]
    assert sorted(t.dxf.text for t in space.query('TEXT[layer=="LABELS"]')) == ["P1", "S1", "S2"]
    assert len(space.query('LINE[layer=="MEASURED_POINTS"]')) == 6
    with Job(pier.place, lambda _name: "") as job:
        assert job.points_drawing("PIER") == Path("pier.dxf").read_bytes()


def test_points_that_distances_place_are_in_it(pier):
    for label in ("P1", "P2", "P3"):
        side = "left of P1 P2" if label == "P3" else ""
        assert main(["point", "PIER", label, *(["--side", side] if side else [])]) == 0
    for a, b, read in (("P1", "P2", "400 mm tape"), ("P1", "P3", "300 mm tape"), ("P2", "P3", "500 mm tape")):
        assert main(["distance", "PIER", a, b, read]) == 0
    found = {(x, y) for x, y, _ in circles(drawn(pier.job.points_drawing("PIER")), "UNCERTAINTY")}
    assert {(round(x), round(y)) for x, y in found} >= {(400, 0), (0, 300)}


def test_a_part_without_measurements_and_another_kind_of_file_are_refused(pier, capsys):
    assert main(["points", "PIER", "-o", "pier.dxf"]) == 2
    assert "record them with fitup hole" in capsys.readouterr().err
    assert main(["points", "PIER", "-o", "pier.svg"]) == 2
    assert main(["points", "NONE", "-o", "pier.dxf"]) == 2
