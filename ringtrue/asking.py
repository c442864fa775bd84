"""One command to a bay, and its reply: what `send` and the commands that are more than a message share."""

from __future__ import annotations

import argparse
import getpass
import json
import sys
import uuid
from collections.abc import Mapping
from typing import Any

from contract.commands import ReplyMessage
from link.display import connect
from link.requests import ask_alone
from ringtrue import connect as bays
from ringtrue.connect import find


def add_options(parser: argparse.ArgumentParser) -> None:
    """Who asks, and which bay."""
    parser.add_argument("--operator", help="who asks (default: the user logged in)")
    parser.add_argument("--id", help="the request's id: repeating it repeats the reply, not the deed")
    parser.add_argument("--timeout", type=float, default=10.0, metavar="S", help="longest wait (default: 10)")
    parser.add_argument("--json", action="store_true", help="print the reply as it came")
    bays.add_options(parser, any_bay=False)


async def ask(args: argparse.Namespace, name: str, arguments: Mapping[str, Any]) -> bytes:
    """Send and wait. Raises LinkError, NothingHeardError or BrokerError where no answer is to be had."""
    address, topics = find(args)
    try:
        operator = args.operator or getpass.getuser()
    except (KeyError, OSError):  # a user id without a name
        operator = "unknown"
    request = args.id or uuid.uuid4().hex
    async with connect(address()) as connection:
        return await ask_alone(
            connection, topics, operator, name, arguments, request=request, most_s=args.timeout
        )


def answered(payload: bytes, *, as_json: bool) -> int:
    """Print a reply; the exit code."""
    reply = ReplyMessage.model_validate_json(payload)
    refused = reply.error is not None
    if as_json:
        print(payload.decode())
    elif reply.error is not None:
        print(f"refused ({reply.error.code}): {reply.error.message}", file=sys.stderr)
    else:
        came = reply.model_extra or {}
        said = came.get("summary")
        unshown = ("summary", "verdict", "missing") if said else ()
        rest = {key: value for key, value in came.items() if key not in unshown and value is not None}
        print("\n".join([said or "done", *(f"  {key}:{_shown(value)}" for key, value in rest.items())]))
    return 1 if refused else 0


def _shown(value: object) -> str:
    """What stands after a key's colon: sentences each on a line of its own, all else beside it."""
    if isinstance(value, list) and any(isinstance(one, str) and " " in one for one in value):
        return "".join(f"\n    - {one}" for one in value)
    return f" {value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)}"
