"""The body of a row reads as it was written, or as no entry of a job."""

from __future__ import annotations

import json

import pytest

from ledger.domain.sealed import Body, Sealed, read_body, row_hash_or_none

WRITTEN = {
    "job": "0011223344556677",
    "seq": 7,
    "at": "2026-03-02T09:00:07Z",
    "by": "Mira",
    "program": "0.1.0",
    "act": {"kind": "ask_question", "text": "which finish?"},
}


def test_a_body_reads_as_it_was_written():
    assert read_body(json.dumps(WRITTEN)) == Body(**WRITTEN)
    assert read_body(json.dumps(WRITTEN).encode()) == Body(**WRITTEN)


@pytest.mark.parametrize(
    "change",
    [
        *({name: value} for name in ("job", "at", "by", "program") for value in (7, None, [], {})),
        *({"seq": value} for value in ("7", 7.0, True, None, [])),
        *({"act": value} for value in ({}, [], "kind", None, {"kind": 7}, {"kind": []}, {"text": "no kind"})),
        *({"at": value} for value in ("2026-03-02", "2026-03-02T09:00:07", "2026-03-02T09:00:07Z ", "x")),
        {"more": 1},
    ],
    ids=json.dumps,
)
def test_what_no_program_of_this_kind_wrote_is_no_entry(change):
    with pytest.raises(ValueError, match="no entry of a job"):
        read_body(json.dumps({**WRITTEN, **change}))


@pytest.mark.parametrize("name", sorted(WRITTEN))
def test_a_body_that_lacks_something_is_no_entry(name):
    with pytest.raises(ValueError, match="no entry of a job"):
        read_body(json.dumps({k: v for k, v in WRITTEN.items() if k != name}))


@pytest.mark.parametrize("data", [b"", b"{", b"\xff", b"[]", b"7", b"null", b"[" * 100_000])
def test_what_is_no_json_object_is_no_entry(data):
    with pytest.raises(ValueError, match=r".+"):
        read_body(data)


@pytest.mark.parametrize("signature", ["AB" * 64, "ab " * 64, "a"])
def test_hex_in_another_spelling_gives_a_row_no_hash(signature):
    """Bytes are the same whatever their spelling; a row of an export, too, would have two."""
    assert row_hash_or_none(Sealed(1, "0" * 64, b"{}", "", "ab" * 64))
    assert row_hash_or_none(Sealed(1, "0" * 64, b"{}", "", signature)) is None
    assert row_hash_or_none(Sealed(1, "AB" * 32, b"{}", "", "")) is None
