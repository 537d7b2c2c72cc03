"""The zip's bytes, read by programs that know nothing of us."""

from __future__ import annotations

import hashlib
import io
import json
import random
import shutil
import subprocess
import sys
import zipfile

import pytest
from packet_samples import FILES, KEY, act_of, packet, sealed_row

from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, Tampered
from ledger.packet import archive
from ledger.packet.archive import stored_zip
from ledger.packet.build import MANIFEST, assemble, seal_of


def test_the_same_contents_in_any_order_give_the_same_bytes():
    names = list(FILES)
    random.Random(3).shuffle(names)
    assert packet({name: FILES[name] for name in names}) == packet()


def test_the_bytes_do_not_change_from_one_version_to_the_next():
    # Pinned on purpose: a packet in the hands of a vendor must equal its rebuilt self for ever.
    pinned = "05491f82b6998bcd7eee4be5d4cd178dfc26a9689b3839bdb30004c855312352"
    assert (
        hashlib.sha256(stored_zip({"b.txt": b"two", "a.txt": b"one", "pictures/c.svg": b""})).hexdigest()
        == pinned
    )


def test_the_entries_are_stored_sorted_dated_1980_and_of_one_mode():
    with zipfile.ZipFile(io.BytesIO(packet())) as outside:
        infos = outside.infolist()
    assert [info.filename for info in infos] == sorted([*FILES, MANIFEST])
    assert {info.date_time for info in infos} == {(1980, 1, 1, 0, 0, 0)}
    assert {info.compress_type for info in infos} == {zipfile.ZIP_STORED}
    assert {info.create_system for info in infos} == {3}
    assert {info.external_attr for info in infos} == {0o100644 << 16}
    assert {(info.flag_bits, info.extra, info.comment) for info in infos} == {(0, b"", b"")}


def test_the_zip_of_the_standard_library_has_the_same_bytes():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as peer:
        for name in sorted(FILES):
            info = zipfile.ZipInfo(name)
            info.create_system, info.external_attr = 3, 0o100644 << 16
            peer.writestr(info, FILES[name])
    assert stored_zip(FILES) == out.getvalue()


def test_python_unpacks_it(tmp_path):
    (tmp_path / "p.zip").write_bytes(packet())
    command = [sys.executable, "-m", "zipfile"]
    tested = subprocess.run(
        [*command, "-t", "p.zip"], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert "Done testing" in tested.stdout
    subprocess.run([*command, "-e", "p.zip", "out"], cwd=tmp_path, check=True)
    for name, data in FILES.items():
        assert (tmp_path / "out" / name).read_bytes() == data


@pytest.mark.skipif(shutil.which("unzip") is None, reason="unzip is not on this machine")
def test_unzip_finds_no_error_in_it(tmp_path):
    (tmp_path / "p.zip").write_bytes(packet())
    tested = subprocess.run(
        ["unzip", "-t", "p.zip"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert tested.returncode == 0, tested.stdout
    assert "No errors detected" in tested.stdout


def test_an_empty_zip_is_one():
    with zipfile.ZipFile(io.BytesIO(stored_zip({}))) as outside:
        assert outside.namelist() == []


def test_the_manifest_is_canonical_and_names_row_head_and_files():
    sealed = sealed_row(act_of())
    with zipfile.ZipFile(io.BytesIO(packet(FILES, sealed))) as outside:
        text = outside.read(MANIFEST)
    manifest = json.loads(text)
    assert canonical(manifest) == text
    assert manifest["seal"] == f"7:{sealed.hash}"
    assert manifest["row"]["body"].encode() == sealed.body
    assert manifest["files"] == {
        name: {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)} for name, data in FILES.items()
    }


def test_a_head_of_another_row_is_refused():
    with pytest.raises(BadInput, match="seal"):
        assemble(FILES, sealed_row(act_of()), seal=f"8:{'2' * 64}")


def test_contents_that_the_lock_does_not_name_are_refused():
    sealed = sealed_row(act_of())
    for wrong in (
        FILES | {"notes.txt": b"other"},
        FILES | {"more.txt": b""},
        {name: data for name, data in FILES.items() if name != "notes.txt"},
    ):
        with pytest.raises(Tampered, match="not those that the lock names"):
            assemble(wrong, sealed, seal=seal_of(sealed))


@pytest.mark.parametrize("name", ["../a.dxf", "/a.dxf", "a/b.dxf", "nul.dxf", "é.dxf", MANIFEST, ""])
def test_an_unsafe_name_is_not_built(name):
    files = FILES | {name: b""}
    sealed = sealed_row(act_of(files))
    with pytest.raises(BadInput, match="not a plain file name"):
        assemble(files, sealed, seal=seal_of(sealed))


@pytest.mark.parametrize("name", ["NOTES.txt", "Manifest.json"])
def test_names_that_differ_only_in_capitals_are_not_built(name):
    files = FILES | {name: b""}
    sealed = sealed_row(act_of(files), key=KEY)
    with pytest.raises(BadInput, match="one file"):
        assemble(files, sealed, seal=seal_of(sealed))


@pytest.mark.parametrize("limit", ["MOST_BYTES", "MOST_FILES"])
def test_more_than_can_be_read_again_is_not_built(limit, monkeypatch):
    monkeypatch.setattr(archive, limit, 3)
    with pytest.raises(BadInput, match="in one packet"):
        packet()


def test_exactly_the_most_that_can_be_read_again_is_built(monkeypatch):
    files = {"a": b"one", "b": b"two", "c": b"three"}
    monkeypatch.setattr(archive, "MOST_FILES", 3)
    whole = stored_zip(files)
    monkeypatch.setattr(archive, "MOST_BYTES", whole.index(b"PK\1\2"))
    assert stored_zip(files) == whole
    monkeypatch.setattr(archive, "MOST_BYTES", whole.index(b"PK\1\2") - 1)
    with pytest.raises(ValueError, match="0 MB in one packet"):
        stored_zip(files)
    monkeypatch.setattr(archive, "MOST_FILES", 2)
    with pytest.raises(ValueError, match="3 files in one packet; at most 2"):
        stored_zip(files)


def test_the_limits_are_what_they_are_said_to_be():
    assert (archive.MOST_BYTES, archive.MOST_FILES) == (268_435_456, 4000)


def test_how_much_is_too_much_is_told_in_megabytes(monkeypatch):
    monkeypatch.setattr(archive, "MOST_BYTES", 3 * 1024 * 1024)
    with pytest.raises(ValueError, match="more than 3 MB in one packet"):
        stored_zip({"a": bytes(3 * 1024 * 1024)})
