"""Signatures of a batch: as few as prove all of it, and none that is wrong gets by."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest

from chain.signing import Holds, canonical, digest, refuse_unless_holds
from records.fleet import proving
from records.fleet.proving import prove
from records.fleet.reading import Read, Record, Refused, Told, read
from tests.parts.issuing import IssuingBay, Message


def records(bay: IssuingBay, count: int) -> list[Message]:
    return [bay.begin(), *(bay.record(bay.document(f"truck-{n}")) for n in range(count - 1))]


def proven(messages: list[Message]) -> list[Read]:
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
    assert all(isinstance(one, Record) for one in proven(messages))
    assert sorted(verified) == sorted(chain[-1][1] for chain in chains)


def test_over_a_gap_each_side_has_its_own_proof(verified: list[bytes]) -> None:
    chain = records(IssuingBay(), 10)
    assert all(isinstance(one, Record) for one in proven(chain[:4] + chain[5:]))
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
    found = proven([*chain[:place], altered, *chain[place + 1 :]])
    assert [n for n, one in enumerate(found) if isinstance(one, Refused)] == [place]
    refused = found[place]
    assert isinstance(refused, Refused)
    assert (refused.reason, refused.payload) == ("altered", altered[1])
    assert len([one for one in proven([*chain, altered]) if isinstance(one, Refused)]) == 1


def test_nobody_proves_what_another_key_signed_or_did_not() -> None:
    """Somebody's record that names a forged one as the one before it: of his own key, in the bay's name."""
    bay, other = IssuingBay(), IssuingBay(key="somebody else")
    chain, forged = records(bay, 3), records(other, 3)
    unsigned = canonical(json.loads(forged[1][1]) | {"key": bay.signer.public_key})
    naming = json.loads(forged[2][1]) | {"previous": digest(unsigned)}
    signed = other.signer.signed({k: v for k, v in naming.items() if k not in ("key", "signature")})
    found = proven([*chain, (chain[0][0], unsigned), (chain[0][0], signed)])
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
    found = [one for one in proven(told) if isinstance(one, Told)]
    assert [one.said.size for one in found if one.is_proven] == [6, 6]
    assert len(verified) == 2
    assert len(found) == 10


def test_a_forged_checkpoint_shields_none_that_is_smaller(verified: list[bytes]) -> None:
    told = checkpoints(IssuingBay(), 3)
    larger = IssuingBay()
    found = proven([*told, forged(checkpoints(larger, 9)[-1])])
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
    assert [type(one) for one in proven([*ours, same_chain])] == [Refused, Refused, Told]
