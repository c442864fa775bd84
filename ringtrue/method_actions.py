"""`ringtrue method key`, `sign` and `publish`: a method is handed out to all bays of a site."""

from __future__ import annotations

import argparse
import asyncio
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import named_method

if TYPE_CHECKING:
    from chain.issued import Issued

KEY = """\
The key is the office's: whoever has it decides what every bay of the site grades by. Keep it off the
bays, and a copy of it where you lock things away. A bay takes methods that it has signed once its
configuration says so:

  [method]
  file = "example"               # until the first is handed out
  authority = "…"                # the public key, as printed here

exit: 0 done; 2 usage; 3 the key cannot be made or read.

example:
  ringtrue method key office.key
"""
SIGN = """\
The number goes up by one with each issue of a site, whatever the method in it: a bay never takes one
again that is not higher than the last that it took. --rollback where the version is not higher than
the one in force, or the id another. `ringtrue method diff` first shows what will change.

exit: 0 done; 2 usage; 3 method or key cannot be used, or the file is there already.

example:
  ringtrue method sign quarry-4.toml --key office.key --site greywacke --number 4 -o quarry-4.issue
"""
PUBLISH = """\
It is put on the topic ringtrue/1/SITE/method, retained: a bay that is away now has it when it comes
back. Each takes it up between two inspections and says so (topic method, log); one that is open keeps
the method that it was opened with. What the bays grade by shows in `ringtrue fleet methods`.

exit: 0 done, or it is there already; 2 usage; 3 it is no issue, a higher one is there, or the broker
cannot be reached.

example:
  ringtrue method publish quarry-4.issue --url mqtts://broker.quarry.example --username office \\
    --password-file office.pass
"""


def add_actions(actions: argparse._SubParsersAction[Any]) -> None:
    """Describe them."""
    from ringtrue.connect import add_options

    key = _action(actions, "key", "make the office's key, and print what bays are told of it", KEY)
    key.add_argument("key", type=Path, metavar="FILE", help="the private key; made where there is none")
    sign = _action(actions, "sign", "sign a method for all bays of a site", SIGN)
    sign.add_argument("method", metavar="METHOD", help="a method's file, or the name of one that ships")
    sign.add_argument("--key", type=Path, required=True, metavar="FILE", help="the office's private key")
    sign.add_argument("--site", required=True, help="whose bays, as their [bay] site says")
    sign.add_argument("--number", type=_number, required=True, help="of this issue, higher than the last")
    sign.add_argument(
        "--rollback", action="store_true", help="to a version that is not higher, or another id"
    )
    sign.add_argument("-o", type=Path, required=True, dest="output", metavar="FILE", help="the issue")
    publish = _action(actions, "publish", "hand a signed method out", PUBLISH)
    publish.add_argument("issue", type=Path, metavar="FILE", help="what `method sign` has made")
    publish.add_argument(
        "--replace-key", action="store_true", help="also where the topic holds one by another key"
    )
    add_options(publish, any_bay=True)
    for one in (key, sign, publish):
        one.add_argument("--json", action="store_true", help="print one JSON object")


def run_action(args: argparse.Namespace) -> int:
    """Do it."""
    match args.action:
        case "key":
            return _key(args)
        case "sign":
            return _sign(args)
        case _:
            return _publish(args)


def _key(args: argparse.Namespace) -> int:
    from chain.key import read_or_make

    is_new = not args.key.exists()
    public = read_or_make(args.key).public_key
    if args.json:
        print(json.dumps({"key": str(args.key), "made": is_new, "authority": public}))
        return 0
    print(f"{args.key}: {'made' if is_new else 'there already'}; in the configuration of each bay:")
    print(f'[method]\nauthority = "{public}"')
    return 0


def _sign(args: argparse.Namespace) -> int:
    from ringtrue.issuing import sign

    method = named_method(args.method, "METHOD")
    found = sign(method, args.key, args.site, args.number, args.output, rollback=args.rollback)
    _tell(args, found, "signed", "signed")
    return 0


def _publish(args: argparse.Namespace) -> int:
    from ringtrue.connect import find
    from ringtrue.issuing import publish, read_file

    found = read_file(args.issue)
    address, _ = find(args)
    is_new = asyncio.run(publish(address, found, replace_key=args.replace_key))
    _tell(args, found, "published" if is_new else "there already", "published" if is_new else "there")
    return 0


def _tell(args: argparse.Namespace, found: Issued, done: str, word: str) -> None:
    issue, method = found.issue, found.method
    named = {"id": method.id, "version": method.version, "sha256": method.sha256()}
    if args.json:
        said = {"done": word, "site": issue.site, "number": issue.number, "rollback": issue.rollback}
        print(json.dumps(said | {"method": named, "authority": issue.key}))
        return
    back = ", a rollback" if issue.rollback else ""
    print(f"{done}: number {issue.number} for {issue.site}: {method.id} {method.version}{back}")
    print(f"  method {named['sha256']}\n  by the key {issue.key}")


def _action(actions: argparse._SubParsersAction[Any], name: str, what: str, example: str) -> Any:
    return actions.add_parser(
        name,
        help=what,
        description=f"{what[0].upper()}{what[1:]}.",
        epilog=example,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text) < 2**53):
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 1 on")
    return int(text)
