"""
Ed25519: published vectors through the library that signs, and a second one.

Source: RFC 8032 section 7.1, tests 1, 2 and SHA(abc); the last from the RFC in part by memory.
"""

import nacl.signing
import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

# name: (secret, public, message, signature), all in hex
VECTORS = {
    "test 1": (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e3970"
            "1cf9b46bd25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    "test 2": (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613"
            "d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    "SHA(abc)": (
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        (
            "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23"
            "a3feebbd454d4423643ce80e2a9ac94fa54ca49f"
        ),
        (
            "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c6"
            "6431e0303dca179c138ac17ad9bef1177331a704"
        ),
    ),
}


def vector(name):
    return tuple(bytes.fromhex(part) for part in VECTORS[name])


@pytest.mark.parametrize("name", VECTORS)
def test_the_secret_gives_the_published_public_key_and_signature(name):
    secret, public, message, signature = vector(name)
    key = Ed25519PrivateKey.from_private_bytes(secret)
    assert key.public_key().public_bytes_raw() == public
    assert key.sign(message) == signature
    key.public_key().verify(signature, message)


@pytest.mark.parametrize("name", VECTORS)
def test_a_second_library_signs_the_same(name):
    secret, public, message, signature = vector(name)
    key = nacl.signing.SigningKey(secret)
    assert bytes(key.verify_key) == public
    assert key.sign(message).signature == signature
    assert key.verify_key.verify(message, signature) == message


@pytest.mark.parametrize("name", VECTORS)
@pytest.mark.parametrize("at", [0, 31, 32, 63])
def test_a_signature_with_one_bit_changed_is_refused(name, at):
    _, public, message, signature = vector(name)
    forged = bytearray(signature)
    forged[at] ^= 1
    with pytest.raises(InvalidSignature):
        Ed25519PublicKey.from_public_bytes(public).verify(bytes(forged), message)


@pytest.mark.parametrize("name", VECTORS)
def test_a_message_with_one_byte_more_is_refused(name):
    _, public, message, signature = vector(name)
    with pytest.raises(InvalidSignature):
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message + b"\0")
