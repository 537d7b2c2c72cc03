"""One value has one spelling and one digest, and what could be spelled in two ways is refused."""

import hashlib
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.canonical import canonical, digest, sha256
from ledger.domain.errors import BadInput

VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0")),
    lambda inner: st.lists(inner) | st.dictionaries(st.text("abc", max_size=3), inner),
    max_leaves=20,
)


def test_keys_are_sorted_and_nothing_is_spaced():
    assert canonical({"b": 1, "a": [True, None]}) == b'{"a":[true,null],"b":1}'


def test_a_decimal_is_a_plain_string():
    assert canonical({"mm": Decimal("4.76250")}) == b'{"mm":"4.7625"}'
    assert canonical(Decimal("1E+3")) == b'"1000"'


def test_a_tuple_is_a_list():
    assert canonical((1, ("a",))) == canonical([1, ["a"]])


def test_one_text_in_two_normal_forms_is_one():
    assert canonical("e\u0301") == canonical("\u00e9") == '"\u00e9"'.encode()
    assert canonical({"e\u0301": 1}) == canonical({"\u00e9": 1})


@pytest.mark.parametrize("value", [1.5, 0.0, float("nan"), float("inf")])
def test_a_float_is_refused_with_its_path(value):
    with pytest.raises(TypeError, match=r"value\.plies\[1\]\.mm is a float"):
        canonical({"plies": [{}, {"mm": value}]})


@pytest.mark.parametrize("value", [b"bytes", {1, 2}, object()])
def test_any_other_kind_is_refused(value):
    with pytest.raises(TypeError, match="value"):
        canonical(value)


def test_a_key_that_is_not_text_is_refused():
    with pytest.raises(TypeError, match="keys are text"):
        canonical({1: "a"})


@pytest.mark.parametrize("value", [2**53, -(2**53)])
def test_an_integer_that_json_cannot_hold_exactly_is_refused(value):
    with pytest.raises(ValueError, match=r"value\.n"):
        canonical({"n": value})


@pytest.mark.parametrize("value", [Decimal("NaN"), Decimal("Infinity")])
def test_a_decimal_that_is_not_finite_is_refused(value):
    with pytest.raises(ValueError, match="not a finite number"):
        canonical([value])


@pytest.mark.parametrize("text", ["a\0b", "\ud800", "x\udfffy"])
def test_nul_and_half_characters_are_refused_in_text_and_in_keys(text):
    with pytest.raises(BadInput, match=r"value\.name"):
        canonical({"name": text})
    with pytest.raises(BadInput):
        canonical({text: 1})


def test_two_keys_that_become_one_are_refused():
    with pytest.raises(BadInput, match="twice"):
        canonical({"e\u0301": 1, "\u00e9": 2})


def test_a_digest_is_sha256_over_domain_and_canonical_bytes():
    assert digest("own", {"a": 1}) == hashlib.sha256(b'fitup/own\0{"a":1}').hexdigest()


def test_one_value_in_two_domains_has_two_digests():
    assert digest("own", {}) != digest("face", {})


@pytest.mark.parametrize("domain", ["", "a\0b", "Ä", "own\n", "UPPER"])
def test_a_domain_is_lower_case_words(domain):
    with pytest.raises(ValueError, match="not a digest domain"):
        digest(domain, {})


def test_one_changed_byte_changes_the_digest():
    assert sha256(b"plate") != sha256(b"plbte")


@given(VALUES)
def test_the_order_of_keys_does_not_matter(value):
    def turned(v):
        if isinstance(v, dict):
            return {k: turned(v[k]) for k in reversed(v)}
        return [turned(i) for i in v] if isinstance(v, list) else v

    assert canonical(turned(value)) == canonical(value)
