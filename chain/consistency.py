"""A proof for whoever kept an older checkpoint and has nothing else of the bay's."""

from __future__ import annotations

import json
from collections.abc import Sequence

from chain.errors import AlteredError, ChainError
from chain.merkle import consistency_proof, grown_from, is_consistent
from chain.signing import canonical, read_checkpoint
from contract.chain import CONSISTENCY_SCHEMA, Checkpoint, Consistency


class NoProofError(ChainError):
    """The answer is no: what was kept is not the beginning of what is there."""

    exit_code = 1


def prove(records: Sequence[bytes], latest: bytes, kept: Checkpoint) -> bytes:
    """That the chain of the checkpoint `latest` begins as `kept` says. Raises NoProofError where it does
    not."""
    new = read_checkpoint(latest)
    what = f"{kept.site}/{kept.bay}: a checkpoint of {kept.size} records of chain {kept.chain}"
    if new.chain != kept.chain:
        raise NoProofError(
            f"{what}, and the bay is in chain {new.chain} now: verify it where the records are"
        )
    if len(records) < new.size or new.size < kept.size:
        raise NoProofError(f"{what}, and {min(len(records), new.size)} are there")
    if grown_from(records[: kept.size]).root().hex() != kept.root:
        raise NoProofError(f"{what} does not hold: one of them is another than it was then")
    proof = consistency_proof(records[: new.size], kept.size)
    said = {
        "schema": CONSISTENCY_SCHEMA,
        "checkpoint": json.loads(latest),
        "since": kept.size,
        "proof": [one.hex() for one in proof],
    }
    return canonical(said)


def check_proof(said: bytes, kept: Checkpoint) -> Checkpoint:
    """The newer checkpoint, where a proof holds for the kept one. Raises NoProofError where it does not."""
    try:
        consistency = Consistency.model_validate_json(said)
        new = read_checkpoint(canonical(consistency.checkpoint))
    except AlteredError as error:
        raise NoProofError(f"no proof: {error}") from None
    except ValueError:
        raise NoProofError(
            "no proof: this is not what `ringtrue records prove` writes; have it made again"
        ) from None
    same = (new.site, new.bay, new.chain, new.key) == (kept.site, kept.bay, kept.chain, kept.key)
    proof = [bytes.fromhex(one) for one in consistency.proof]
    if not same or not is_consistent(
        kept.size, bytes.fromhex(kept.root), new.size, bytes.fromhex(new.root), proof
    ):
        raise NoProofError(
            f"{kept.site}/{kept.bay}: the proof does not hold for the checkpoint of {kept.size} records of "
            f"chain {kept.chain}: it is of another, or one of those records is another than it was then"
        )
    return new
