"""Which drive a path lies on, from what each system tells: tables as Linux, macOS and Windows give them."""

from __future__ import annotations

import pytest

from ledger.store import drives
from ledger.store.drives import linux_kind, mount_kind, network_kind, windows_kind

# What mount(8) prints on macOS; the form is that of its manual page, the lines from common practice.
PRINTED = """\
/dev/disk3s1s1 on / (apfs, sealed, local, read-only, journaled)
devfs on /dev (devfs, local, nobrowse)
/dev/disk3s5 on /System/Volumes/Data (apfs, local, journaled, nobrowse, protect)
map auto_home on /System/Volumes/Data/home (autofs, automounted, nobrowse)
//mira@server/plates on /Volumes/plates (smbfs, nodev, nosuid, mounted by mira)
server:/export/jobs on /Volumes/jobs (nfs, nodev, nosuid)
//server/odd (old) on /Volumes/odd on (it) (smbfs, mounted by mira)
http://server/dav/ on /Volumes/dav (webdav, nodev, noexec)
//afp/server on /Volumes/afp (afpfs, nodev)
mira@server: on /Volumes/far (macfuse, nodev, nosuid, synchronous, mounted by mira)
stick on /Volumes/near (macfuse, local, nodev)
/dev/disk5s1 on /Volumes/jobs/inside (exfat, local, nodev)
"""
MOUNTS = """\
22 1 259:2 / / rw,relatime shared:1 - ext4 /dev/root rw
30 22 0:26 / /mnt/a\\040b rw - cifs //server/share rw
31 22 0:27 / /mnt/over rw - ext4 /dev/sdb rw
32 31 0:28 / /mnt/over rw - nfs4 server:/export rw
33 32 0:29 / /mnt/over/local rw - xfs /dev/sdc rw
broken
"""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/Users/mira/fitup.db", ""),
        ("/Volumes/plates/fitup.db", "smbfs"),
        ("/Volumes/plates", "smbfs"),
        ("/Volumes/plates2/fitup.db", ""),
        ("/Volumes/jobs/fitup.db", "nfs"),
        ("/Volumes/jobs/inside/fitup.db", ""),
        ("/Volumes/odd on (it)/fitup.db", "smbfs"),
        ("/Volumes/dav/x", "webdav"),
        ("/Volumes/afp/x", "afpfs"),
        ("/Volumes/far/x", "macfuse"),
        ("/Volumes/near/x", ""),
        ("/System/Volumes/Data/home/x", ""),
    ],
)
def test_what_mount_prints_tells_a_share_from_a_disk(path, kind):
    assert mount_kind(path, PRINTED) == kind


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/home/mira/fitup.db", ""),
        ("/mnt/a b/fitup.db", "cifs"),
        ("/mnt/a", ""),
        ("/mnt/over/fitup.db", "nfs4"),
        ("/mnt/over/local/fitup.db", ""),
    ],
)
def test_the_table_of_mounts_tells_the_same_and_the_last_mount_at_a_place_counts(path, kind):
    assert linux_kind(path, MOUNTS) == kind


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        (r"C:\job\fitup.db", ""),
        (r"Z:\fitup.db", "drive"),
        (r"\\server\share\fitup.db", "share"),
        (r"\\?\UNC\server\share\fitup.db", "share"),
        (r"\\?\C:\job\fitup.db", ""),
        (r"\\?\Z:\fitup.db", "drive"),
    ],
)
def test_a_drive_letter_is_asked_for_and_two_strokes_are_a_share(path, kind):
    kinds = {"C:\\": 3, "Z:\\": 4}  # GetDriveTypeW: DRIVE_FIXED, DRIVE_REMOTE
    assert windows_kind(path, kinds.__getitem__) == kind


def test_without_the_systems_own_call_a_drive_is_of_no_known_kind():
    assert drives._drive_type("C:\\") == 0


@pytest.mark.parametrize(
    ("platform", "kind"), [("darwin", "smbfs"), ("freebsd14", "smbfs"), ("linux", ""), ("win32", "drive")]
)
def test_each_system_is_asked_in_its_own_way(tmp_path, monkeypatch, platform, kind):
    command = tmp_path / "mount"
    command.write_text(f"#!/bin/sh\necho '//server/share on {tmp_path} (smbfs, nodev)'\n")
    command.chmod(0o755)
    monkeypatch.setattr(drives, "_MOUNT", (str(command),))
    monkeypatch.setattr(drives, "_MOUNTS", tmp_path / "none")
    monkeypatch.setattr(drives, "_drive_type", lambda _anchor: 4)
    monkeypatch.setattr(drives.sys, "platform", platform)
    assert network_kind(tmp_path / "fitup.db") == kind


@pytest.mark.parametrize("said", ["#!/bin/sh\nsleep 20\n", "no program", ""])
def test_a_system_that_tells_nothing_is_believed(tmp_path, monkeypatch, said):
    command = tmp_path / "mount"
    command.write_text(said)
    command.chmod(0o755 if said else 0o644)
    monkeypatch.setattr(drives, "_MOUNT", (str(command),))
    monkeypatch.setattr(drives, "_PATIENCE", 0.2)
    monkeypatch.setattr(drives.sys, "platform", "darwin")
    assert network_kind(tmp_path / "fitup.db") == ""
