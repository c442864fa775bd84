"""The hash tree against published values.

The eight leaves and their roots, audit paths and consistency proofs are those by which implementations of
RFC 6962 are commonly tested; they stand alike in many public repositories (looked up). The definition of the
RFC, written out below, is the second witness for any list.
"""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chain.merkle import EMPTY_ROOT, consistency_proof, grown_from, is_consistent, leaf_hash

LEAVES = [
    bytes.fromhex(text)
    for text in (
        "", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f",
    )
]  # fmt: skip
ROOTS = {
    1: "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    2: "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    4: "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    8: "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}
PROOFS = {
    (1, 8): [
        "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
    ],
    (2, 5): [
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    ],
    (6, 8): [
        "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ],
}


def by_the_rfc(records: list[bytes]) -> bytes:
    """MTH of RFC 6962, 2.1, word by word."""
    n = len(records)
    if n == 0:
        return hashlib.sha256().digest()
    if n == 1:
        return hashlib.sha256(b"\x00" + records[0]).digest()
    k = 1
    while 2 * k < n:
        k *= 2
    return hashlib.sha256(b"\x01" + by_the_rfc(records[:k]) + by_the_rfc(records[k:])).digest()


def root(records: list[bytes]) -> bytes:
    return grown_from(records).root()


@pytest.mark.parametrize("size", ROOTS)
def test_the_published_roots(size: int) -> None:
    assert root(LEAVES[:size]).hex() == ROOTS[size]


def test_of_nothing_the_root_is_the_hash_of_nothing() -> None:
    assert EMPTY_ROOT.hex() == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert root([]) == EMPTY_ROOT
    assert leaf_hash(b"").hex() == ROOTS[1]


@pytest.mark.parametrize(("old", "new"), PROOFS)
def test_the_published_consistency_proofs(old: int, new: int) -> None:
    proof = consistency_proof(LEAVES[:new], old)
    assert [one.hex() for one in proof] == PROOFS[old, new]
    assert is_consistent(old, root(LEAVES[:old]), new, root(LEAVES[:new]), proof)


records_of = st.lists(st.binary(max_size=3), min_size=1, max_size=70)


@given(records_of)
def test_any_list_has_the_root_of_the_definition(records: list[bytes]) -> None:
    assert root(records) == by_the_rfc(records)


@given(records_of, st.data())
def test_a_proof_holds_for_the_beginning_and_nothing_else(records: list[bytes], data: st.DataObject) -> None:
    old = data.draw(st.integers(1, len(records)))
    proof = consistency_proof(records, old)
    old_root, new_root = root(records[:old]), root(records)
    assert is_consistent(old, old_root, len(records), new_root, proof)
    other = [*records[:old]]
    place = data.draw(st.integers(0, old - 1))
    other[place] += b"\x00"
    assert not is_consistent(old, root(other), len(records), new_root, proof)
    if proof:
        spoilt = [*proof]
        spoilt[data.draw(st.integers(0, len(proof) - 1))] = b"\x00" * 32
        assert not is_consistent(old, old_root, len(records), new_root, spoilt)
        assert not is_consistent(old, old_root, len(records), new_root, proof[1:])
        assert not is_consistent(old, old_root, len(records), new_root, [*proof, proof[0]])


@pytest.mark.parametrize(("old", "new"), [(0, 1), (2, 1)])
def test_no_proof_holds_for_sizes_that_cannot_be(old: int, new: int) -> None:
    assert not is_consistent(old, EMPTY_ROOT, new, root(LEAVES[:new]), [])
