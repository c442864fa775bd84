"""What is read and verified quickly comes to the same as what is not."""

from __future__ import annotations

import json
import random
import re
import zlib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from nacl.bindings import crypto_sign_open
from nacl.exceptions import BadSignatureError

from chain import signing
from chain.errors import AlteredError
from chain.signing import canonical, holds, unproven_checkpoint, unproven_record
from records.fleet import held, reading
from records.fleet.proving import quickly
from records.fleet.reading import Document, Refused, pack, read
from tests.chain.signers import signer
from tests.parts.issuing import IssuingBay

SMALL = "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03"
MIXED = "f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43"
# Where verifiers of Ed25519 differ: Chalkias, Garillot, Nikolaenko, "Taming the many EdDSAs" (2020), 5.1, the
# test vectors 0 to 9 (message, key, signature): points of small and of mixed order, S not reduced, encodings
# that are not the canonical ones.
CASES = [
    ("8c93255d71dcab10e8f379c26200f3c7bd5f09d9bc3068d3ef4edeb4853022b6", f"{SMALL}fa",
     f"{SMALL}7a" + "0" * 64),
    ("9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79", f"{SMALL}fa",
     f"{MIXED}a5bb704786be79fc476f91d3f3f89b03984d8068dcf1bb7dfc6637b45450ac04"),
    ("aebf3f2601a0c8c5d39cc7d8911642f740b78168218da8471772b35f9d35b9ab", MIXED,
     f"{SMALL}fa8c4bd45aecaca5b24fb97bc10ac27ac8751a7dfe1baff8b953ec9f5833ca260e"),
    ("9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79",
     "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d",
     "9046a64750444938de19f227bb80485e92b83fdb4b6506c160484c016cc1852f"
     "87909e14428a7a1d62e9f22f3d3ad7802db02eb2e688b6c52fcd6648a98bd009"),
    ("e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c",
     "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d",
     "160a1cb0dc9c0258cd0a7d23e94d8fa878bcb1925f2c64246b2dee1796bed512"
     "5ec6bc982a269b723e0668e540911a9a6a58921d6925e434ab10aa7940551a09"),
    ("e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c",
     "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d",
     "21122a84e0b5fca4052f5b1235c80a537878b38f3142356b2c2384ebad4668b7"
     "e40bc836dac0f71076f9abe3a53f9c03c1ceeeddb658d0030494ace586687405"),
    ("85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40",
     "442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623",
     "e96f66be976d82e60150baecff9906684aebb1ef181f67a7189ac78ea23b6c0e"
     "547f7690a0e2ddcd04d87dbc3490dc19b3b3052f7ff0538cb68afb369ba3a514"),
    ("85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40",
     "442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623",
     "8ce5b96c8f26d0ab6c47958c9e68b937104cd36e13c33566acd2fe8d38aa1942"
     "7e71f98a473474f2f13f06f97c20d58cc3f54b8bd0d272f42b695dd7e89a8c22"),
    ("fdaebc429f4a735932a160da1301080c13280eea8bc280d1b392c6b9e6ba3a5a", MIXED,
     "ed" + "f" * 60 + "7f454d370c8d9fc323a41450f8d513eafeb5b0697390c1e505a0d4ddc71f566607"),
    ("84b698d39be126ff55fe45079e6c8bf64a0d7db6994560b4e96b7021eb39c1a1", MIXED,
     "ed" + "f" * 60 + "7f084d5b99c2a9463d9c8bd5026916996984eeec87ddf1d3be329006ace1b37b09"),
]  # fmt: skip
# The eight points of small order and their other encodings (the same paper, table 1), each as key and as R.
LOW = [
    "0100000000000000000000000000000000000000000000000000000000000000",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "0000000000000000000000000000000000000000000000000000000000000080",
    "0000000000000000000000000000000000000000000000000000000000000000",
    f"{SMALL}7a", f"{SMALL}fa",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
    "0100000000000000000000000000000000000000000000000000000000000080",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
]  # fmt: skip
ORDER = 2**252 + 27742317777372353535851937790883648493


def by_the_quick_library(key: bytes, signature: bytes, signed: bytes) -> bool:
    try:
        crypto_sign_open(signature + signed, key)
    except (BadSignatureError, ValueError):
        return False
    return True


def test_what_the_quick_library_takes_the_other_takes_where_verifiers_differ() -> None:
    cases = [tuple(bytes.fromhex(one) for one in (key, sig, message)) for message, key, sig in CASES]
    cases += [
        (bytes.fromhex(key), bytes.fromhex(r) + bytes(32), bytes([n]))
        for key in LOW
        for r in LOW
        for n in range(16)
    ]
    taken = [holds(*one) for one in cases]
    assert any(taken), "some are taken though they prove nothing"
    assert [quickly(*one) for one in cases] == taken
    assert not [
        one for one, is_taken in zip(cases, taken, strict=True) if by_the_quick_library(*one) > is_taken
    ]


@given(st.binary(max_size=200), st.integers(0, 64 * 8 - 1), st.booleans())
def test_a_signature_holds_for_both_or_for_none(message: bytes, bit: int, is_spoilt: bool) -> None:
    one = signer("bay-2")
    signature = bytearray(one._private.sign(message))
    assert by_the_quick_library(bytes.fromhex(one.public_key), bytes(signature), message)
    if is_spoilt:
        signature[bit // 8] ^= 1 << bit % 8
    said = bytes.fromhex(one.public_key), bytes(signature), message
    assert quickly(*said) == holds(*said) == (not is_spoilt)


def test_a_signature_whose_s_is_not_reduced_is_refused() -> None:
    """RFC 8032, 5.1.7: 0 <= S < L; else the same message had two."""
    one = signer("bay-2")
    signature = one._private.sign(b"signed")
    larger = (int.from_bytes(signature[32:], "little") + ORDER).to_bytes(32, "little")
    assert not quickly(bytes.fromhex(one.public_key), signature[:32] + larger, b"signed")


NAMES = st.text(st.one_of(st.characters(codec="utf-8"), st.sampled_from('"\\\x7f/{},: é漢')), max_size=12)
NUMBERS = st.one_of(st.integers(-3, 300), st.integers(10**14, 2**53), st.booleans(), st.just(1.5), NAMES)


NOTHING = re.compile(rb"(?!)")
TOPICS = IssuingBay().topics


def both_ways(message: bytes, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What a message says where it may be read quickly, and where it may not."""
    found: list[Any] = []
    for is_quick in (True, False):
        with monkeypatch.context() as patch:
            if not is_quick:
                for module in (signing, reading):
                    patch.setattr(module, "plain_result", lambda: NOTHING)
                    patch.setattr(module, "plain_checkpoint", lambda: NOTHING)
            for said in (unproven_record, unproven_checkpoint):
                try:
                    found.append(said(message))
                except AlteredError as error:
                    found.append(str(error))
            found += [read(topic, message) for topic in (TOPICS.chain, TOPICS.checkpoint)]
    return found


@given(st.data())
def test_a_message_of_a_chain_says_the_same_read_quickly_or_not(data: st.DataObject) -> None:
    _, begun, record, checkpoint = IssuingBay().issue("truck-14")
    fields = json.loads(data.draw(st.sampled_from([begun, record, record, checkpoint, checkpoint]))[1])
    for name in data.draw(st.lists(st.sampled_from(sorted(fields)), max_size=2)):
        fields[name] = data.draw(NUMBERS if name in {"index", "revision", "size", "later"} else NAMES)
    if data.draw(st.booleans()):
        fields["more"] = data.draw(NAMES)
    message = bytearray(canonical(fields))
    for _ in range(data.draw(st.integers(0, 2))):
        place = data.draw(st.integers(0, len(message) - 1))
        message[place : place + data.draw(st.integers(0, 1))] = data.draw(
            st.sampled_from([b'"', b" ", b",", b"0", b"\\", b"\x7f", b""])
        )
    with pytest.MonkeyPatch.context() as patch:
        found = both_ways(bytes(message), patch)
    assert found[:4] == found[4:]


def test_what_a_bay_issues_is_read_quickly() -> None:
    _, _, record, checkpoint = IssuingBay().issue("truck-14")
    assert signing.plain_result().fullmatch(record[1])
    assert signing.plain_checkpoint().fullmatch(checkpoint[1])


@given(st.one_of(st.binary(max_size=3000), st.text().map(str.encode)))
def test_what_is_packed_is_what_it_was(payload: bytes) -> None:
    assert zlib.decompress(pack(payload)) == payload


def test_documents_are_packed_as_small_as_zlib_does() -> None:
    document = b"".join(IssuingBay().document(f"truck-{n}")[1] for n in range(4))
    assert zlib.decompress(pack(document)) == document
    assert len(pack(document)) < 1.1 * len(zlib.compress(document, 1))


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda one: one.replace(b'"}', b'\xff"}', 1),
        lambda one: one[:-1] + b',"more":"\xc3"}',
        lambda one: one[:-1] + b',"more":' + b"[" * 100_000 + b"]" * 100_000 + b"}",
        lambda one: one[:-1] + b',"more":[1,]}',
        lambda one: one[:-1] + b',"more":01}',
        lambda one: one + b"}",
        lambda one: one.replace(b'"revision":1', b'"revision":1.0'),
        lambda one: one.replace(b'"revision":1', b'"revision":true'),
        lambda one: one.replace(b'"revision":1', b'"revision":-1'),
        lambda one: one.replace(b'"revision":1', b'"revision":2147483648'),
        lambda one: one.replace(b'"inspection":"truck-14"', b'"inspection":""'),
        lambda one: one[:-1] + b',"checks":{"rim":{"outcome":"within","tir_mm":1e999}}}',
        lambda one: one[:-1] + b',"checks":{"rim":{"outcome":"within","tir_mm":NaN}}}',
        lambda one: one[:-1] + b',"checks":{"rim":{"outcome":"within","tir_mm":"0.19"}}}',
    ],
)  # fmt: skip
def test_a_document_that_is_wrong_anywhere_is_malformed(spoilt: Any) -> None:
    topic, document = IssuingBay().document("truck-14")
    assert isinstance(read(topic, document), Document)
    assert spoilt(document) != document
    found = read(topic, spoilt(document))
    assert isinstance(found, Refused)
    assert found.reason == "malformed"


def test_damaged_documents_are_malformed_or_json() -> None:
    """The decoder leaves out what stands in no column, and still looks at it."""
    chance = random.Random(1)
    topic, document = IssuingBay().document("truck-14")
    read_ones = 0
    for _ in range(3000):
        damaged = bytearray(document)
        place = chance.randrange(len(damaged))
        damaged[place : place + chance.randrange(2)] = bytes(
            [chance.choice(b'\\"{}[],:01-.eE\x00\x1f u\xff')]
        )
        found = read(topic, bytes(damaged))
        if isinstance(found, Document):
            json.loads(damaged.decode())
            read_ones += 1
    assert read_ones > 100


PLACES = st.tuples(st.just("greywacke"), st.sampled_from(["bay-2", "bay-3"]), st.just("a"), st.integers(0, 9))


@given(st.lists(PLACES))
def test_what_is_looked_up_by_runs_is_what_was_asked_for(places: list[tuple[str, str, str, int]]) -> None:
    runs = held._runs(places)
    found = [(a, b, c, number) for a, b, c, first, last in runs for number in range(first, last + 1)]
    assert sorted(found) == sorted(set(places))
    assert len(runs) == sum((a, b, c, number - 1) not in found for a, b, c, number in found)
