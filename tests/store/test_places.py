"""Where a job may lie: a disk of this machine, never a network drive, never without a write-ahead log."""

from __future__ import annotations

import sqlite3

import pytest
from small_job import ask, small_job

from ledger.domain.errors import BadInput, Unreadable
from ledger.job import Job
from ledger.store import drives
from ledger.store import place as places

LINE = "36 35 98:0 / {at} rw,noatime master:1 - {kind} //server/share rw\n"


@pytest.fixture
def mounted(tmp_path, monkeypatch):
    """Say that this test's folder lies on a file system of that kind."""

    def mount(kind, at=None):
        table = tmp_path / "mountinfo"
        root = LINE.format(at="/", kind="ext4")
        where = str(at or tmp_path).replace(" ", "\\040")
        table.write_text(root + LINE.format(at=where, kind=kind), encoding="utf-8")
        monkeypatch.setattr(drives, "_MOUNTS", table)

    return mount


@pytest.mark.parametrize("kind", ["nfs4", "cifs", "smb3", "fuse.sshfs", "9p"])
def test_a_network_drive_is_refused_with_where_to_go(tmp_path, clock, mounted, kind):
    place = str(tmp_path / "fitup.db")
    mounted(kind)
    with pytest.raises(BadInput, match=rf"network drive \({kind}\).*postgresql"):
        Job.start(place, "Pier", ask, clock)
    mounted("ext4")
    small_job(place, clock).close()
    mounted(kind)
    with pytest.raises(BadInput, match="network drive"):
        Job(place, ask)


def test_a_folder_with_a_space_is_found_in_the_table_and_a_neighbour_is_none_of_it(tmp_path, mounted):
    here = tmp_path / "the share"
    here.mkdir()
    mounted("cifs", here)
    assert drives.network_kind(here / "fitup.db") == "cifs"
    assert drives.network_kind(tmp_path / "the share too" / "fitup.db") == ""


def test_a_machine_that_tells_nothing_of_its_drives_is_believed(tmp_path, monkeypatch):
    monkeypatch.setattr(drives, "_MOUNTS", tmp_path / "none")
    assert drives.network_kind(tmp_path) == ""


def test_a_disk_without_a_write_ahead_log_is_refused():
    class NoLog(sqlite3.Connection):
        def execute(self, sql, *args):
            return super().execute("SELECT 'delete'" if "journal_mode" in sql else sql, *args)

    with pytest.raises(BadInput, match="allows no write-ahead log"):
        places._prepare(sqlite3.connect(":memory:", factory=NoLog), None)


@pytest.mark.parametrize(
    ("place", "told"),
    [
        ("postgresql://user@host/job", "expected a file, or"),
        ("postgresql+psycopg://user@host:port/job", "does not read as an address"),
    ],
)
def test_an_address_that_is_none_is_refused(place, told):
    with pytest.raises(BadInput, match=told):
        Job(place, ask)


def test_what_is_no_job_is_not_opened_and_nothing_is_written_over(tmp_path, clock):
    with pytest.raises(BadInput, match="start one with"):
        Job(str(tmp_path / "none.db"), ask)
    other = tmp_path / "drawing.dxf"
    other.write_text("0\nSECTION\n")
    with pytest.raises(Unreadable, match="is not a job"):
        Job(str(other), ask)
    with pytest.raises(BadInput, match="is there already"):
        Job.start(str(other), "Pier", ask, clock)
    assert other.read_text() == "0\nSECTION\n"
    with pytest.raises(BadInput, match="there is no folder"):
        Job.start(str(tmp_path / "nowhere" / "fitup.db"), "Pier", ask, clock)


def test_a_file_that_cannot_be_read_is_told(tmp_path, monkeypatch):
    there = tmp_path / "fitup.db"
    there.write_bytes(b"SQLite format 3\0")

    def refuse(_self, *_how):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(there), "open", refuse)
    with pytest.raises(Unreadable, match="Permission denied"):
        Job(str(there), ask)
