"""`ringtrue schema`: the contract of a bay as JSON Schema and AsyncAPI, for who writes another end."""

from __future__ import annotations

import argparse
import json
from typing import Any

EXAMPLE = """\
exit: 0 done; 2 usage, or there is no such message.

examples:
  ringtrue schema                      # the whole contract, one AsyncAPI 3 document
  ringtrue schema result               # JSON Schema of the result document
  ringtrue schema --list
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "schema",
        help="the messages of a bay as JSON Schema and AsyncAPI",
        description=(
            "Prints what is said on MQTT: all of it as an AsyncAPI document, or one message as JSON Schema."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("message", nargs="?", metavar="MESSAGE", help="which (default: all, as AsyncAPI)")
    parser.add_argument("--list", action="store_true", help="the names of all messages, and their topics")


def run(args: argparse.Namespace) -> int:
    """Do it. Raises UsageError."""
    from contract.published import DOCUMENTS, asyncapi, messages, schemas
    from ringtrue.arguments import UsageError

    if args.list:
        print("\n".join(f"{one.name:<20}{one.topic}" for one in messages()))
        print("\n".join(f"{name:<20}(by HTTP, docs/exchange.md)" for name in DOCUMENTS))
        return 0
    found = schemas()
    if args.message is None:
        data = asyncapi()
    elif args.message in found:
        data = found[args.message]
    else:
        raise UsageError("MESSAGE", args.message, f"one of {', '.join(found)}")
    print(json.dumps(data, ensure_ascii=False, indent=1))
    return 0
