"""Bytes reach the disk whole or not at all."""

from __future__ import annotations

import errno
import os
import stat

import pytest
from packet_samples import FILES

from ledger.domain.errors import BadInput
from ledger.packet.build import stage, stage_folder, write_whole

FAULTS = {
    errno.ENOSPC: "make room",
    errno.EIO: "choose another place",
    errno.EROFS: "choose a disk that can be written",
}


@pytest.fixture(params=sorted(FAULTS), ids=errno.errorcode.get)
def fault(request):
    return request.param


def failing(fault, *, after=0):
    """A call that works `after` times, then fails as a disk would."""
    calls = []

    def wrap(real):
        def call(*args, **kwargs):
            calls.append(args)
            if len(calls) > after:
                raise OSError(fault, os.strerror(fault))
            return real(*args, **kwargs)

        return call

    return wrap


def left(folder):
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*"))


def test_the_bytes_arrive(tmp_path):
    write_whole(tmp_path / "p.zip", b"x" * 100_000)
    assert (tmp_path / "p.zip").read_bytes() == b"x" * 100_000
    assert left(tmp_path) == ["p.zip"]


def test_a_disk_that_takes_little_at_a_time_still_gets_everything(tmp_path, monkeypatch):
    real = os.write
    monkeypatch.setattr(os, "write", lambda handle, data: real(handle, bytes(data[:7])))
    write_whole(tmp_path / "p.zip", bytes(range(256)))
    assert (tmp_path / "p.zip").read_bytes() == bytes(range(256))


def test_a_staged_file_is_not_in_its_place_before_it_is_committed(tmp_path):
    staged = stage(tmp_path / "p.zip", b"data")
    assert not (tmp_path / "p.zip").exists()
    assert staged.temporary.parent == tmp_path
    staged.commit()
    assert left(tmp_path) == ["p.zip"]


def test_a_discarded_file_leaves_nothing_however_often(tmp_path):
    staged = stage(tmp_path / "p.zip", b"data")
    staged.discard()
    staged.discard()
    assert left(tmp_path) == []


def test_a_discard_after_the_commit_keeps_the_file(tmp_path):
    staged = stage(tmp_path / "p.zip", b"data")
    staged.commit()
    staged.discard()
    assert (tmp_path / "p.zip").read_bytes() == b"data"


def test_a_file_is_readable_as_any_other(tmp_path):
    write_whole(tmp_path / "p.zip", b"data")
    (tmp_path / "plain").write_bytes(b"data")
    mode = stat.S_IMODE((tmp_path / "p.zip").stat().st_mode)
    assert mode == stat.S_IMODE((tmp_path / "plain").stat().st_mode)


@pytest.mark.parametrize("call", ["open", "write", "fsync"])
def test_a_failing_disk_leaves_nothing_staged(tmp_path, monkeypatch, call, fault):
    monkeypatch.setattr(os, call, failing(fault)(getattr(os, call)))
    with pytest.raises(BadInput, match=f"nothing was left there; {FAULTS[fault]}"):
        stage(tmp_path / "p.zip", b"data")
    monkeypatch.undo()
    assert left(tmp_path) == []


def test_a_disk_full_halfway_leaves_nothing_and_keeps_the_old_file(tmp_path, monkeypatch):
    (tmp_path / "p.zip").write_bytes(b"old")
    real = os.write
    step = failing(errno.ENOSPC, after=2)(lambda handle, data: real(handle, bytes(data[:7])))
    monkeypatch.setattr(os, "write", step)
    with pytest.raises(BadInput, match="make room"):
        write_whole(tmp_path / "p.zip", bytes(100))
    monkeypatch.undo()
    assert left(tmp_path) == ["p.zip"]
    assert (tmp_path / "p.zip").read_bytes() == b"old"


def test_a_failing_rename_leaves_nothing(tmp_path, monkeypatch, fault):
    staged = stage(tmp_path / "p.zip", b"data")
    monkeypatch.setattr(type(staged.temporary), "replace", failing(fault)(None))
    with pytest.raises(BadInput, match="nothing was left"):
        staged.commit()
    monkeypatch.undo()
    assert left(tmp_path) == []


def test_a_folder_the_disk_did_not_confirm_is_told_as_such(tmp_path, monkeypatch):
    monkeypatch.setattr(
        os, "fsync", failing(errno.EIO, after=1)(os.fsync)
    )  # the file's holds, its folder's does not
    with pytest.raises(BadInput, match="in place, but the disk did not confirm"):
        write_whole(tmp_path / "p.zip", b"data")
    monkeypatch.undo()
    assert left(tmp_path) == ["p.zip"]


def test_the_file_is_on_the_disk_before_it_has_its_name_and_the_folder_after(tmp_path, monkeypatch):
    seen = []
    real = os.fsync

    def watched(handle):
        kind = "folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file"
        seen.append((kind, (tmp_path / "p.zip").exists()))
        real(handle)

    monkeypatch.setattr(os, "fsync", watched)
    write_whole(tmp_path / "p.zip", b"data")
    assert seen == [("file", False), ("folder", True)]


def test_an_interruption_leaves_nothing(tmp_path, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        stage(tmp_path / "p.zip", b"data")
    with pytest.raises(KeyboardInterrupt):
        stage_folder(tmp_path / "out", FILES)
    monkeypatch.undo()
    assert left(tmp_path) == []


def test_what_cannot_be_removed_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "fsync", failing(errno.EIO)(os.fsync))
    monkeypatch.setattr(os, "unlink", failing(errno.EROFS)(os.unlink))
    with pytest.raises(BadInput, match=r"\.part could not be removed: delete it"):
        stage(tmp_path / "p.zip", b"data")


def test_a_missing_folder_is_told(tmp_path):
    with pytest.raises(BadInput, match="make the folder first"):
        write_whole(tmp_path / "none" / "p.zip", b"data")


def test_a_folder_arrives_whole(tmp_path):
    stage_folder(tmp_path / "out", FILES).commit()
    assert {name: (tmp_path / "out" / name).read_bytes() for name in FILES} == FILES
    assert left(tmp_path) == sorted(["out", "out/pictures", *(f"out/{name}" for name in FILES)])


def test_a_staged_folder_can_be_discarded(tmp_path):
    stage_folder(tmp_path / "out", FILES).discard()
    assert left(tmp_path) == []


@pytest.mark.parametrize("after", range(len(FILES) + 2))
def test_a_disk_full_at_any_file_of_a_folder_leaves_nothing(tmp_path, monkeypatch, after):
    # One fsync for each file, then one for each of the two folders inside: every one of them fails in turn.
    monkeypatch.setattr(os, "fsync", failing(errno.ENOSPC, after=after)(os.fsync))
    with pytest.raises(BadInput, match="make room"):
        stage_folder(tmp_path / "out", FILES).commit()
    monkeypatch.undo()
    assert left(tmp_path) == []


def test_a_folder_that_is_there_is_not_touched(tmp_path):
    (tmp_path / "out").mkdir()
    with pytest.raises(BadInput, match="already exists"):
        stage_folder(tmp_path / "out", FILES).commit()
    assert left(tmp_path) == ["out"]


def test_a_folder_that_appeared_meanwhile_is_not_touched(tmp_path):
    staged = stage_folder(tmp_path / "out", FILES)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine").write_bytes(b"")
    with pytest.raises(BadInput, match="nothing was left"):
        staged.commit()
    assert left(tmp_path) == ["out", "out/mine"]


@pytest.mark.parametrize("name", ["../up", "/abs", "pictures/../../up", "a/b"])
def test_no_file_is_written_outside_the_folder(tmp_path, name):
    with pytest.raises(BadInput, match="not a plain file name"):
        stage_folder(tmp_path / "in" / "out", {name: b""}).commit()
    assert left(tmp_path) == []


def test_two_files_of_a_folder_that_would_be_one_are_refused(tmp_path):
    with pytest.raises(BadInput, match="would be one file"):
        stage_folder(tmp_path / "out", {"a.dxf": b"one", "A.dxf": b"two"})
    assert not list(tmp_path.iterdir())


def test_an_empty_folder_and_one_with_folders_in_it_are_made(tmp_path):
    stage_folder(tmp_path / "none", {}).commit()
    stage_folder(tmp_path / "out", {"pictures/a.svg": b"<svg/>"}).commit()
    assert left(tmp_path) == ["none", "out", "out/pictures", "out/pictures/a.svg"]


@pytest.mark.skipif(not os.path.isdir("/proc/self/fd"), reason="open files are counted by what Linux tells")  # noqa: PTH112 - a string is enough
def test_no_file_stays_open(tmp_path):
    write_whole(tmp_path / "first.zip", b"x")
    before = len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - a count is enough
    for k in range(5):
        write_whole(tmp_path / f"{k}.zip", b"x")
        stage_folder(tmp_path / f"{k}", {"pictures/a.svg": b"<svg/>"}).commit()
    assert len(os.listdir("/proc/self/fd")) == before  # noqa: PTH208 - a count is enough


def test_a_file_is_for_everyone_to_read_as_far_as_the_seat_allows_and_for_nobody_to_run(tmp_path):
    allowed = os.umask(0o000)
    try:
        write_whole(tmp_path / "p.zip", b"x")
    finally:
        os.umask(allowed)
    assert stat.S_IMODE((tmp_path / "p.zip").stat().st_mode) == 0o666


def test_discarding_never_raises(tmp_path, monkeypatch):
    staged = stage_folder(tmp_path / "out", {"a.dxf": b"x"})

    def refuse(*_args, **_kwargs):
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    for call in ("rmdir", "unlink"):
        monkeypatch.setattr(os, call, refuse)
    staged.discard()
