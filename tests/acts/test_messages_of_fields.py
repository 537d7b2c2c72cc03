"""A field that cannot be so is refused in our words, never in a library's."""

from __future__ import annotations

import pytest

from ledger.acts.base import make
from ledger.acts.parts import RecordPart
from ledger.acts.release import SignRevision
from ledger.domain.errors import BadInput


@pytest.mark.parametrize(
    "fields",
    [
        {"number": "BASE", "quantity": 0},
        {"number": "BASE", "quantity": 10**12},
        {"number": "BASE", "quantity": "many"},
        {"number": "BASE", "form": "bent"},
        {"number": 7},
        {},
        {"number": "BASE", "unheard_of": 1},
    ],
)
def test_a_field_of_a_part_is_refused_in_our_words(fields):
    with pytest.raises(BadInput) as refused:
        make(RecordPart, **fields)
    told = str(refused.value)
    assert not any(
        words in told for words in ("Input should", "Field required", "Extra inputs", "Value error")
    )
    assert any(words in told for words in ("expected", "missing", "not known", "known ones"))


def test_nothing_that_is_signed_names_no_revision():
    with pytest.raises(BadInput, match="expected at least 1"):
        make(
            SignRevision,
            person="M",
            key="0" * 64,
            nonce="0" * 32,
            seal="1:" + "0" * 64,
            role="drawn",
            meaning="x",
            subjects=(),
        )
