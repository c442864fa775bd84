"""Methods that an office hands out: how one is signed, and whether a bay may take one up.

A verdict is worth what its method is worth: nothing is taken that the office's own key has not signed for
this site, and nothing that it has signed before what the bay has.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from chain.errors import AlteredError, MethodRefusedError
from chain.signing import Signing, first_mistake, read_fields, refuse_unless_signed
from config.method import Method
from contract.methods import ISSUE_MAX_BYTES, ISSUE_SCHEMA, MethodIssue

SAID_MAX = 200
"""Letters of a mistake that are told."""


@dataclass(frozen=True, slots=True)
class Issued:
    """A method with the issue that it came in, whose signature holds. message: byte for byte."""

    issue: MethodIssue
    method: Method
    message: bytes


def issued(signing: Signing, method: Method, site: str, number: int, time: str, *, rollback: bool) -> bytes:
    """The issue to be published. Raises ValueError where the method has no form that can be signed."""
    fields: Mapping[str, Any] = {
        "schema": ISSUE_SCHEMA,
        "site": site,
        "number": number,
        "rollback": rollback,
        "time": time,
        "method": method.as_data(),
    }
    message = signing.signed(fields)
    if len(message) > ISSUE_MAX_BYTES:
        raise ValueError(f"{len(message)} bytes, at most {ISSUE_MAX_BYTES} are taken")
    return message


def read_issued(message: bytes, authority: str, site: str) -> Issued:
    """An issue of that authority (its public key, hex) for that site. Raises MethodRefusedError, whose text
    says nothing that the authority has not signed."""
    if len(message) > ISSUE_MAX_BYTES:
        raise MethodRefusedError(f"{len(message)} bytes, at most {ISSUE_MAX_BYTES} are taken")
    try:
        fields = read_fields(message)
        if fields.get("key") != authority:
            raise MethodRefusedError("it is not signed by the key that [method] authority names")
        refuse_unless_signed(fields)
    except (AlteredError, KeyError, TypeError) as error:
        told = str(error) if isinstance(error, AlteredError) else "it has no signature"
        raise MethodRefusedError(told) from None
    if fields.get("schema") != ISSUE_SCHEMA:
        raise MethodRefusedError(f"it is of another kind than {ISSUE_SCHEMA}: is it a newer version's?")
    try:
        issue = MethodIssue.model_validate(fields)
        method = Method.model_validate(issue.method)
    except ValidationError as error:
        raise MethodRefusedError(
            f"{first_mistake(error)[:SAID_MAX]}; is it of a newer version than this bay's?"
        ) from None
    if issue.site != site:
        raise MethodRefusedError(f"it is for the site {issue.site}, and this is {site}")
    return Issued(issue, method, message)


def may_follow(new: Issued, kept: Issued | None, own: Method, least: int) -> None:
    """Whether an issue may be taken up. kept: the one taken up before; None: the bay has its own file's
    method, own. least: the lowest number that it takes. Raises MethodRefusedError."""
    number, method = new.issue.number, new.method
    not_below(new, least)
    if kept is not None and number <= kept.issue.number:
        before = kept.issue.number
        twice = number == before and new.message != kept.message
        told = f"its number is {number}, and {before} was taken up already"
        raise MethodRefusedError(
            f"{told}: two were signed with one number" if twice else f"{told}: it is old"
        )
    held = own if kept is None else kept.method
    if new.issue.rollback or method == held:
        return
    if method.id != held.id:
        if kept is not None:
            raise MethodRefusedError(
                f"it is {method.id} and not {held.id}, and not signed as a rollback, which another id needs"
            )
    elif not is_higher(method.version, held.version):
        raise MethodRefusedError(
            f"its version {method.version} is not higher than {held.version}, which is in force, and it is "
            "not signed as a rollback"
        )


def not_below(issued: Issued, least: int) -> None:
    """Raise MethodRefusedError where its number is below the least that a bay takes."""
    number = issued.issue.number
    if number < least:
        raise MethodRefusedError(f"its number is {number}, and [method] least is {least}: it is an old one")


def is_higher(version: str, other: str) -> bool:
    """Whether a version is higher, as people count: 2 < 10, 1.9 < 1.10, 1 < 1.1 < 1.b."""
    return _counted(version) > _counted(other)


def _counted(version: str) -> list[tuple[int, int, str]]:
    parts = re.findall(r"\d+|[A-Za-z]+", version)
    return [(0, int(part), "") if part.isdigit() else (1, 0, part) for part in parts]
