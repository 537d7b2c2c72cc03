"""Folders of drawings under watch: what was saved, when it has settled, what differs; looking records nothing."""

from __future__ import annotations

import json
import os
import threading
import time
from pathlib import Path

import pytest
from bench_job import CORNERS, plate_dxf

from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.domain.taking import Asked
from ledger.drawings.watch import AGAIN_S, GONE_S, SETTLED_S, Folder

MOVED = ((23.0, 20.0), *CORNERS[1:])


@pytest.fixture
def drawn(bench):
    """Two plates that are taken from a folder beside the job."""
    folder = bench.folder / "drawings"
    folder.mkdir()
    (folder / "BASE.dxf").write_bytes(plate_dxf())
    (folder / "CLAMP.dxf").write_bytes(plate_dxf(diameter=9.0))
    bench.job.take_drawings([str(folder)], Asked(changed=True), by="Mira")
    return bench, folder


def looked(drawn):
    bench, folder = drawn
    return {s.file: s for s in bench.job.saved_drawings([folder])}


def test_the_folder_that_drawings_came_from_is_kept_once_and_as_the_way_from_the_job(drawn):
    bench, folder = drawn
    assert bench.job.drawing_folders() == (folder.resolve(),) or bench.job.drawing_folders() == (folder,)
    before = bench.job.seal()[0]
    bench.job.take_drawings([str(folder)], Asked(changed=True), by="Mira")
    assert bench.job.seal()[0] == before
    kept = [w.act for w in bench.job.journal() if w.kind == "record_drawing_folders"]
    assert [act["folders"] for act in kept] == [["drawings"]]


def test_the_folder_of_files_that_are_named_is_kept_too_and_undo_begins_with_a_drawing(bench):
    folder = bench.folder / "named"
    folder.mkdir()
    (folder / "HUB.dxf").write_bytes(plate_dxf(width=90.0))
    bench.job.take_drawings([str(folder / "HUB.dxf")], Asked(), by="Mira")
    assert [f.name for f in bench.job.drawing_folders()] == ["named"]
    assert bench.job.last_of("Mira").kind == "take_profile"


def test_what_was_taken_differs_in_nothing_and_looking_records_nothing(drawn):
    bench, _ = drawn
    before = bench.job.seal()
    assert {s.state for s in looked(drawn).values()} == {"taken"}
    assert bench.job.seal() == before


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (plate_dxf(MOVED), ("H3 moved 3.00 mm",)),
        (plate_dxf(diameter=14.0), None),
        (plate_dxf(width=204.0), ("outline 4.00 mm wider",)),
        (plate_dxf(CORNERS[:3]), None),
    ],
)
def test_a_drawing_that_was_saved_tells_what_differs_and_what_its_part_would_be(drawn, data, told):
    bench, folder = drawn
    before = bench.job.seal()
    (folder / "BASE.dxf").write_bytes(data)
    found = looked(drawn)["BASE.dxf"]
    assert (found.state, found.number) == ("changed", "BASE")
    assert found.changes
    if told is not None:
        assert found.changes == told
    assert found.verdict.startswith(("would be GO", "would be NO-GO"))
    assert bench.job.seal() == before


def test_what_a_part_would_be_is_what_it_is_once_the_drawing_is_taken(drawn):
    bench, folder = drawn
    for corners in (CORNERS, MOVED, ((28.0, 20.0), *CORNERS[1:])):
        (folder / "BASE.dxf").write_bytes(plate_dxf(corners, width=201.0))
        found = looked(drawn)["BASE.dxf"]
        if found.can_be_taken:
            bench.job.take_saved([found], by="Mira")
        (verdict,) = bench.job.verdicts(["BASE"])
        fixes = [s for s in verdict.stops if s.code not in ("role_missing", "partner_open")]
        assert found.go is None or found.go == (not fixes)
        assert looked(drawn)["BASE.dxf"].state == "taken"


def test_a_file_that_changed_since_it_was_looked_at_is_not_taken(drawn):
    bench, folder = drawn
    (folder / "BASE.dxf").write_bytes(plate_dxf(MOVED))
    found = looked(drawn)["BASE.dxf"]
    (folder / "BASE.dxf").write_bytes(plate_dxf(width=210.0))
    before = bench.job.seal()
    with pytest.raises(BadInput, match="has changed since it was looked at"):
        bench.job.take_saved([found], by="Mira")
    assert bench.job.seal() == before


def test_a_locked_part_says_so_and_is_not_taken(drawn):
    bench, folder = drawn
    bench.lock("BASE", "TURN")
    (folder / "BASE.dxf").write_bytes(plate_dxf(MOVED))
    found = looked(drawn)["BASE.dxf"]
    assert not found.can_be_taken
    assert "BASE A is locked" in found.why


def test_new_files_and_files_that_cannot_be_read_are_told_as_such(drawn):
    _, folder = drawn
    (folder / "HUB.dxf").write_bytes(plate_dxf(width=90.0))
    (folder / "half.dxf").write_bytes(plate_dxf()[:300])
    (folder / "CLAMP.dxf").write_bytes(b"\0" * 50)
    found = looked(drawn)
    assert found["HUB.dxf"].state == "new"
    assert (found["CLAMP.dxf"].state, bool(found["CLAMP.dxf"].why)) == ("refused", True)


def write(path, data, at):
    path.write_bytes(data)
    os.utime(path, ns=(at, at))


def test_a_file_is_told_when_it_has_settled_and_ten_saves_are_one(tmp_path):
    folder, path = Folder(tmp_path), tmp_path / "a.dxf"
    told = []
    for k in range(10):
        write(path, b"x" * k, k)
        told += folder.look(k * SETTLED_S / 2).settled
    assert told == []
    last = 9 * SETTLED_S / 2
    assert folder.look(last + 0.01 + SETTLED_S).settled == (path,)
    assert not folder.look(last + 9).anything


def test_an_editor_that_writes_beside_and_renames_is_no_file_gone(tmp_path):
    folder, path = Folder(tmp_path), tmp_path / "a.dxf"
    write(path, b"1", 1)
    folder.look(0.0)
    assert folder.look(1.0).settled == (path,)
    path.unlink()
    assert not folder.look(1.1).anything
    write(tmp_path / "a.tmp", b"22", 2)
    (tmp_path / "a.tmp").rename(path)
    assert not folder.look(1.2).gone
    assert folder.look(1.21 + SETTLED_S).settled == (path,)


def test_a_file_that_stays_away_is_gone_and_a_folder_is_told_once(tmp_path):
    inside = tmp_path / "in"
    inside.mkdir()
    folder, path = Folder(inside), inside / "a.dxf"
    write(path, b"1", 1)
    folder.look(0.0)
    folder.look(1.0)
    path.unlink()
    folder.look(1.1)
    assert folder.look(1.2 + GONE_S).gone == (path,)
    inside.rmdir()
    assert folder.look(9.0).lost
    assert not folder.look(9.5).lost
    inside.mkdir()
    assert folder.look(10.0).back


def test_a_half_written_drawing_is_told_only_after_it_was_looked_at_twice(drawn):
    bench, folder = drawn
    stop, told = threading.Event(), []

    def listen():
        told.extend((time.monotonic(), saved) for saved in bench.job.watch([folder], stop))

    thread = threading.Thread(target=listen, daemon=True)
    thread.start()
    time.sleep(0.8)
    started = time.monotonic()
    (folder / "BASE.dxf").write_bytes(b"  0\nSECTION\n  2\nENT")
    time.sleep(AGAIN_S * 0.6)
    (folder / "BASE.dxf").write_bytes(plate_dxf(MOVED))
    (folder / "CLAMP.dxf").write_bytes(b"not a drawing")
    waited = time.monotonic()
    while time.monotonic() < waited + 20 and len(told) < 2:
        time.sleep(0.05)
    stop.set()
    thread.join(10)
    assert not thread.is_alive()
    states = [(s.file, s.state) for _, s in told]
    assert states == [("BASE.dxf", "changed"), ("CLAMP.dxf", "refused")]
    assert told[1][0] - started > AGAIN_S


def test_the_command_looks_once_takes_and_says_what_is_wrong(drawn, capsys):
    bench, folder = drawn
    base = ["--job", bench.place, "--by", "Mira"]
    assert main([*base, "watch", "--once"]) == 0
    assert "nothing differs from what was taken in 1 folder" in capsys.readouterr().out
    (folder / "BASE.dxf").write_bytes(plate_dxf(MOVED))
    assert main([*base, "--json", "watch", "--once"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert (told["number"], told["changes"], told["taken"]) == ("BASE", ["H3 moved 3.00 mm"], False)
    assert main([*base, "watch", "--once", "--take", str(folder)]) == 1
    assert "BASE.dxf changed: H3 moved 3.00 mm; would be" in capsys.readouterr().out
    assert main([*base, "watch", "--once"]) == 0
    assert main([*base, "watch", "--once", str(Path(folder) / "nothing")]) == 2
    assert "is no folder" in capsys.readouterr().err


def test_a_job_that_took_no_folder_asks_for_one(bench, capsys):
    assert main(["--job", bench.place, "watch", "--once"]) == 2
    assert "which folder?" in capsys.readouterr().err
