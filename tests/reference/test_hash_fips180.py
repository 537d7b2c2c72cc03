"""
SHA-256: the published examples, through the one digest that records use.

Source: FIPS 180-4 examples (one block, two blocks, one million times a), in part from memory. The digest of
the empty message is the empty tree head of RFC 6962.
"""

import pytest

from ledger.domain.canonical import sha256

EXAMPLES = {
    "abc": (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    "448 bits": (
        b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    ),
    "a million times a": (
        b"a" * 1_000_000,
        "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
    ),
    "empty": (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
}


@pytest.mark.parametrize(("message", "expected"), EXAMPLES.values(), ids=EXAMPLES)
def test_the_published_digest_comes_out(message, expected):
    assert sha256(message) == expected
