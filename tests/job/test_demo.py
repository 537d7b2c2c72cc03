"""The demo comes out as intended, from an empty folder, in words and as JSON."""

from __future__ import annotations

import json

from ledger.cli import main


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
    assert "GUSSET" in offset["fix"]
    assert all(v["not_checked"] for v in outcome["verdicts"])


def test_a_second_demo_in_one_folder_is_refused_and_nothing_is_lost(tmp_path, capsys):
    main(["demo", str(tmp_path), "--json"])
    before = (tmp_path / "fitup.db").stat().st_size
    assert main(["demo", str(tmp_path), "--json"]) == 2
    assert (tmp_path / "fitup.db").stat().st_size == before
