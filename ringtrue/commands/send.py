"""`ringtrue send`: one command to the bay's daemon, and its reply."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

EXAMPLE = """\
exit: 0 done; 1 refused; 2 usage; 3 no answer.

commands and their arguments (in brackets: may be left out):
  open     engine damper scope=on-engine|bench|both [inspection] [family=viscous|rubber]
           [construction=rolled|welded] [rating_kw]
           [distance_km] [hours_h] [work_order]
  begin    check=rim|face|thickness|lifts gauge=ID|typed [radius_mm] (face)
           [resolution_mm] [mpe_mm] (typed) [turns=2] (rim, face) [opposite=ID] (face:
           a second gauge, half a turn away)
  mark     [angle_deg] [sure=true]: the crank stands at the next mark, or at this
           angle; sure: it was turned since the last, although nothing shows it
           angle_deg at_s [check=rim|face]: answers which stop was at this mark
  zero                         the crank stands at the timing mark: here is 0 degrees
  record   check=visual|visual-bench|penetrant|warm-leak items=JSON
           angle_deg value_mm [low_mm] [high_mm]: a dial's reading, in a sweep begun
           with typed; low, high: what the needle showed since the stop before
           check=thickness station_deg radius=outer|inner value_mm, or radius=zero
           value_mm: what the micrometer shows closed, or on its setting standard
           check=lifts value_mm: after a lift, in a test begun with typed
           replace=true corrects the latest value typed there, or the last lift
  time     check=penetrant|warm-leak item=ID [stop=true]: its dwell begins now, or ends;
           recorded then without time_min
  photo    as `ringtrue photo` sends it, which keeps the picture first
  end, cancel  [check]: all sweeps that run, or this one; cancelled, it does not count
  close    inspection
  abandon  inspection [sure=true]: sure where it was closed with replace or measure-again,
           which stands all the same
  sign     inspection name [decision=keep|replace|measure-again remark] [sure=true]:
           a decision that is not the verdict says why; sure where it does not end in keep
  correct  inspection name why [engine] [damper] [construction] [distance_km] [hours_h]
           [work_order] [remark]: of a signed inspection what was written down wrong,
           as it should be; who stands by it, and why
  begin, mark, zero, end, cancel, record, time  [inspection]: refused where another is open
  resend   since=2026-03-02T06:00:00Z: publish and record results from then on again

examples:
  ringtrue send open engine=GQ-E-2207 damper=GQ-D-0815 scope=on-engine
  ringtrue send begin check=rim gauge=indicator-1
  ringtrue send record check=visual items='[{"item":"leak","seen":"good"}]'
  ringtrue send record angle_deg=45 value_mm=0.213 replace=true
  ringtrue send time check=penetrant item=penetrant-dwell
  ringtrue send sign inspection=I-1 name='R. Example'
  ringtrue send correct inspection=I-1 name='R. Example' why='misread the plate' engine=GQ-E-2208
"""

# Endings of names whose values are numbers; all other plain text stays text, serials of digits too.
_NUMBERS = ("turns", "_mm", "_deg", "_km", "_h", "_s", "_kw", "_min")
# Names whose values are true or false.
_FLAGS = ("sure", "replace", "stop")


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    from ringtrue.asking import add_options

    parser = subparsers.add_parser(
        "send",
        help="send one command to the bay and print its reply",
        description="Sends one command to the bay's daemon and waits for its reply.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("name", help="the command, as below: open, begin, mark, …")
    parser.add_argument("argument", nargs="*", metavar="KEY=VALUE", help="the command's arguments")
    add_options(parser)


def run(args: argparse.Namespace) -> int:
    """Do it."""
    import asyncio

    from ringtrue.asking import answered, ask

    try:
        arguments = dict(argument(text) for text in args.argument)
    except ValueError as err:
        print(f"ringtrue send: {err}", file=sys.stderr)
        return 2
    if args.url is not None and args.bay is None:
        print("ringtrue send: --url needs --bay SITE/NAME", file=sys.stderr)
        return 2
    return answered(asyncio.run(ask(args, args.name, arguments)), as_json=args.json)


def argument(text: str) -> tuple[str, Any]:
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
