"""One command to a bay, and its reply: what `send` and the commands that are more than a message share."""

from __future__ import annotations

import argparse
import asyncio
import getpass
import json
import sys
import uuid
from collections.abc import Mapping
from typing import Any

from contract.wire import encode
from link.display import connect
from link.errors import LinkError
from ringtrue import connect as bays
from ringtrue.connect import find

# Keys of a reply that say nothing to a person.
_UNSHOWN = ("id", "ok", "asked")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Who asks, and which bay."""
    parser.add_argument("--operator", help="who asks (default: the user logged in)")
    parser.add_argument("--id", help="the request's id: repeating it repeats the reply, not the deed")
    parser.add_argument("--timeout", type=float, default=10.0, metavar="S", help="longest wait (default: 10)")
    parser.add_argument("--json", action="store_true", help="print the reply as it came")
    bays.add_options(parser, any_bay=False)


async def ask(args: argparse.Namespace, name: str, arguments: Mapping[str, Any]) -> bytes:
    """Send and wait. Raises LinkError or BrokerError where there is no answer to be had."""
    address, topics = find(args)
    request = args.id or uuid.uuid4().hex
    try:
        operator = args.operator or getpass.getuser()
    except (KeyError, OSError):  # a user id without a name
        operator = "unknown"
    warnings: list[str] = []
    async with connect(address()) as connection:
        try:
            async with asyncio.timeout(args.timeout):
                await connection.subscribe(topics.status)
                await connection.subscribe(topics.reply(request))
                message = encode({"id": request, "operator": operator, **arguments})
                await connection.publish(topics.command(name), message, qos=1)
                while True:
                    received = await connection.next_message()
                    if received.topic != topics.status:
                        return received.payload
                    status = json.loads(received.payload or b"{}")
                    warnings = status.get("warnings", [])
                    if status.get("state") == "offline":
                        raise LinkError(f"the daemon of {topics.site}/{topics.bay} is not running")
        except TimeoutError:
            if warnings:
                why = "; ".join([*warnings, "the command waits until then too"])
                raise LinkError(f"no reply within {args.timeout:g} s: {why}") from None
            raise LinkError(
                f"no reply within {args.timeout:g} s: the daemon of {topics.site}/{topics.bay} is not there, "
                "or the broker lets this user send no commands: give the credential of one who may"
            ) from None


def answered(payload: bytes, *, as_json: bool) -> int:
    """Print a reply; the exit code."""
    reply = json.loads(payload)
    refused = not reply.get("ok")
    if as_json:
        print(payload.decode())
    elif refused:
        error = reply.get("error", {})
        print(f"refused ({error.get('code')}): {error.get('message')}", file=sys.stderr)
    else:
        said = reply.get("summary")
        unshown = (*_UNSHOWN, "summary", "verdict", "missing") if said else _UNSHOWN
        rest = {key: value for key, value in reply.items() if key not in unshown and value is not None}
        print("\n".join([said or "done", *(f"  {key}:{_shown(value)}" for key, value in rest.items())]))
    return 1 if refused else 0


def _shown(value: object) -> str:
    """What stands after a key's colon: sentences each on a line of its own, all else beside it."""
    if isinstance(value, list) and any(isinstance(one, str) and " " in one for one in value):
        return "".join(f"\n    - {one}" for one in value)
    return f" {value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)}"
