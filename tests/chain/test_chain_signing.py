"""Canonical JSON against RFC 8785, signatures against RFC 8032, and what is refused."""

from __future__ import annotations

import json
import struct
from typing import Any

import pytest
import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import example, given
from hypothesis import strategies as st

from chain.errors import AlteredError
from chain.signing import Signer, canonical, digest, read_checkpoint, read_record
from contract.chain import CHECKPOINT_SCHEMA, ChainBegun
from tests.chain.signers import signer

# RFC 8785, appendix B: the bits of a number (IEEE 754) and its one form.
NUMBERS = {
    "0000000000000000": "0", "8000000000000000": "0", "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324", "7fefffffffffffff": "1.7976931348623157e+308",
    "4340000000000000": "9007199254740992", "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22", "44b52d02c7e14af6": "1e+23",
    "444b1ae4d6e2ef50": "1e+21", "3eb0c6f7a0b5ed8d": "0.000001", "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "41b3de4355555555": "333333333.3333333", "becbf647612f3696": "-0.0000033333333333333333",
}  # fmt: skip


@pytest.mark.parametrize("bits", NUMBERS)
def test_numbers_have_the_form_of_the_rfc(bits: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical({"": number}) == f'{{"":{NUMBERS[bits]}}}'.encode()


def test_an_object_has_the_form_of_the_rfc() -> None:
    """RFC 8785, 3.2.2 and 3.2.4: the sample and its bytes."""
    sample = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/",
        "literals": [None, True, False],
    }
    assert canonical(sample) == (
        b'{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        b'"string":"\xe2\x82\xac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_keys_are_sorted_by_utf_16() -> None:
    """RFC 8785, 3.2.3."""
    keys = {"\u20ac": 1, "\r": 2, "\ufb33": 3, "1": 4, "\U0001f600": 5, "\u0080": 6, "\u00f6": 7}
    order = list(json.loads(canonical(keys)).values())
    assert order == [2, 4, 6, 7, 1, 5, 3]


def test_the_signature_is_ed25519() -> None:
    """RFC 8032, 7.1, TEST 1: the secret key, its public key, and the signature over nothing."""
    private = Ed25519PrivateKey.from_private_bytes(
        bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")
    )
    one = Signer(private)
    assert one.public_key == "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    assert private.sign(b"").hex() == (
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
        "d25bf5f0595bbe24655141438e7a100b"
    )
    signed = json.loads(one.signed({"b": 1, "a": "ö"}))
    said = f'{{"a":"ö","b":1,"key":"{one.public_key}"}}'
    assert signed["signature"] == private.sign(said.encode()).hex()


FIELDS = {
    "schema": "ringtrue/chain/1", "site": "greywacke", "bay": "bay-2", "chain": "0123456789abcdef",
    "index": 0, "previous": "", "time": "2026-03-02T06:00:00.000Z", "kind": "begun", "why": "first",
}  # fmt: skip
RECORD = signer("a").signed(FIELDS)


def test_the_same_fields_give_the_same_bytes_and_can_be_read() -> None:
    assert signer("a").signed(dict(reversed(FIELDS.items()))) == RECORD
    record = read_record(RECORD)
    assert isinstance(record, ChainBegun)
    assert (record.bay, record.why, record.key) == ("bay-2", "first", signer("a").public_key)
    assert digest(b"") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


@given(st.integers(0, len(RECORD) - 1), st.integers(1, 255))
def test_no_byte_can_be_another(place: int, by: int) -> None:
    altered = bytearray(RECORD)
    altered[place] ^= by
    with pytest.raises(AlteredError):
        read_record(bytes(altered))


@given(st.text(max_size=20), st.text(max_size=20))
@example('","signature":"', '\\","signature":"' + "0" * 128 + '"')
def test_what_is_signed_is_what_is_left_without_the_signature(text: str, other: str) -> None:
    """Whatever stands before it and behind, and where another signed message stands within."""
    seen = signer("b").signed(
        {"schema": CHECKPOINT_SCHEMA, "site": text, "bay": other, "chain": "0" * 16, "time": text, "size": 1,
         "root": "1" * 64}
    )  # fmt: skip
    said = {"site": text, "bay": other, "time": f'{text},"signature":"', "seen": json.loads(seen)}
    record = signer("a").signed({**FIELDS, **said})
    assert read_record(record).bay == other
    with pytest.raises(AlteredError, match="does not hold"):
        read_record(record.replace(b'"index":0', b'"index":1'))


@pytest.mark.parametrize(
    ("message", "why"),
    [
        (b"", "form"),
        (b"[]", "form"),
        (b"[" * 100_000, "form"),
        (RECORD + b"\n", "form"),
        (json.dumps(json.loads(RECORD)).encode(), "form"),
        (RECORD.replace(b'"index":0', b'"index":0,"index":0'), "form"),
        (signer("a").signed({**FIELDS, "index": -1}), "index"),
        (signer("a").signed({**FIELDS, "kind": "other"}), "kind|it"),
        (signer("b").signed(FIELDS).replace(signer("b").public_key.encode(), signer("a").public_key.encode()),
         "signature does not hold"),
    ],
)  # fmt: skip
def test_what_is_no_record_is_refused(message: bytes, why: str) -> None:
    with pytest.raises(AlteredError, match=why):
        read_record(message)


def test_a_record_is_no_checkpoint() -> None:
    with pytest.raises(AlteredError):
        read_checkpoint(RECORD)


SCALARS = st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(max_size=8)
VALUES = st.recursive(
    SCALARS | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(st.text(max_size=6), VALUES, max_size=6))
@example({"\ue000": 1, "\U0001f600": 2})  # by letters in this order, by UTF-16 in the other
@example({"a": '\x00\x1f\x7f\u2028"\\/\b\f\n\r\t', "b": [True, None, {}]})
@example({"a": 1e21, "b": -0.0, "c": 1.0})
def test_the_short_way_writes_what_the_standards_library_does(fields: dict[str, Any]) -> None:
    assert canonical(fields) == rfc8785.dumps(fields)


def test_what_has_no_one_form_has_none_by_any_way() -> None:
    for fields in ({"a": 2**53}, {"a": float("nan")}, {"a": "\ud800"}):
        with pytest.raises(ValueError, match=r".+"):
            canonical(fields)
