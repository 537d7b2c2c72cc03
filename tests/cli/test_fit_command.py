"""`fitup fit`: words, hints, the picture, and a stated position."""

from __future__ import annotations

import json
from xml.etree import ElementTree as ET

import pytest
from bench_job import plate_dxf

from ledger.cli import main
from ledger.domain.drawing import PENS

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
    for words in ("WRONG", "move ", "tightest", "clearance holes", "a slot would fix it", "not checked"):
        assert words in said


def test_the_picture_shows_the_moves_as_arrows_and_is_well_formed(plates, capsys):
    assert main(["fit", "a.dxf", "b.dxf", "--fastener", "M12", "--picture", "fit.svg"]) == 1
    tree = ET.fromstring((plates / "fit.svg").read_text(encoding="utf-8"))  # noqa: S314 - our own file
    words = [e.text for e in tree.iter() if e.tag.endswith("text")]
    assert words.count("4.00 mm") == 1
    moves = [e for e in tree.iter() if e.get("stroke") == PENS["move"].color]
    assert len(moves) == 5, "a hole drawn thick, its cross of two strokes, a shaft and its head"
    assert "NO-GO" in "".join(tree.itertext())


def test_a_picture_is_an_svg_or_png_file_in_a_folder_that_is_there(plates, capsys):
    assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", "--picture", "fit.png"]) == 0
    assert (plates / "fit.png").read_bytes().startswith(b"\x89PNG")
    for name in ("fit.pdf", "nowhere/fit.svg"):
        assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", "--picture", name]) == 2


def test_a_stated_position_is_judged_where_it_is(plates, capsys):
    assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", "--position", "as drawn", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["margin_mm"] == pytest.approx(1.5)
    assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", "--position", "30 0 0", "--json"]) == 1
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


def square(out=0.0):
    return ((20.0, 20.0), (180.0 + out, 20.0), (180.0, 80.0), (20.0, 80.0))


def test_a_hole_2_mm_off_is_refused_with_its_odds_the_hole_and_the_size_that_would_do(plates, capsys):
    """11 mm holes for M10: the nominal margin is exactly 0.000 mm, and nothing is left for what a vendor holds."""
    (plates / "c.dxf").write_bytes(plate_dxf(square(), diameter=11.0))
    (plates / "d.dxf").write_bytes(plate_dxf(square(2.0), diameter=11.0))
    assert main(["fit", "c.dxf", "d.dxf", "--fastener", "M10", "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    assert answer["margin_mm"] == pytest.approx(0.0, abs=1e-6)
    assert (answer["verdict"], answer["decided_by"]) == ("NO-GO", "odds")
    assert answer["odds"]["at_least"] < 0.5
    assert answer["takes_most"]["margin_mm"] > 0.5
    assert 0.1 <= answer["larger_holes_by_mm"] <= 2.0
    assert main(["fit", "c.dxf", "d.dxf", "--fastener", "M10"]) == 1
    said = capsys.readouterr().out
    assert "NO-GO; goes together in 0." in said
    assert "is certain), 99 % required" in said
    assert "10 mm thick (assumed; see --thickness)" in said
    assert "make the clearance holes" in said


def test_the_size_that_is_named_reaches_the_odds(plates, capsys):
    (plates / "c.dxf").write_bytes(plate_dxf(square(), diameter=11.0))
    (plates / "d.dxf").write_bytes(plate_dxf(square(2.0), diameter=11.0))
    main(["fit", "c.dxf", "d.dxf", "--fastener", "M10", "--json"])
    larger = 11.0 + json.loads(capsys.readouterr().out)["larger_holes_by_mm"]
    for name, out in (("e.dxf", 0.0), ("f.dxf", 2.0)):
        (plates / name).write_bytes(plate_dxf(square(out), diameter=larger))
    assert main(["fit", "e.dxf", "f.dxf", "--fastener", "M10", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["decided_by"] == "odds"
    assert answer["worst_case_margin_mm"] < 0


def test_small_holes_in_thin_plate_stay_go_and_every_limit_at_once_can_be_required(plates, capsys):
    (plates / "c.dxf").write_bytes(plate_dxf(square(), diameter=6.6))
    fit = ["fit", "c.dxf", "c.dxf", "--fastener", "M6", "--json"]
    for thickness in ("3 mm", "6 mm", "10 mm", "1/2 in"):
        assert main([*fit, "--thickness", thickness]) == 0
    capsys.readouterr()
    assert main([*fit, "--thickness", "6 mm", "--worst-case"]) == 0
    assert main([*fit, "--thickness", "12 mm", "--worst-case"]) == 1
    answer = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert (answer["decided_by"], answer["required"]) == ("worst case", "worst case")


@pytest.mark.parametrize("option", [["--thickness", "0 mm"], ["--thickness", "thick"], ["--odds", "100"]])
def test_a_thickness_or_odds_that_make_no_sense_are_refused(plates, capsys, option):
    assert main(["fit", "a.dxf", "a.dxf", "--fastener", "M12", *option]) == 2


def test_thick_plate_cut_by_plasma_is_charged_more_than_thin(plates, capsys):
    worst = {}
    for thickness in ("3 mm", "12 mm"):
        main(
            [
                "fit",
                "a.dxf",
                "a.dxf",
                "--fastener",
                "M12",
                "--process",
                "plasma",
                "--thickness",
                thickness,
                "--json",
            ]
        )
        worst[thickness] = json.loads(capsys.readouterr().out)["worst_case_margin_mm"]
    assert worst["3 mm"] - worst["12 mm"] == pytest.approx(1.8 - 0.7)
