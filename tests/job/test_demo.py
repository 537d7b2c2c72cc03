"""The demo comes out as intended, from an empty folder, in words and as JSON."""

from __future__ import annotations

import json
from contextlib import redirect_stdout
from io import StringIO

import pytest

from ledger.cli import main
from ledger.job import Job
from ledger.judge.assembly import meshes

SCREEN = 40


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """The demo, made once in words: its folder, and its lines."""
    folder, out = tmp_path_factory.mktemp("demo"), StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out):
        patch.setenv("FITUP_KEYS", str(folder / "keys-of-mine"))
        patch.setenv("FITUP_CACHE", str(folder / "cache"))
        assert main(["demo", str(folder / "mount")]) == 0
    return folder / "mount", out.getvalue().splitlines()


def test_the_demo_comes_out_as_intended(tmp_path, capsys):
    assert main(["demo", str(tmp_path / "mount"), "--json"]) == 0
    outcome = json.loads(capsys.readouterr().out)
    assert outcome["as_intended"]
    assert [p.name for p in (tmp_path / "mount").rglob("*.db")] == ["fitup.db"]
    assert len(list((tmp_path / "mount").rglob("*.zip"))) == 1
    assert len(list((tmp_path / "mount" / "keys").glob("*.pem"))) == 2
    arm = next(v for v in outcome["verdicts"] if v["part"] == "ARM-R")
    offset = next(s for s in arm["stops"] if s["code"] == "offset")  # its move in both drawings
    assert "ARM-R" in offset["fix"]
    assert "HUB" in offset["fix"]
    assert all(v["not_checked"] for v in outcome["verdicts"])


def test_a_second_demo_in_one_folder_is_refused_and_nothing_is_lost(shown):
    before = (shown[0] / "fitup.db").stat().st_size
    assert main(["demo", str(shown[0]), "--json"]) == 2
    assert (shown[0] / "fitup.db").stat().st_size == before


def test_the_ring_of_the_demo_does_not_close_by_1_4_mm_though_every_pair_of_it_fits(shown, capsys):
    folder, screen = shown
    assert len(screen) <= SCREEN
    assert any("the ring of ARM-L, ARM-R, GUSSET and TIE does not close" in line for line in screen)
    job = ["--job", str(folder / "fitup.db")]
    assert main(["assembly", "--json", *job]) == 1
    (ring,) = json.loads(capsys.readouterr().out)["rings"]
    assert round(ring["short_mm"], 1) == 1.4
    assert all(m["by_itself_mm"] > 0 for m in ring["margins"])
    across = ["dimension", "AXIS", "--from", "PIER:S1", "--to", "ARM-L:axis", "--along", "z"]
    assert main([*across, "--json", *job]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["low_mm"] < told["value_mm"] < told["high_mm"]
    assert {c["of"] for c in told["contributions"]} >= {"bend B1 of GUSSET", "place of S1 of PIER"}


def test_the_demo_in_space_stands_on_its_pier_with_the_arms_upright(shown):
    """The base, which is bolted to the pier, lies level and below; an arm is 480 mm high, as it is drawn long."""
    with Job(str(shown[0] / "fitup.db"), lambda _name: "") as job:
        found = {m.name: m.corners for m in meshes(job.judging, exploded=False)}
    assert round(float(found["BASE"][:, 2].max() - found["BASE"][:, 2].min()), 6) == 12.0
    lowest = {name: float(corners[:, 2].min()) for name, corners in found.items()}
    assert min(lowest, key=lowest.__getitem__) == "BASE"
    assert float(found["ARM-L"][:, 2].max() - found["ARM-L"][:, 2].min()) > 450
