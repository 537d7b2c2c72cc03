"""The demo comes out as intended, from an empty folder, in words and as JSON."""

from __future__ import annotations

import json

from ledger.cli import main

SCREEN = 40


def test_the_demo_comes_out_as_intended(tmp_path, capsys):
    assert main(["demo", str(tmp_path / "mount"), "--json"]) == 0
    outcome = json.loads(capsys.readouterr().out)
    assert outcome["as_intended"]
    assert [p.name for p in (tmp_path / "mount").rglob("*.db")] == ["fitup.db"]
    assert len(list((tmp_path / "mount").rglob("*.zip"))) == 1
    assert len(list((tmp_path / "mount" / "keys").glob("*.pem"))) == 2


def test_the_demo_names_the_wrong_hole_and_its_move_in_both_drawings(tmp_path, capsys):
    main(["demo", str(tmp_path / "mount"), "--json"])
    outcome = json.loads(capsys.readouterr().out)
    arm = next(v for v in outcome["verdicts"] if v["part"] == "ARM-R")
    offset = next(s for s in arm["stops"] if s["code"] == "offset")
    assert "ARM-R" in offset["fix"]
    assert "HUB" in offset["fix"]
    assert all(v["not_checked"] for v in outcome["verdicts"])


def test_a_second_demo_in_one_folder_is_refused_and_nothing_is_lost(tmp_path, capsys):
    main(["demo", str(tmp_path), "--json"])
    before = (tmp_path / "fitup.db").stat().st_size
    assert main(["demo", str(tmp_path), "--json"]) == 2
    assert (tmp_path / "fitup.db").stat().st_size == before


def test_the_ring_of_the_demo_does_not_close_by_1_4_mm_though_every_pair_of_it_fits(tmp_path, capsys):
    main(["demo", str(tmp_path / "mount")])
    screen = capsys.readouterr().out.splitlines()
    assert len(screen) <= SCREEN
    assert any("the ring of ARM-L, ARM-R, GUSSET and TIE does not close" in line for line in screen)
    job = ["--job", str(tmp_path / "mount" / "fitup.db")]
    assert main(["assembly", "--json", *job]) == 1
    (ring,) = json.loads(capsys.readouterr().out)["rings"]
    assert round(ring["short_mm"], 1) == 1.4
    assert all(m["by_itself_mm"] > 0 for m in ring["margins"])
    across = ["dimension", "AXIS", "--from", "PIER:S1", "--to", "ARM-L:axis", "--along", "z"]
    assert main([*across, "--json", *job]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["low_mm"] < told["value_mm"] < told["high_mm"]
    assert {c["of"] for c in told["contributions"]} >= {"bend B1 of GUSSET", "place of S1 of PIER"}
