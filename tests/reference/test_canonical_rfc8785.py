"""
RFC 8785: the published test files, and a second library.

Source: RFC 8785 and its test data (cyberphone json-canonicalization, Apache-2.0, commit 19d51d7): the files
arrays, french, structures, unicode and values. Two of them hold floating point numbers, one holds text
that is not in normal form C. Our records refuse the former and compose the latter, so for those three only the
package that we stand on is held to the published bytes.
"""

import hashlib
import json
import math

import jcs
import pytest
import rfc8785

from ledger.domain.canonical import canonical, sha256

# name: (input, canonical bytes in hex, SHA-256 of them)
FILES = {
    "arrays": (
        '[\n  56,\n  {\n    "d": true,\n    "10": null,\n    "1": [ ]\n  }\n]\n',
        "5b35362c7b2231223a5b5d2c223130223a6e756c6c2c2264223a747275657d5d",
        "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42",
    ),
    "french": (
        (
            "{\n"
            '  "peach": "This sorting order",\n'
            '  "p\xe9ch\xe9": "is wrong according to French",\n'
            '  "p\xeache": "but canonicalization MUST",\n'
            '  "sin":   "ignore locale"\n'
            "}\n"
        ),
        (
            "7b227065616368223a225468697320736f7274696e67206f72646572222c2270c3a96368c3a9223a22697320"
            "77726f6e67206163636f7264696e6720746f204672656e6368222c2270c3aa636865223a226275742063616e"
            "6f6e6963616c697a6174696f6e204d555354222c2273696e223a2269676e6f7265206c6f63616c65227d"
        ),
        "d99d0ebdcb0033cb858cfa830ae46bc0fb3309413b271f1da828c89901a27ed5",
    ),
    "structures": (
        (
            "{\n"
            '  "1": {"f": {"f": "hi","F": 5} ,"\\n": 56.0},\n'
            '  "10": { },\n'
            '  "": "empty",\n'
            '  "a": { },\n'
            '  "111": [ {"e": "yes","E": "no" } ],\n'
            '  "A": { }\n'
            "}"
        ),
        (
            "7b22223a22656d707479222c2231223a7b225c6e223a35362c2266223a7b2246223a352c2266223a22686922"
            "7d7d2c223130223a7b7d2c22313131223a5b7b2245223a226e6f222c2265223a22796573227d5d2c2241223a"
            "7b7d2c2261223a7b7d7d"
        ),
        "605f65004ec2db7692522a0852c22f1c989e036d547e88963d1a3143cf3195d5",
    ),
    "unicode": (
        '{\n  "Unnormalized Unicode":"A\\u030a"\n}\n',
        "7b22556e6e6f726d616c697a656420556e69636f6465223a2241cc8a227d",
        "0d99aad92a125196ff887876643fd3206786a84ddce2cee52ba4ad256d2381d3",
    ),
    "values": (
        (
            "{\n"
            '  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],\n'
            '  "string": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/",\n'
            '  "literals": [null, true, false]\n'
            "}"
        ),
        (
            "7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273223a5b333333"
            "3333333333332e333333333333332c31652b33302c342e352c302e3030322c31652d32375d2c22737472696e"
            "67223a22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d"
        ),
        "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb",
    ),
}
WHOLE_NUMBERS_IN_NORMAL_FORM = ("arrays", "french")


@pytest.mark.parametrize("name", FILES)
def test_the_package_writes_the_published_bytes(name):
    text, expected, digest = FILES[name]
    assert rfc8785.dumps(json.loads(text)).hex() == expected
    assert hashlib.sha256(bytes.fromhex(expected)).hexdigest() == digest


@pytest.mark.parametrize("name", WHOLE_NUMBERS_IN_NORMAL_FORM)
def test_our_records_write_the_published_bytes(name):
    text, expected, digest = FILES[name]
    assert canonical(json.loads(text)).hex() == expected
    assert sha256(canonical(json.loads(text))) == digest


@pytest.mark.parametrize("name", FILES)
def test_a_second_library_writes_the_same(name):
    assert jcs.canonicalize(json.loads(FILES[name][0])).hex() == FILES[name][1]


@pytest.mark.parametrize("name", ["structures", "values"])
def test_our_records_refuse_the_files_that_hold_fractional_numbers(name):
    with pytest.raises(TypeError, match="float"):
        canonical(json.loads(FILES[name][0]))


def test_our_records_compose_what_the_published_file_leaves_decomposed():
    text, expected, _ = FILES["unicode"]
    assert bytes.fromhex(expected).decode() == '{"Unnormalized Unicode":"A\u030a"}'
    assert canonical(json.loads(text)).decode() == '{"Unnormalized Unicode":"\u00c5"}'


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_json_has_no_number_for_is_refused(value):
    with pytest.raises(ValueError, match="not representable"):
        rfc8785.dumps(value)
    with pytest.raises(TypeError):
        canonical(value)


def test_an_integer_past_2_to_the_53_is_refused_where_a_second_library_takes_it():
    assert jcs.canonicalize(2**53) == b"9007199254740992"
    with pytest.raises(ValueError, match="past 2"):
        canonical(2**53)
    assert canonical(2**53 - 1) == b"9007199254740991"
