"""`ringtrue send`: one command to the bay's daemon, and its reply."""

from __future__ import annotations

import argparse
import getpass
import json
import sys
from typing import Any

EXAMPLE = """\
commands and their arguments (in brackets: may be left out):
  open     engine damper scope=on-engine|bench|both [inspection] [construction]
           [distance_km] [hours_h] [work_order]
  begin    check=rim|face|thickness|lifts gauge=ID|typed [radius_mm] (face)
           [resolution_mm] [mpe_mm] (typed)
  mark     [angle_deg] [sure=true]: the crank stands at the next mark, or at this
           angle; sure: it was turned since the last, although nothing shows it
  record   check=visual|visual-bench|penetrant|warm-leak items=JSON
           angle_deg value_mm [low_mm] [high_mm]: a dial's reading, in a sweep begun
           with typed; low, high: what the needle showed since the stop before
           check=thickness station_deg radius=outer|inner value_mm
           check=lifts value_mm: after a lift, in a test begun with typed
           replace=true corrects the latest value typed there, or the last lift
  end, cancel                  the running sweep; cancelled, it does not count
  close, abandon               inspection
  sign     inspection name [sure=true]: sure where it does not end in keep
  resend   since=2026-03-02T06:00:00Z: publish and record results from then on again

examples:
  ringtrue send open engine=GQ-E-2207 damper=GQ-D-0815 scope=on-engine
  ringtrue send begin check=rim gauge=indicator-1
  ringtrue send record check=visual items='[{"item":"leak","seen":"good"}]'
  ringtrue send record angle_deg=45 value_mm=0.213 replace=true
  ringtrue send sign inspection=I-1 name='R. Example'
"""

# Endings of names whose values are numbers; all other plain text stays text, serials of digits too.
_NUMBERS = ("_mm", "_deg", "_km", "_h", "_s")
# Names whose values are true or false.
_FLAGS = ("sure", "replace")
# Keys of a reply that say nothing to a person.
_UNSHOWN = ("id", "ok", "asked")


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    from ringtrue import connect

    parser = subparsers.add_parser(
        "send",
        help="send one command to the bay and print its reply",
        description="Sends one command to the bay's daemon and waits for its reply.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("name", help="open, begin, mark, end, cancel, record, close, sign, abandon, resend")
    parser.add_argument("argument", nargs="*", metavar="KEY=VALUE", help="the command's arguments")
    parser.add_argument("--operator", help="who asks (default: the user logged in)")
    parser.add_argument("--id", help="the request's id: repeating it repeats the reply, not the deed")
    parser.add_argument("--timeout", type=float, default=10.0, metavar="S", help="longest wait (default: 10)")
    parser.add_argument("--json", action="store_true", help="print the reply as it came")
    connect.add_options(parser, any_bay=False)


def run(args: argparse.Namespace) -> int:
    """Do it."""
    import asyncio

    try:
        arguments = dict(_argument(text) for text in args.argument)
    except ValueError as err:
        print(f"ringtrue send: {err}", file=sys.stderr)
        return 2
    if args.url is not None and args.bay is None:
        print("ringtrue send: --url needs --bay SITE/NAME", file=sys.stderr)
        return 2
    payload = asyncio.run(_ask(args, arguments))
    reply = json.loads(payload)
    refused = not reply.get("ok")
    if args.json:
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


async def _ask(args: argparse.Namespace, arguments: dict[str, Any]) -> bytes:
    """Send and wait. Raises LinkError or BrokerError where there is no answer to be had."""
    import asyncio
    import uuid

    from contract.wire import encode
    from link.connection import connect
    from link.errors import LinkError
    from ringtrue.connect import find

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
                await connection.publish(topics.command(args.name), message, qos=1)
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
                "or this user may not send commands"
            ) from None


def _argument(text: str) -> tuple[str, Any]:
    """`key=value`; numbers where the key's name says so, JSON where it looks like it, else text."""
    key, equals, value = text.partition("=")
    if not equals or not key:
        raise ValueError(
            f"an argument is KEY=VALUE, not {text!r}; a value with spaces stands in quotes: name='R. Example'"
        )
    if value[:1] in ("[", "{"):
        try:
            return key, json.loads(value)
        except json.JSONDecodeError as err:
            raise ValueError(
                f"{key} is no valid JSON, from character {err.pos + 1} on; in single quotes, "
                f'such as {key}=\'[{{"item": "leak", "seen": "good"}}]\''
            ) from None
    if key in _FLAGS:
        if value not in ("true", "false"):
            raise ValueError(f"{key} is true or false, not {value!r}")
        return key, value == "true"
    if key.endswith(_NUMBERS):
        try:
            return key, float(value) if not value.lstrip("+-").isdecimal() else int(value)
        except ValueError:
            raise ValueError(f"{key} is a number with a point such as 0.12, not {value!r}") from None
    return key, value


def _shown(value: object) -> str:
    """What stands after a key's colon: sentences each on a line of its own, all else beside it."""
    if isinstance(value, list) and any(isinstance(one, str) and " " in one for one in value):
        return "".join(f"\n    - {one}" for one in value)
    return f" {value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)}"
