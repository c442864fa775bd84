"""Which method a bay may take up: every way in which a looser one could slip in is refused."""

from __future__ import annotations

import json
from typing import Any

import pytest

from chain.errors import MethodRefusedError
from chain.issued import Issued, is_higher, issued, may_follow, read_issued
from chain.signing import canonical
from config.files import shipped
from config.method import Method
from config.toml import read_toml
from contract.methods import ISSUE_MAX_BYTES
from tests.chain.signers import signer

OFFICE, OTHER = signer("office"), signer("another office")
SITE = "greywacke"
EXAMPLE = read_toml(shipped("methods", "example"), Method)


def method(version: str = "1", limit_mm: float = 0.28, **changes: Any) -> Method:
    rim = EXAMPLE.rim.model_copy(update={"limit_mm": limit_mm})
    return EXAMPLE.model_copy(update={"version": version, "rim": rim, **changes})


def issue(number: int, version: str = "2", by: Any = OFFICE, **more: Any) -> bytes:
    rollback, site = more.pop("rollback", False), more.pop("site", SITE)
    return issued(by, method(version, **more), site, number, "2026-11-26T08:00:00.000Z", rollback=rollback)


def read(message: bytes) -> Issued:
    return read_issued(message, OFFICE.public_key, SITE)


def altered(message: bytes, **changes: Any) -> bytes:
    """As whoever may publish but not sign would have it."""
    return canonical(json.loads(message) | changes)


def test_what_was_signed_comes_back_whole() -> None:
    found = read(issue(7, "2", limit_mm=0.25))
    assert found.method == method("2", 0.25)
    assert found.method.sha256() == method("2", 0.25).sha256()
    assert (found.issue.number, found.issue.site, found.issue.rollback) == (7, SITE, False)


def test_the_signature_is_that_of_another_implementation() -> None:
    """Ed25519 (RFC 8032) over the form of RFC 8785 of all other keys: made again by hand, and checked by the
    library itself."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    fields = json.loads(issue(7))
    signature = bytes.fromhex(fields.pop("signature"))
    plain = json.dumps(fields, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    # RFC 8785 has whole numbers without a fraction, as ECMAScript does; Python writes 25.0 as it was read.
    assert json.loads(plain) == fields
    Ed25519PublicKey.from_public_bytes(bytes.fromhex(OFFICE.public_key)).verify(signature, canonical(fields))


LOOSER = method("3", 0.5).as_data()


@pytest.mark.parametrize(
    ("message", "why"),
    [
        (b"", "not in the form"),
        (b"nonsense", "not in the form"),
        (b"[]", "not in the form"),
        (b'{"key":1}', "not signed by the key"),
        (canonical({"key": OFFICE.public_key}), "no signature"),
        (canonical({"key": OFFICE.public_key, "signature": 5}), "no signature"),
        (canonical({"key": OFFICE.public_key, "signature": "00" * 64}), "signature does not hold"),
        (altered(issue(7), method=LOOSER), "signature does not hold"),
        (altered(issue(7), number=8), "signature does not hold"),
        (altered(issue(7), rollback=True), "signature does not hold"),
        (altered(issue(7), site=SITE, more="x"), "signature does not hold"),
        (altered(issue(7, by=OTHER), key=OFFICE.public_key), "signature does not hold"),
        (issue(7, by=OTHER), "not signed by the key"),
        (issue(7, site="slate"), "it is for the site slate"),
        (json.dumps(json.loads(issue(7)), indent=1).encode(), "not in the form"),
        (issue(7).replace(b'"number":7', b'"number":7,"number":8'), "not in the form"),
        (b" " * (ISSUE_MAX_BYTES + 1), "bytes, at most"),
        (OFFICE.signed({"schema": "ringtrue/method-issue/2", "number": 9}), "newer version"),
        (OFFICE.signed({"schema": "ringtrue/checkpoint/1", "site": SITE, "size": 1}), "another kind"),
    ],
)
def test_what_the_office_has_not_signed_for_this_site_is_no_method(message: bytes, why: str) -> None:
    with pytest.raises(MethodRefusedError, match=why):
        read(message)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"limits": 1}, "limits"),
        ({"schema": "ringtrue/method/2"}, "schema"),
        ({"version": 2}, "version"),
        ({"decision": {"rule": "simple-acceptance", "guard_r": 1.0}}, "guard band"),
    ],
)
def test_a_signed_method_that_this_version_would_not_read_from_a_file_is_refused(
    change: dict[str, Any], why: str
) -> None:
    said = json.loads(issue(7))
    fields = {key: value for key, value in said.items() if key not in ("key", "signature")}
    message = OFFICE.signed(fields | {"method": said["method"] | change})
    with pytest.raises(MethodRefusedError, match=why):
        read(message)


def test_an_older_issue_is_never_taken_again() -> None:
    """A replay: the looser one of before, whole and signed."""
    loose, strict = read(issue(3, "2", limit_mm=0.5)), read(issue(4, "3", limit_mm=0.25))
    may_follow(loose, None, method(), 1)
    may_follow(strict, loose, method(), 1)
    with pytest.raises(MethodRefusedError, match="number is 3, and 4 was taken up already"):
        may_follow(loose, strict, method(), 1)
    back = read(issue(3, "1", rollback=True))  # nor a rollback of before
    with pytest.raises(MethodRefusedError, match="it is old"):
        may_follow(back, strict, method(), 1)


def test_two_issues_of_one_number_are_told_apart() -> None:
    """Two people at the office, or two copies of its key."""
    kept = read(issue(4, "3"))
    with pytest.raises(MethodRefusedError, match="two were signed with one number"):
        may_follow(read(issue(4, "4")), kept, method(), 1)


def test_a_version_that_is_not_higher_needs_a_rollback() -> None:
    kept = read(issue(4, "10"))
    for version in ("9", "10", "2"):
        with pytest.raises(MethodRefusedError, match="not higher than 10"):
            may_follow(read(issue(5, version, limit_mm=0.5)), kept, method(), 1)
        may_follow(read(issue(5, version, limit_mm=0.5, rollback=True)), kept, method(), 1)
    may_follow(read(issue(5, "11")), kept, method(), 1)
    may_follow(read(issue(5, "10")), kept, method(), 1)  # the same again


def test_another_id_needs_a_rollback_once_one_was_handed_out() -> None:
    other = method("1", id="quarry")
    new = read(issued(OFFICE, other, SITE, 5, "2026-11-26T08:00:00.000Z", rollback=False))
    may_follow(new, None, method("3"), 1)
    with pytest.raises(MethodRefusedError, match="it is quarry and not example"):
        may_follow(new, read(issue(4)), method(), 1)


def test_the_bay_s_own_file_is_not_undercut_by_an_older_version() -> None:
    with pytest.raises(MethodRefusedError, match="version 2 is not higher than 3"):
        may_follow(read(issue(1, "2", limit_mm=0.5)), None, method("3"), 1)


def test_a_new_bay_takes_none_below_its_least_number() -> None:
    with pytest.raises(MethodRefusedError, match="least is 4"):
        may_follow(read(issue(3, "2", limit_mm=0.5)), None, method(), 4)
    may_follow(read(issue(4, "2")), None, method(), 4)


@pytest.mark.parametrize(
    ("higher", "lower"),
    [
        ("2", "1"),
        ("10", "9"),
        ("1.10", "1.9"),
        ("1.1", "1"),
        ("2026-11", "2026-2"),
        ("1b", "1a"),
        ("1.b", "1.2"),
    ],
)
def test_versions_are_counted_as_people_do(higher: str, lower: str) -> None:
    assert is_higher(higher, lower)
    assert not is_higher(lower, higher)
    assert not is_higher(higher, higher)
