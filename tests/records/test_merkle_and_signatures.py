"""The tree against the vectors of RFC 6962's reference implementation, the signatures against RFC 8032."""

from __future__ import annotations

from hashlib import sha256

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from firstoff.records.keys import Signer, is_signed
from firstoff.records.merkle import leaf_hash, root_of, split

# Inputs and roots of trees of 1 to 8 leaves: test vectors of the Certificate Transparency reference code
# (merkletree, `kSHA256Roots`), which RFC 6962 describes. From memory; the law below defines them, too.
INPUTS = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
ROOTS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]


def test_roots_of_the_reference_trees() -> None:
    leaves = [leaf_hash(bytes.fromhex(text)) for text in INPUTS]
    assert [root_of(leaves[: i + 1]).hex() for i in range(8)] == ROOTS
    # RFC 6962, 2.1: the hash of an empty list is the hash of an empty string
    assert root_of([]).hex() == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def by_the_book(hashes: list[bytes]) -> bytes:
    """RFC 6962, 2.1, word for word: split at the largest power of two below n."""
    if len(hashes) == 1:
        return hashes[0]
    k = 1
    while 2 * k < len(hashes):
        k *= 2
    return sha256(b"\x01" + by_the_book(hashes[:k]) + by_the_book(hashes[k:])).digest()


@given(st.integers(1, 300), st.binary(max_size=8))
def test_any_tree_by_the_definition(n: int, salt: bytes) -> None:
    leaves = [leaf_hash(salt + i.to_bytes(2, "big")) for i in range(n)]
    assert root_of(leaves) == by_the_book(leaves)
    assert split(b"".join(leaves)) == leaves


# RFC 8032, 7.1: secret key, public key, message, signature of TEST 1, TEST 2 and TEST 3
VECTORS = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe2465"
        "5141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb0"
        "0d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc0"
        "27beceea1ec40a",
    ),
]


@pytest.mark.parametrize(("secret", "public", "message", "signature"), VECTORS)
def test_signatures_of_the_standard(secret: str, public: str, message: str, signature: str) -> None:
    who = Signer("test", Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret)), False)
    data = bytes.fromhex(message)
    assert who.public_key == public
    assert who.sign(data) == signature
    assert is_signed(public, signature, data)
    assert not is_signed(public, signature, data + b"x")
    assert not is_signed(VECTORS[0][1] if public != VECTORS[0][1] else VECTORS[1][1], signature, data)
    assert not is_signed("no key", signature, data)
