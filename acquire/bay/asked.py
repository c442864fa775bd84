"""What is asked of a bay: payloads read as commands, and replies made."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from hashlib import sha256
from typing import Any

from pydantic import ValidationError

from acquire.errors import CommandRefusedError
from acquire.journal.events import Event
from contract.commands import COMMANDS, READABLE_BYTES_MAX, REQUEST_ID, Command
from contract.wire import encode

# Characters of a command's fingerprint: 64 bits.
FINGERPRINT_CHARS = 16
# Replies to requests that gave no readable id.
UNKNOWN_REQUEST = "unknown"


Answer = tuple[list[Event], dict[str, Any]]
"""What a command causes, and its reply's own keys."""


@dataclass(frozen=True, slots=True)
class Reply:
    """The answer to one request, for `reply/<request>`.

    seq: the event that must be committed before the answer may go out; 0: at once.
    """

    request: str
    payload: bytes
    seq: int = 0

    @property
    def ok(self) -> bool:
        """Whether it was done."""
        return json.loads(self.payload)["ok"] is True


def done(request: str, said: dict[str, Any], asked: str) -> bytes:
    """The payload of a reply to a command that was done. asked: its fingerprint."""
    return encode({"id": request, "ok": True, **said, "asked": asked})


def refused(request: str | None, error: CommandRefusedError, asked: str | None = None) -> Reply:
    """The reply to a command that was refused. asked: its fingerprint, where the refusal is remembered."""
    message = error.message.encode(errors="replace").decode()  # half a surrogate may have come in
    said: dict[str, Any] = {"id": request, "ok": False, "error": {"code": error.code, "message": message}}
    if asked is not None:
        said["asked"] = asked
    return Reply(request or UNKNOWN_REQUEST, encode(said))


def fingerprint(name: str, said: dict[str, Any] | None) -> str:
    """A hash of what is asked, the order of keys and the spelling of numbers aside."""
    try:
        text = json.dumps([name, _plain(said)], sort_keys=True)
    except RecursionError:  # no command is nested so deeply: `parse` refuses it
        text = name
    return sha256(text.encode()).hexdigest()[:FINGERPRINT_CHARS]


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
        return value
    sign, digits, exponent = Decimal(value).as_tuple()
    kept = "".join(map(str, digits)).rstrip("0")
    return {"number": [sign, kept, int(exponent) + len(digits) - len(kept) if kept else 0]}


def read_payload(payload: bytes) -> tuple[str | None, dict[str, Any] | None]:
    """A command's id and its object, as far as either can be read; numbers exact."""
    if len(payload) > READABLE_BYTES_MAX:
        return None, None
    try:
        said = json.loads(payload, parse_float=Decimal, parse_constant=_no_constant)
    except (ValueError, ArithmeticError, RecursionError):  # Decimal refuses an exponent of 20 digits
        return None, None
    if not isinstance(said, dict):
        return None, None
    request = said.get("id")
    readable = isinstance(request, str) and REQUEST_ID.fullmatch(request) is not None
    return (request if readable else None), said


def parse(name: str, said: dict[str, Any] | None) -> Command:
    """The command. Raises CommandRefusedError: `malformed` or `unknown-command`."""
    model = COMMANDS.get(name)
    if model is None:
        known = ", ".join(COMMANDS)
        raise CommandRefusedError("unknown-command", f"there is no command {name[:40]!r}; there are {known}")
    if said is None:
        raise CommandRefusedError(
            "malformed", f"{name}: expected a JSON object in UTF-8 with finite numbers; send it again as one"
        )
    try:
        return model.model_validate(said)
    except ValidationError as error:
        found = error.errors(include_url=False)
        places = [details["loc"] for details in found]
        # A list counts as too short once an element of it is wrong: that one is what matters.
        told = [
            details
            for details in found
            if details["type"] != "too_short"
            or not any(place[: len(details["loc"])] == details["loc"] != place for place in places)
        ]
        problems = "; ".join(_problem(details) for details in told[:3])
        raise CommandRefusedError("malformed", f"{name}: {problems}") from None
    except RecursionError:
        raise CommandRefusedError("malformed", f"{name}: nested too deeply") from None


def whole(value: Decimal, per: int) -> int:
    """A number as whole units, `per` of them in one; half of one goes to the even neighbour."""
    return int((value * per).to_integral_value(ROUND_HALF_EVEN))


_PLAIN = {"missing": "must be given", "extra_forbidden": "there is no such key; leave it out"}
# The only lists in a command are a check's items.
_LIST = 'expected a JSON list such as [{"item": "leak", "seen": "good"}]'


def _in_our_words(message: str) -> str:
    message = message.removeprefix("Value error, ")
    return re.sub(r"^(Input|String|Tuple|Value) should be ", "expected ", message)


def _problem(details: Any) -> str:
    place = ".".join(str(level) for level in details["loc"])
    message = {**_PLAIN, "tuple_type": _LIST}.get(details["type"]) or _in_our_words(str(details["msg"]))
    found = details.get("input")
    if details["type"] in (*_PLAIN, "value_error") or isinstance(found, (dict, list)):
        return f"{place}: {message}" if place else message
    return f"{place}: {message}, found {str(found)[:40]!r}"


def _no_constant(text: str) -> None:
    raise ValueError(f"{text} is no number")
