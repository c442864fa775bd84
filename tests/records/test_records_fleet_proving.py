"""Signatures of a batch: as few as prove all of it, and none that is wrong gets by."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chain.errors import AlteredError
from chain.merkle import grown_from
from chain.signing import Holds, canonical, digest, refuse_unless_holds
from contract.chain import CHECKPOINT_SCHEMA
from records.fleet import filing, proving
from records.fleet.proving import prove, proven
from records.fleet.reading import Read, Record, Refused, Told, read
from tests.parts.issuing import TIME, IssuingBay, Message
from tests.parts.postgres import Postgres
from tests.records.filed import database


def records(bay: IssuingBay, count: int) -> list[Message]:
    return [bay.begin(), *(bay.record(bay.document(f"truck-{n}")) for n in range(count - 1))]


def found_in(messages: Sequence[Message]) -> list[Read]:
    return prove([read(*one) for one in messages])


@pytest.fixture
def verified(monkeypatch: pytest.MonkeyPatch) -> list[bytes]:
    """What is verified by itself."""
    done: list[bytes] = []

    def noted(message: bytes, said: Any, how: Holds) -> None:
        done.append(message)
        refuse_unless_holds(message, said, how)

    monkeypatch.setattr(proving, "refuse_unless_holds", noted)
    return done


def test_of_records_that_follow_each_other_the_last_proves_all(verified: list[bytes]) -> None:
    bays = [IssuingBay(f"bay-{n}") for n in range(3)]
    chains = [records(bay, 20) for bay in bays]
    messages = [one for chain in chains for one in chain]
    random.Random(1).shuffle(messages)
    assert all(isinstance(one, Record) for one in found_in(messages))
    assert sorted(verified) == sorted(chain[-1][1] for chain in chains)


def test_over_a_gap_each_side_has_its_own_proof(verified: list[bytes]) -> None:
    chain = records(IssuingBay(), 10)
    assert all(isinstance(one, Record) for one in found_in(chain[:4] + chain[5:]))
    assert verified == [chain[9][1], chain[3][1]]


@pytest.mark.parametrize("place", [0, 4, 9])
@pytest.mark.parametrize(
    "changed",
    [{"time": "2026-11-26T05:20:42.000Z"}, {"signature": "0" * 128}, {"index": 10}, {"previous": "a" * 64}],
    ids=lambda changed: next(iter(changed)),
)
def test_one_that_is_altered_is_refused_and_no_other(place: int, changed: dict[str, Any]) -> None:
    chain = records(IssuingBay(), 10)
    topic, message = chain[place]
    altered = (topic, canonical(json.loads(message) | changed))
    found = found_in([*chain[:place], altered, *chain[place + 1 :]])
    assert [n for n, one in enumerate(found) if isinstance(one, Refused)] == [place]
    refused = found[place]
    assert isinstance(refused, Refused)
    assert (refused.reason, refused.payload) == ("altered", altered[1])
    assert len([one for one in found_in([*chain, altered]) if isinstance(one, Refused)]) == 1


def test_nobody_proves_what_another_key_signed_or_did_not() -> None:
    """Somebody's record that names a forged one as the one before it: of his own key, in the bay's name."""
    bay, other = IssuingBay(), IssuingBay(key="somebody else")
    chain, forged = records(bay, 3), records(other, 3)
    unsigned = canonical(json.loads(forged[1][1]) | {"key": bay.signer.public_key})
    naming = json.loads(forged[2][1]) | {"previous": digest(unsigned)}
    signed = other.signer.signed({k: v for k, v in naming.items() if k not in ("key", "signature")})
    found = found_in([*chain, (chain[0][0], unsigned), (chain[0][0], signed)])
    assert [type(one) for one in found] == [Record, Record, Record, Refused, Record]


def forged(checkpoint: Message) -> Message:
    """The same, whose signature is another one's."""
    said = json.loads(checkpoint[1])
    return checkpoint[0], canonical(said | {"signature": said["signature"][::-1]})


def checkpoints(bay: IssuingBay, count: int) -> list[Message]:
    return [bay.issue(f"truck-{n}")[-1] for n in range(count)]


def test_of_a_chains_checkpoints_the_largest_is_verified(verified: list[bytes]) -> None:
    bays = [IssuingBay(f"bay-{n}") for n in range(2)]
    told = [one for bay in bays for one in checkpoints(bay, 5)]
    random.Random(1).shuffle(told)
    found = [one for one in found_in(told) if isinstance(one, Told)]
    assert [one.said.size for one in found if one.is_proven] == [6, 6]
    assert len(verified) == 2
    assert len(found) == 10


def test_a_forged_checkpoint_shields_none_that_is_smaller(verified: list[bytes]) -> None:
    told = checkpoints(IssuingBay(), 3)
    larger = IssuingBay()
    found = found_in([*told, forged(checkpoints(larger, 9)[-1])])
    assert [type(one) for one in found] == [Told, Told, Told, Refused]
    assert [one.is_proven for one in found if isinstance(one, Told)] == [False, False, True]
    assert len(verified) == 2


def test_a_checkpoint_of_another_key_proves_none_of_the_bays() -> None:
    """Each key's largest is verified by itself: whoever has one signs for no other."""
    bay, other = IssuingBay(), IssuingBay(key="somebody else")
    theirs = checkpoints(other, 9)[-1]
    said = json.loads(theirs[1])
    del said["key"], said["signature"]
    same_chain = theirs[0], other.signer.signed(said | {"chain": bay._chain or "a" * 16})
    ours = [forged(one) for one in checkpoints(bay, 2)]
    assert [type(one) for one in found_in([*ours, same_chain])] == [Refused, Refused, Told]


def one_by_one(reads: Sequence[Read]) -> list[Read]:
    """As `prove`, every signature verified by itself."""
    return [_by_itself(one) for one in reads]


def _by_itself(one: Read) -> Read:
    if isinstance(one, Told):
        return proven(one)
    if isinstance(one, Record):
        try:
            refuse_unless_holds(one.payload, one.said)
        except AlteredError as error:
            return Refused(one.topic, one.payload, "altered", str(error))
    return one


def meddled(message: Message, chance: random.Random, others: Sequence[Message]) -> Message:
    """By somebody who has no key of the bay's: a byte, a field, another's signature, a key of their own."""
    topic, payload = message
    said = json.loads(payload)
    other = json.loads(chance.choice(others)[1])
    match chance.randrange(5):
        case 0:
            place = chance.randrange(len(payload))
            return topic, payload[:place] + bytes([payload[place] ^ 1 << chance.randrange(8)]) + payload[
                place + 1 :
            ]
        case 1:
            name = chance.choice(sorted(said.keys() & other.keys()))
            return topic, canonical(said | {name: other[name]})
        case 2:
            number = "index" if "index" in said else "size"
            return topic, canonical(said | {number: max(1, said[number] + chance.choice((-3, -1, 1, 3)))})
        case 3:
            place = chance.randrange(128)
            signature = said["signature"]
            digit = "0" if signature[place] != "0" else "f"
            return topic, canonical(said | {"signature": signature[:place] + digit + signature[place + 1 :]})
        case _:
            unsigned = {name: value for name, value in said.items() if name not in {"key", "signature"}}
            return topic, IssuingBay(key="somebody else").signer.signed(unsigned)


def mixture(chance: random.Random) -> list[Message]:
    """Chains of two bays with their checkpoints, with gaps and copies, and what somebody made of them."""
    bays = [IssuingBay(f"bay-{n}") for n in range(2)]
    issued = [one for bay in bays for n in range(5) for one in bay.issue(f"truck-{n}")]
    signed = [one for one in issued if not one[0].endswith("/result")]
    forged = [meddled(chance.choice(signed), chance, signed) for _ in range(chance.randrange(12))]
    messages = [*chance.sample(issued, chance.randint(len(issued) // 2, len(issued))), *forged]
    messages += chance.choices(messages, k=len(messages) // 4)
    chance.shuffle(messages)
    return messages


@pytest.mark.slow
@given(st.randoms(use_true_random=False))
def test_whatever_somebody_makes_of_a_batch_the_same_is_refused_as_with_every_signature_verified(
    chance: random.Random,
) -> None:
    reads = [read(*one) for one in mixture(chance)]
    for ours, one in zip(prove(reads), one_by_one(reads), strict=True):
        if isinstance(ours, Told) and not ours.is_proven:
            continue  # where its chain is walked
        assert ours == one


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_the_same_is_on_record_as_with_every_signature_verified(
    seed: int, postgres: Postgres, monkeypatch: pytest.MonkeyPatch
) -> None:
    messages = mixture(random.Random(seed))
    keys = {f"greywacke/bay-{n}": [IssuingBay(f"bay-{n}").signer.public_key] for n in range(2)}
    found = []
    for how in (prove, one_by_one):
        monkeypatch.setattr(filing, "prove", how)
        with database(postgres) as db:
            writer, chance, left = db.filing(keys=keys), random.Random(seed), messages
            while left:
                size = chance.choice((3, 10, 40))
                writer.file(left[:size])
                left = left[size:]
            found.append(db.all())
    ours, every = found
    gone = [one for one in every.pop("refused") if one not in ours["refused"]]
    assert not [one for one in ours.pop("refused") if one in gone]
    assert ours == every
    # What is left out unlooked at is a copy of a checkpoint that a larger one makes needless.
    assert all((topic.endswith("/checkpoint"), reason) == (True, "altered") for topic, _, reason in gone)


def test_a_record_whose_own_signature_is_wrong_is_refused_whatever_checkpoint_covers_it() -> None:
    """A bay at fault: its checkpoint's root holds the record as it stands, and proves whose it is. Whoever
    verifies that record alone later finds it wrong all the same: no root stands for its signature."""
    bay = IssuingBay()
    topic, first = bay.begin()
    said = json.loads(bay.record(bay.document("truck-14"))[1])
    wrong = canonical(said | {"signature": said["signature"][::-1]})
    root = grown_from([first, wrong]).root().hex()
    named = {name: said[name] for name in ("site", "bay", "chain")}
    covers = {"schema": CHECKPOINT_SCHEMA, "size": 2, "root": root, "time": TIME, **named}
    found = found_in([(topic, first), (topic, wrong), (bay.topics.checkpoint, bay.signer.signed(covers))])
    assert [type(one) for one in found] == [Record, Refused, Told]
