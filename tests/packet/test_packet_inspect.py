"""A packet alone tells when it was touched, and where."""

from __future__ import annotations

import io
import json
import random
import zipfile
from dataclasses import replace

import pytest
from packet_samples import (
    FILES,
    JOB,
    KEY,
    OTHER_KEY,
    act_of,
    entries_of,
    manifest_of,
    packet,
    public,
    sealed_row,
)

from ledger.domain.canonical import canonical
from ledger.domain.errors import Unreadable
from ledger.domain.sealed import row_hash, signed_statement
from ledger.packet import entries
from ledger.packet.archive import stored_zip
from ledger.packet.build import MANIFEST, seal_of
from ledger.packet.inspect import inspect
from ledger.packet.manifest import LockedPart

CUT = "PL-101-A_S355_12mm_x2.dxf"


def codes(data):
    return [finding.code for finding in inspect(data).problems]


def by_hand(pairs, **options):
    """A zip by the standard library, for what our own builder refuses to write."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", **options) as archive:
        for name, data in pairs:
            archive.writestr(name, data)
    return out.getvalue()


def resealed(row, **changes):
    """The row changed, its hash made to fit again: what anyone can do without a key."""
    row = replace(row, **changes)
    return replace(row, hash=row_hash(row.previous, row.body, row.signature))


def forged(sealed, files=FILES, /, **changes):
    return stored_zip(entries_of(files, sealed, **changes))


def test_a_packet_as_built_has_nothing_wrong():
    report = inspect(packet())
    assert report.problems == ()
    assert report.ok


def test_a_report_says_who_signed_what_where():
    sealed = sealed_row(act_of())
    report = inspect(packet())
    assert (report.job, report.seq, report.seal) == (JOB, 7, seal_of(sealed))
    assert (report.person, report.signer_key) == ("Ada", public(KEY))
    assert report.parts == (LockedPart("PL-101", "A", "5" * 64),)
    assert [name for name, _ in report.files] == sorted([*FILES, MANIFEST])


def test_the_forgers_tools_build_the_true_packet_when_they_change_nothing():
    assert forged(sealed_row(act_of())) == packet()


# ---- files


def test_a_file_added():
    data = stored_zip(entries_of() | {"extra.dxf": b""})
    assert codes(data) == ["extra_file"]
    assert not inspect(data).ok


def test_a_file_added_and_listed():
    more = FILES | {"extra.dxf": b""}
    data = stored_zip({**more, MANIFEST: canonical(manifest_of(sealed_row(act_of()), more))})
    assert codes(data) == ["extra_file", "altered_file"]


@pytest.mark.parametrize("name", FILES)
def test_a_file_removed(name):
    files = entries_of()
    del files[name]
    [finding] = inspect(stored_zip(files)).problems
    assert (finding.code, finding.where) == ("missing_file", name)


def test_the_manifest_removed():
    assert codes(stored_zip(FILES)) == ["missing_file"]


def test_a_file_renamed():
    files = entries_of()
    files["PL-101-B_S355_12mm_x2.dxf"] = files.pop(CUT)
    assert codes(stored_zip(files)) == ["missing_file", "extra_file"]


@pytest.mark.parametrize("name", FILES)
def test_a_file_altered(name):
    [finding] = inspect(stored_zip(entries_of() | {name: FILES[name] + b" "})).problems
    assert (finding.code, finding.where) == ("altered_file", name)


def test_line_ends_converted():
    assert codes(stored_zip(entries_of() | {CUT: FILES[CUT].replace(b"\r\n", b"\n")})) == ["altered_file"]


def test_two_files_swapped():
    swapped = {CUT: FILES["notes.txt"], "notes.txt": FILES[CUT]}
    assert codes(stored_zip(entries_of() | swapped)) == ["altered_file"] * 2


@pytest.mark.parametrize("first", [True, False])
def test_a_name_twice_in_the_zip(first):
    true, false = list(entries_of().items()), [(CUT, b"other")]
    with pytest.warns(UserWarning, match="Duplicate"):
        data = by_hand(false + true if first else true + false)
    assert "doubled_file" in codes(data)


def test_the_same_file_twice_in_the_zip():
    with pytest.warns(UserWarning, match="Duplicate"):
        data = by_hand([*entries_of().items(), (CUT, FILES[CUT])])
    assert codes(data) == ["doubled_file"]


def test_a_name_again_in_other_capitals():
    assert codes(stored_zip(entries_of() | {"NOTES.TXT": b""})) == ["doubled_file", "extra_file"]


@pytest.mark.parametrize(
    "name",
    [
        "../up.dxf",
        "/abs.dxf",
        "C:\\x.dxf",
        "a\\b.dxf",
        "pictures/../../up.dxf",
        "nul.dxf",
        ".hidden",
        "folder/",
        "é.dxf",
        "a\x1b[2J.dxf",
        "a\u202e.dxf",
        "-flag",
        "//host/share",
        "a" * 300,
    ],
)
def test_a_name_that_no_packet_holds(name):
    problems = inspect(by_hand([*entries_of().items(), (name, b"")])).problems
    assert [p.code for p in problems] == ["bad_name", "extra_file"]
    assert all("\x1b" not in p.message + p.where for p in problems)


def test_a_name_that_a_library_would_cut_at_nul():
    data = stored_zip(entries_of() | {"notes.txt_up": b""}).replace(b"notes.txt_up", b"notes.txt\0up")
    assert codes(data) == ["bad_name", "extra_file"]


def test_a_signed_bad_name_is_still_bad():
    files = FILES | {"../up.dxf": b""}
    assert codes(forged(sealed_row(act_of(files)), files)) == ["bad_name"]


# ---- the zip itself


@pytest.mark.parametrize("junk", [b"\0", b"x" * 1000, b"PK\3\4"])
def test_bytes_before_its_start(junk):
    assert codes(junk + packet()) == ["not_as_built"]


@pytest.mark.parametrize("junk", [b"\0", b"x" * 1000])
def test_bytes_after_its_end(junk):
    assert codes(packet() + junk) == ["not_as_built"]


def test_a_comment_on_the_zip():
    data = packet()
    assert codes(data[:-2] + b"\x05\x00hello") == ["not_as_built"]


def test_a_zip_written_anew_with_the_same_files():
    assert codes(by_hand(entries_of().items())) == ["not_as_built"]


def test_entries_in_another_order():
    assert codes(by_hand(reversed(entries_of().items()))) == ["not_as_built"]


def test_compressed_entries_are_not_read():
    problems = inspect(by_hand(entries_of().items(), compression=zipfile.ZIP_DEFLATED)).problems
    assert {p.code for p in problems} == {"not_as_built"}
    assert "compressed" in problems[0].message


def test_an_encrypted_entry_is_not_read():
    data = bytearray(packet())
    central = data.index(b"PK\1\2")
    data[central + 8] |= 1  # APPNOTE 4.4.4, bit 0; 4.3.12 places the flags
    [finding] = inspect(bytes(data)).problems
    assert finding.code == "not_as_built"
    assert "encrypted" in finding.message


def test_an_entry_that_claims_to_be_huge_is_not_read():
    data = bytearray(packet())
    central = data.index(b"PK\1\2")
    data[central + 20 : central + 28] = b"\xff\xff\xff\x7f" * 2
    [finding] = inspect(bytes(data)).problems
    assert finding.code == "not_as_built"
    assert "larger" in finding.message


def test_data_hidden_between_entries():
    data = packet()
    central, end = data.index(b"PK\1\2"), data.index(b"PK\5\6")
    moved = (central + 4).to_bytes(4, "little")
    hidden = data[:central] + b"evil" + data[central : end + 16] + moved + data[end + 20 :]
    with zipfile.ZipFile(io.BytesIO(hidden)) as still_a_zip:
        assert still_a_zip.testzip() is None
    assert codes(hidden) == ["not_as_built"]


def test_a_zip_that_tells_two_readers_two_things():
    # The local header of an entry renamed, the central one left: readers differ on which they believe.
    data = packet()
    assert not inspect(data.replace(b"notes.txt", b"notes.exe", 1)).ok


@pytest.mark.parametrize("data", [b"", b"PK", b"not a zip", b"PK\5\6" + b"\xff" * 18])
def test_what_is_no_zip_is_unreadable(data):
    with pytest.raises(Unreadable):
        inspect(data)


def test_a_zip_of_nothing_lacks_its_manifest():
    assert codes(stored_zip({})) == ["missing_file"]


@pytest.mark.parametrize("limit", ["MOST_BYTES", "MOST_FILES"])
def test_a_zip_too_large_for_a_packet_is_unreadable(limit, monkeypatch):
    data = packet()
    monkeypatch.setattr(entries, "MOST_FILES", 3)
    monkeypatch.setattr(entries, limit, 1)
    with pytest.raises(Unreadable, match="too many"):
        inspect(data)


def touched(data):
    """Whether a change was noticed."""
    try:
        return not inspect(data).ok
    except Unreadable:
        return True


def test_every_byte_counts():
    data, rng = packet(), random.Random(11)
    unnoticed = []
    for place in range(len(data)):
        changed = bytearray(data)
        changed[place] ^= rng.randrange(1, 256)
        if not touched(bytes(changed)):
            unnoticed.append(place)
    assert unnoticed == []


def test_every_cut_is_noticed():
    data = packet()
    assert [end for end in range(0, len(data), 5) if not touched(data[:end])] == []


def test_a_flip_in_a_drawing_is_damage():
    data = packet().replace(b"ENTITIES", b"ENTITIEZ", 1)
    [finding] = inspect(data).problems
    assert (finding.code, finding.where) == ("altered_file", CUT)


def test_a_flip_in_the_manifest_is_damage():
    data = packet().replace(b'"person', b'"Person', 1).replace(b'\\"person', b'\\"Person', 1)
    assert codes(data) == ["altered_file"]


# ---- the row


def test_a_row_whose_hash_does_not_fit():
    sealed = sealed_row(act_of())
    wrong = replace(sealed, hash="3" * 64)
    assert codes(forged(wrong)) == ["bad_row"]


@pytest.mark.parametrize("field", ["at", "by", "program"])
def test_a_row_changed_without_its_hash(field):
    sealed = sealed_row(act_of())
    body = canonical(json.loads(sealed.body) | {field: "other"})
    assert codes(forged(replace(sealed, body=body))) == ["bad_row"]


def test_another_row_before_it():
    sealed = sealed_row(act_of())
    assert codes(forged(replace(sealed, previous="4" * 64))) == ["bad_row"]


def test_another_place_in_the_journal():
    sealed = replace(sealed_row(act_of()), seq=8)
    assert codes(forged(sealed)) == ["bad_row"]


@pytest.mark.parametrize("moved", [{"previous": "4" * 64}, {"seq": 8}, {"seq": 9, "previous": "4" * 64}])
def test_a_lock_put_behind_another_entry_with_every_hash_made_to_fit(moved):
    assert codes(forged(sealed_row(act_of(), **moved))) == ["bad_row"]


def test_a_lock_under_another_name_with_every_hash_made_to_fit():
    sealed = sealed_row(act_of())
    body = canonical(json.loads(sealed.body) | {"by": "Bo"})
    mark = row_hash(sealed.previous, body, sealed.signature)
    assert codes(forged(replace(sealed, body=body, hash=mark))) == ["bad_row"]


@pytest.mark.parametrize("seal", ["7:" + "0" * 64, "", "7", "\x1b[2J"])
def test_another_head(seal):
    report = inspect(forged(sealed_row(act_of()), seal=seal))
    assert [p.code for p in report.problems] == ["bad_row"]
    assert "\x1b" not in report.seal


def test_another_job_around_the_row():
    assert codes(forged(sealed_row(act_of()), job="other-job")) == ["bad_row"]


@pytest.mark.parametrize("field", ["previous", "hash", "signature"])
@pytest.mark.parametrize(
    "spell", [str.upper, lambda text: text + " ", lambda text: text[:-2], lambda _: "zz"]
)
def test_a_hash_spelled_otherwise(field, spell):
    sealed = sealed_row(act_of(), previous="ab" * 32)
    row = manifest_of(sealed)["row"]
    assert row[field] != row[field].upper()
    seal = f"7:{spell(sealed.hash)}" if field == "hash" else seal_of(sealed)
    assert codes(forged(sealed, seal=seal, row=row | {field: spell(row[field])})) == ["bad_row"]


@pytest.mark.parametrize("seq", ["7", 0, -1, True, None])
def test_a_place_that_is_no_number(seq):
    sealed = sealed_row(act_of())
    row = manifest_of(sealed)["row"] | {"seq": seq}
    assert codes(forged(sealed, row=row)) == ["bad_row"]


@pytest.mark.parametrize(
    "change",
    [
        {"kind": "sign_revision"},
        {"parts": []},
        {"parts": [{"number": "PL-101"}]},
        {"parts": "PL-101"},
        {"parts": {"number": "PL-101"}},
        {"parts": [{"number": 1, "revision": "A", "subject": "5"}]},
        {"contents": ["notes.txt"]},
        {"contents": {"notes.txt": "short"}},
        {"contents": {"notes.txt": None}},
        {"key": "zz"},
        {"key": None},
        {"person": ["Ada"]},
    ],
    ids=str,
)
def test_a_signed_act_that_is_no_lock(change):
    assert codes(forged(sealed_row(act_of() | change))) == ["bad_row"]


@pytest.mark.parametrize("field", ["act", "job", "seq"])
def test_a_row_that_lacks_something(field):
    sealed = sealed_row(act_of())
    body = json.loads(sealed.body)
    del body[field]
    assert codes(forged(resealed(sealed, body=canonical(body)))) == ["bad_row"]


@pytest.mark.parametrize("field", ["job", "seal", "row", "files"])
def test_a_manifest_that_lacks_something(field):
    manifest = manifest_of(sealed_row(act_of()))
    del manifest[field]
    assert codes(stored_zip(FILES | {MANIFEST: canonical(manifest)})) == ["bad_row"]


@pytest.mark.parametrize("value", [1, "text", None, [], {}])
@pytest.mark.parametrize("field", ["row", "files"])
def test_a_manifest_of_another_shape(field, value):
    assert not inspect(forged(sealed_row(act_of()), **{field: value})).ok


def test_a_row_that_is_not_canonical():
    sealed = sealed_row(act_of())
    spaced = json.dumps(json.loads(sealed.body)).encode()
    assert codes(forged(resealed(sealed, body=spaced))) == ["bad_row"]


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"1.5",
        b"NaN",
        b"\xff",
        b'"\\ud800"',
        b"9" * 5000,
        b"[" * 100_000,
        b'{"a":1,"a":1}',
        b'{"a":1e400}',
    ],
    ids=lambda text: repr(text[:16]),
)
def test_a_manifest_that_is_no_manifest(text):
    [code] = codes(stored_zip(FILES | {MANIFEST: text}))
    assert code in ("altered_file", "not_as_built")


def test_a_manifest_spelled_otherwise():
    pretty = json.dumps(manifest_of(sealed_row(act_of())), indent=1).encode()
    assert codes(stored_zip(FILES | {MANIFEST: pretty})) == ["altered_file"]


def test_a_manifest_with_something_added():
    assert codes(forged(sealed_row(act_of()), remark="cut two more")) == ["not_as_built"]


def test_a_manifest_with_another_size():
    files = manifest_of(sealed_row(act_of()))["files"]
    files["notes.txt"]["size"] += 1
    assert codes(forged(sealed_row(act_of()), files=files)) == ["not_as_built"]


@pytest.mark.parametrize("form", [2, "1", None, True])
def test_a_manifest_of_another_format(form):
    assert codes(forged(sealed_row(act_of()), format=form)) == ["not_as_built"]


# ---- the signature


def test_a_lock_without_a_signature():
    [finding] = inspect(forged(sealed_row(act_of(), signature=""))).problems
    assert finding.code == "bad_signature"
    assert "not signed" in finding.message


def test_a_signature_of_another_key():
    assert codes(forged(sealed_row(act_of(), key=OTHER_KEY))) == ["bad_signature"]


def test_a_signature_for_another_job():
    elsewhere = KEY.sign(signed_statement("other-job", act_of())).hex()
    assert codes(forged(sealed_row(act_of(), signature=elsewhere))) == ["bad_signature"]


def test_a_signature_with_one_bit_flipped():
    sealed = sealed_row(act_of())
    turned_over = bytes([bytes.fromhex(sealed.signature)[0] ^ 1]).hex() + sealed.signature[2:]
    assert codes(forged(resealed(sealed, signature=turned_over))) == ["bad_signature"]


@pytest.mark.parametrize(
    "change",
    [
        {"person": "Bo"},
        {"nonce": "8" * 32},
        {"seal": f"5:{'9' * 64}"},
        {"parts": [{"number": "PL-101", "revision": "B", "subject": "5" * 64}]},
        {"parts": [{"number": "PL-101", "revision": "A", "subject": "6" * 64}]},
    ],
    ids=str,
)
def test_an_act_changed_after_signing_with_every_hash_made_to_fit(change):
    signature = sealed_row(act_of()).signature
    assert codes(forged(sealed_row(act_of() | change, signature=signature))) == ["bad_signature"]


def test_a_file_changed_with_every_hash_made_to_fit():
    signature = sealed_row(act_of()).signature
    files = FILES | {CUT: b"another drawing"}
    assert codes(forged(sealed_row(act_of(files), signature=signature), files)) == ["bad_signature"]


def test_a_packet_signed_anew_by_a_stranger_holds_alone_but_names_the_strangers_key():
    # What a packet cannot tell by itself: the job must say whose the key is.
    act = act_of(key=public(OTHER_KEY))
    report = inspect(forged(sealed_row(act, key=OTHER_KEY)))
    assert report.ok
    assert report.signer_key == public(OTHER_KEY) != public(KEY)


def three_names(last=b"three"):
    """A zip of three short files."""
    return stored_zip({"a": b"one", "b": b"two", "c": last})


def test_a_zip_of_exactly_the_most_bytes_is_read(monkeypatch):
    data = three_names()
    monkeypatch.setattr(entries, "MOST_FILES", 3)
    monkeypatch.setattr(entries, "MOST_BYTES", len(data) - 3 * 1024)
    assert set(entries.read_entries(data).files) == {"a", "b", "c"}
    monkeypatch.setattr(entries, "MOST_BYTES", len(data) - 3 * 1024 - 1)
    with pytest.raises(Unreadable, match=f"{len(data)} bytes are too many"):
        entries.read_entries(data)


def test_the_most_bytes_are_told_in_megabytes(monkeypatch):
    monkeypatch.setattr(entries, "MOST_FILES", 0)
    monkeypatch.setattr(entries, "MOST_BYTES", 3 * 1024 * 1024)
    with pytest.raises(Unreadable, match="at most 3 MB"):
        entries.read_entries(b" " * (3 * 1024 * 1024 + 1))


def test_a_zip_of_exactly_the_most_files_is_read(monkeypatch):
    monkeypatch.setattr(entries, "MOST_FILES", 3)
    assert set(entries.read_entries(three_names()).files) == {"a", "b", "c"}
    monkeypatch.setattr(entries, "MOST_FILES", 2)
    with pytest.raises(Unreadable, match="more than 2 entries"):
        entries.read_entries(three_names())


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_of_a_name_twice_the_first_is_kept_and_the_second_told():
    found = entries.read_entries(by_hand([("a", b"first"), ("a", b"second"), ("A", b"third")]))
    assert found.files == {"a": b"first", "A": b"third"}
    assert [p.message for p in found.problems] == [
        "a is in the zip more than once",
        "A and a would be one file",
    ]


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_of_a_compressed_name_twice_neither_is_read():
    data = by_hand([("a", b"first" * 9), ("a", b"second" * 9)], compression=zipfile.ZIP_DEFLATED)
    found = entries.read_entries(data)
    assert (found.files, found.unread) == ({}, {"a"})
    assert sorted(p.code for p in found.problems) == ["doubled_file", "not_as_built"]


def test_a_packet_that_says_nothing_says_no_entry():
    assert inspect(stored_zip({})).seq == 0


def test_the_first_entry_is_a_place():
    first = sealed_row(act_of(seal=f"0:{'0' * 64}"), seq=1, previous="0" * 64)
    assert inspect(packet(sealed=first)).ok
