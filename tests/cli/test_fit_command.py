"""`fitup fit`: words, hints, the picture, and a stated position."""

from __future__ import annotations

import json
from xml.etree import ElementTree as ET

import pytest
from bench_shop import plate_dxf

from ledger.cli import main

OUT = ((20.0, 20.0), (184.0, 20.0), (180.0, 80.0), (20.0, 80.0))


@pytest.fixture
def plates(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.dxf").write_bytes(plate_dxf())
    (tmp_path / "b.dxf").write_bytes(plate_dxf(OUT))
    return tmp_path


def test_a_no_go_is_told_with_moves_what_would_save_it_and_the_tightest_hole(plates, capsys):
    assert main(["fit", "a.dxf", "b.dxf", "--fastener", "M12"]) == 1
    said = capsys.readouterr().out
    for words in ("WRONG", "move ", "tightest", "clearance holes", "a slot would save it", "not checked"):
        assert words in said


def test_the_picture_shows_the_moves_as_arrows_and_is_well_formed(plates, capsys):
    assert main(["fit", "a.dxf", "b.dxf", "--fastener", "M12", "--picture", "fit.svg"]) == 1
    tree = ET.fromstring((plates / "fit.svg").read_text(encoding="utf-8"))  # noqa: S314 - our own file
    arrows = [e for e in tree.iter() if e.tag.endswith("line") and "marker-end" in e.attrib]
    assert len(arrows) == 1
    assert "NO-GO" in "".join(tree.itertext())


def test_a_picture_is_an_svg_file_in_a_folder_that_is_there(plates, capsys):
    for name in ("fit.png", "nowhere/fit.svg"):
        assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", "--picture", name]) == 2


def test_a_stated_position_is_judged_where_it_is(plates, capsys):
    assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", "--located", "as drawn", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["margin_mm"] == pytest.approx(1.5)
    assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", "--located", "30 0 0", "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    assert answer["advice"] == [] or "origin looks shifted" in answer["advice"][0]


def test_a_joint_that_is_not_fitted_is_refused_with_those_that_are(plates, capsys):
    assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", "--joint", "drilled on site"]) == 2


def test_a_hole_that_lets_its_washer_through_is_a_no_go_and_says_so(plates, capsys):
    (plates / "wide.dxf").write_bytes(plate_dxf(diameter=25.0))
    (plates / "right.dxf").write_bytes(plate_dxf(diameter=11.0))
    assert main(["fit", "right.dxf", "right.dxf", "--fastener", "M10"]) == 0
    for pair in (["wide.dxf", "right.dxf"], ["right.dxf", "wide.dxf"]):
        capsys.readouterr()
        assert main(["fit", *pair, "--fastener", "M10", "--json"]) == 1
        said = json.loads(capsys.readouterr().out)
        assert said["verdict"] == "NO-GO"
        assert len(said["falls_through"]) == 4
        assert "washer 20.00 mm" in said["falls_through"][0]
