"""The result as a document: rounded JSON of bounded size, and back."""

from __future__ import annotations

import json
from typing import Any

from contract.result import Check, Result

DOCUMENT_MAX_BYTES = 20_000
"""Brokers that come in a wheel refuse more by default; photos therefore stay out."""
MM_DECIMALS, DEG_DECIMALS, P_DIGITS = 6, 4, 6  # whole nanometres; 0.0001 degree; significant digits
FREE_TEXT = ("note", "why", "remark", "text", "reason", "reasons", "warnings", "source", "remark")
TAILS = ("items", "photos", "warnings", "attempts", "budget", "harmonics", "features", "reasons")


def encode(result: Result) -> bytes:
    """The document as canonical JSON, UTF-8: the same result gives the same bytes.

    Lengths are rounded to whole nanometres, angles to 0.0001 degree, probabilities to six digits.
    Never over `DOCUMENT_MAX_BYTES`: free text is cut short and long lists lose their tails, and the
    figures that decide stay. Raises ValueError where names and serials alone fill it.
    """
    data = as_data(result)
    document = _dump(data)
    for longest, most in ((400, 24), (160, 16), (80, 8), (24, 4), (24, 0)):
        if len(document) > DOCUMENT_MAX_BYTES:
            data = _shortened(data, longest, most)
            document = _dump(data)
    if len(document) > DOCUMENT_MAX_BYTES:
        raise ValueError(f"{len(document)} bytes of result, at most {DOCUMENT_MAX_BYTES} are allowed")
    return document


def decode(document: bytes) -> Result:
    """The result in a document. Raises pydantic's ValidationError where it is none."""
    return Result.model_validate_json(document)


def as_data(part: Result | Check) -> dict[str, Any]:
    """A result or one check as rounded JSON data, absent figures left out."""
    return dict(_rounded(part.model_dump(mode="json", by_alias=True, exclude_none=True)))


def _dump(data: dict[str, Any]) -> bytes:
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.encode(errors="replace")  # half a surrogate pair in a note is no reason to lose a result


def _rounded(value: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        done = {name: _rounded(inner, name) for name, inner in value.items()}
        for name, period in (("phase_deg", 360.0 / done.get("order", 1)), ("high_spot_deg", 360.0)):
            if done.get(name, 0.0) >= period:  # rounding up has closed the circle
                done[name] = 0.0
        return done
    if isinstance(value, list):
        return [_rounded(inner, key) for inner in value]
    if not isinstance(value, float):
        return value
    if key.startswith("p_"):
        return float(f"{value:.{P_DIGITS}g}")
    decimals = DEG_DECIMALS if key.endswith("_deg") else MM_DECIMALS
    return round(value, decimals) + 0.0  # no negative zero


def _shortened(value: Any, longest: int, most: int, key: str = "") -> Any:
    if isinstance(value, dict):
        return {name: _shortened(inner, longest, most, name) for name, inner in value.items()}
    if isinstance(value, list):
        kept = value[:most] if key in TAILS else value
        return [_shortened(inner, longest, most, key) for inner in kept]
    if isinstance(value, str) and key in FREE_TEXT and len(value) > longest:
        return value[: longest - 1] + "…"
    return value
