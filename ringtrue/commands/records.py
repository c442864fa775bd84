"""`ringtrue records`: whether what is on record is what the bay issued."""

from __future__ import annotations

import argparse
import json
import os
import textwrap
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from config.errors import RingtrueError
from ringtrue.arguments import UsageError, add_config

if TYPE_CHECKING:
    from chain.verify import Verified
    from config.settings import Settings
    from contract.chain import Checkpoint

EXAMPLE = """\
exit: 0 sound, or proved; 1 broken: the first break is named; 2 usage; 3 it could not look.

examples:
  ringtrue records verify
  ringtrue records verify --config bays/bay-2.toml --checkpoint checkpoints.txt
  ringtrue records verify --records postgresql+psycopg://records/fleet
  ringtrue records prove --checkpoint checkpoints.txt -o proof.json
  ringtrue records verify --proof proof.json --checkpoint checkpoints.txt
"""


class CannotVerifyError(RingtrueError):
    """There is nothing to verify, or a checkpoint that was kept is none."""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "records",
        help="whether what is on record is what the bay issued",
        description=(
            "A bay signs each result and puts it into a chain. `verify` walks the chain in journal and "
            "records and names the first break; `prove` makes a proof for whoever kept an older checkpoint."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    doing = parser.add_subparsers(dest="doing", metavar="verify|prove", required=True)
    verify = doing.add_parser(
        "verify",
        help="walk the chain, and name the first break",
        description=textwrap.fill(
            "Every record of the bay's chain, with the result that it is of, in journal and records. The "
            "first break is named in one line.",
            80,
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_config(verify)
    _add_checkpoint(verify, required=False)
    verify.add_argument(
        "--records",
        metavar="URL",
        help="only this database of records, of whatever bays, without a journal",
    )
    verify.add_argument(
        "--since",
        metavar="CHAIN",
        default="",
        help="leave out the chains before this one, whatever key it has",
    )
    verify.add_argument(
        "--proof",
        type=Path,
        metavar="FILE",
        help="what `prove` made, for the checkpoint; nothing else is read",
    )
    verify.add_argument("--json", action="store_true", help="as one JSON object")
    prove = doing.add_parser(
        "prove",
        help="a proof that the chain still begins as an older checkpoint says",
        description=textwrap.fill(
            "Writes a consistency proof (RFC 6962) from the last checkpoint in FILE to the bay's latest.", 80
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_config(prove)
    _add_checkpoint(prove, required=True)
    prove.add_argument(
        "-o", "--output", type=Path, metavar="FILE", help="where to, if not to standard output"
    )


def _add_checkpoint(parser: argparse.ArgumentParser, *, required: bool) -> None:
    parser.add_argument(
        "--checkpoint",
        type=Path,
        metavar="FILE",
        required=required,
        help="checkpoints that somebody kept, one a line, as they came from MQTT",
    )


def run(args: argparse.Namespace) -> int:
    """Do it: 0 sound, 1 broken. Raises CannotVerifyError, JournalError or RecordsUnavailableError."""
    checkpoints = read_checkpoints(args.checkpoint) if args.checkpoint is not None else []
    if args.doing == "prove":
        proof = _proof(args.config, checkpoints[-1]) + b"\n"
        if args.output is not None:
            args.output.write_bytes(proof)
        else:
            print(proof.decode(), end="")
        return 0
    if args.proof is not None:
        return _check_proof(args.proof, checkpoints)
    if args.records is not None:
        found = _verify_records(args.records, checkpoints, args.since)
    else:
        found = _verify_bay(args.config, checkpoints, args.since)
    if args.json:
        print(json.dumps(_as_json(found), ensure_ascii=False))
    else:
        print("\n".join(line for bay, verified in found.items() for line in _in_words(bay, verified)))
    return 0 if all(verified.broken is None for verified in found.values()) else 1


def read_checkpoints(file: Path) -> list[Checkpoint]:
    """Each line of a file. Raises CannotVerifyError where one is no checkpoint, or was altered."""
    from chain.errors import AlteredError
    from chain.signing import read_checkpoint

    found = []
    for number, line in enumerate(file.read_bytes().splitlines(), start=1):
        if line.strip():
            try:
                found.append(read_checkpoint(line.strip()))
            except AlteredError as error:
                raise CannotVerifyError(
                    f"{file}:{number}: no checkpoint as a bay publishes it ({error}); take out the line"
                ) from None
    if not found:
        raise CannotVerifyError(f"{file}: no checkpoint in it")
    return found


def _verify_bay(config: Path, checkpoints: list[Checkpoint], since: str) -> dict[str, Verified]:
    from contextlib import closing

    from acquire.journal.reader import JournalReader
    from chain.breaks import Break
    from chain.errors import AlteredError
    from chain.signing import read_checkpoint
    from chain.verify import verify
    from records.store import Store
    from ringtrue.archive.sources import sqlite_file
    from ringtrue.chained import Stored, kept_in_journal, kept_in_records, stored_in, unchained, waiting_in

    settings = _settings(config)
    bay = settings.bay.site, settings.bay.name
    stored = Stored({}, {}, {}, {})
    with closing(JournalReader(settings.journal.path)) as reader:
        journal, waiting, latest = kept_in_journal(reader), waiting_in(reader), reader.checkpoint()
    file = sqlite_file(settings.records.url)
    if file is None or file.exists():
        with closing(Store(settings.records.url, create=False)) as store:
            stored = stored_in(store)
    own = {str(entry.beside["chain"]) for entry in journal.entries}
    names = own | {name for name, whose in stored.bays.items() if whose == bay}
    bays = {bay} | {stored.bays[name] for name in own if name in stored.bays}
    records = kept_in_records(stored, names, bays, waiting)
    _refuse_nothing(names, since, f"{settings.journal.path}: no result has been chained yet")
    checkpoints = [one for one in checkpoints if (one.site, one.bay) in bays or one.chain in names]
    spoilt = None
    try:
        checkpoints.insert(0, read_checkpoint(latest))
    except AlteredError as error:
        spoilt = Break("checkpoint", "journal", *bay, "", 0, f"the latest one: {error}")
    verified = verify(bay, [journal, records], checkpoints, since=since)
    notes = (
        *verified.notes,
        *(broken.in_words() for whose, broken in unchained(stored) if whose not in bays),
    )
    return {"/".join(bay): replace(verified, broken=verified.broken or spoilt, notes=notes)}


def _verify_records(url: str, checkpoints: list[Checkpoint], since: str) -> dict[str, Verified]:
    from contextlib import closing

    from chain.verify import Kept, Verified, verify
    from records.store import Store
    from ringtrue.chained import kept_in_records, lineages, stored_in, unchained

    with closing(Store(url, create=False)) as store:
        stored = stored_in(store)
    _refuse_nothing(stored.chains, since, f"records: no record of a chain is in {url.rpartition('@')[2]}")
    found = {}
    nothing = Kept("records", [], {}, frozenset())
    for bay, names in lineages(stored):
        if since and since not in names:
            continue
        bays = {stored.bays[name] for name in names}
        of_it = [one for one in checkpoints if (one.site, one.bay) in bays or one.chain in names]
        kept = kept_in_records(stored, names, bays, nothing)
        found["/".join(bay)] = verify(bay, [kept], of_it, since=since)
    if not since:
        found |= {"/".join(bay): Verified(broken, 0, 0, ()) for bay, broken in unchained(stored)}
    return found


def _settings(config: Path) -> Settings:
    from config.settings import read_settings

    return read_settings(config, os.environ)


def _refuse_nothing(names: Any, since: str, what: str) -> None:
    if not names:
        raise CannotVerifyError(f"{what}: the daemon begins a bay's chain when it starts")
    if since and since not in names:
        raise CannotVerifyError(f"--since {since}: no such chain; there are {', '.join(sorted(names))}")


def _proof(config: Path, kept: Checkpoint) -> bytes:
    from contextlib import closing

    from acquire.journal.reader import JournalReader
    from chain.consistency import prove

    with closing(JournalReader(_settings(config).journal.path)) as reader:
        latest = reader.checkpoint()
        if not latest:
            raise CannotVerifyError(f"{reader.path}: no checkpoint yet: the daemon makes one when it starts")
        records = [one.record for one in reader.chain() if one.chain == kept.chain]
    return prove(records, latest, kept)


def _check_proof(file: Path, checkpoints: list[Checkpoint]) -> int:
    from chain.consistency import check_proof

    if not checkpoints:
        raise UsageError("--proof", "it alone", "--checkpoint FILE too, the one that you kept")
    kept = checkpoints[-1]
    new = check_proof(file.read_bytes(), kept)
    print(
        f"{new.site}/{new.bay}: the proof holds: the {new.size} records of chain {new.chain} begin with the "
        f"{kept.size} that you kept a checkpoint of"
    )
    return 0


def _in_words(bay: str, verified: Verified) -> list[str]:
    notes = [f"note: {note}" for note in verified.notes]
    if verified.broken is not None:
        return [verified.broken.in_words(), *notes]
    return [f"{bay}: sound: {verified.records} records, {verified.results} results", *notes]


def _as_json(found: dict[str, Verified]) -> dict[str, Any]:
    return {
        "sound": all(verified.broken is None for verified in found.values()),
        "bays": {bay: asdict(verified) for bay, verified in found.items()},
    }
