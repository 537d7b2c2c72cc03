"""A file is looked at before it is read, at every door: pipes, devices, folders and what is too large are refused."""

from __future__ import annotations

import os
import zipfile

import pytest
from bench_job import plate_dxf

from ledger import intake
from ledger.cli import main
from ledger.domain.errors import Unreadable
from ledger.intake import read_regular

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")

DOORS = {
    "look": ("look", "{}"),
    "fit": ("fit", "{}", "{}", "--fastener", "M8"),
    "mend": ("mend", "{}", "-o", "{out}"),
    "take": ("take", "ARM", "{}", "--by", "Mira"),
    "verify": ("verify", "{}"),
    "table": ("enter", "{}", "--by", "Mira"),
    "import": ("import", "{}"),
}


def kinds(folder):
    os.mkfifo(folder / "pipe.dxf")
    large = folder / "large.dxf"
    with large.open("wb") as file:
        file.truncate(intake.MOST_BYTES + 1)
    return {"a pipe": folder / "pipe.dxf", "a device": "/dev/zero", "too large": large}


@pytest.mark.parametrize("door", DOORS)
def test_no_door_waits_for_a_file_or_takes_all_memory(bench, tmp_path, capsys, door):
    bench.plate("ARM")
    place = ("--job", tmp_path / "new.db" if door == "import" else bench.place)
    for kind, path in kinds(tmp_path).items():
        words = [w.format(path, out=tmp_path / "out.dxf") for w in DOORS[door]]
        assert main([str(w) for w in (*place, *words)]) in (2, 3), kind
        assert capsys.readouterr().err


def test_a_regular_file_is_read_and_a_missing_one_named(tmp_path):
    path = tmp_path / "a"
    path.write_bytes(b"bytes")
    assert read_regular(path) == b"bytes"
    assert read_regular(path, most=5) == b"bytes"
    with pytest.raises(Unreadable, match="at most"):
        read_regular(path, most=4)
    with pytest.raises(Unreadable, match="check the name"):
        read_regular(tmp_path / "b")
    with pytest.raises(Unreadable, match="a folder"):
        read_regular(tmp_path)


def test_guard_tells_what_it_did_not_look_into_and_is_then_not_go(bench, tmp_path):
    out, other = tmp_path / "out", tmp_path / "other"
    for folder in (out, out / ".git", other):
        folder.mkdir()
        (folder / "arm.dxf").write_bytes(plate_dxf())
    (out / "linked").symlink_to(other, target_is_directory=True)
    os.mkfifo(out / "pipe.dxf")
    seen = bench.job.guard(out)
    assert seen.unseen == (".git: kept by git", "linked: a link to a folder")
    assert not seen.may_go
    states = {f.file: f.state for f in seen.files}
    assert states["pipe.dxf"] == "unreadable"
    assert "could not be looked into" in seen.words


def test_guard_of_a_folder_with_only_a_link_is_not_go(bench, tmp_path, capsys):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "linked").symlink_to(tmp_path, target_is_directory=True)
    assert main(["--job", str(bench.place), "guard", str(tmp_path / "out")]) == 1
    assert "linked: a link to a folder" in capsys.readouterr().out


def test_a_zip_that_unpacks_to_far_more_than_an_export_is_refused(tmp_path, capsys):
    bomb = tmp_path / "bomb.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("job.json", "w") as entry:
        for _ in range(80):
            entry.write(bytes(1 << 20))
    assert main(["--job", str(tmp_path / "new.db"), "import", str(bomb)]) == 3
    assert "which no export does" in capsys.readouterr().err
    assert not (tmp_path / "new.db").exists()
