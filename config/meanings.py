"""What each key of a file means, as it stands beneath the key in its model, and the unit it is in."""

from __future__ import annotations

import ast
import inspect
import textwrap
from functools import cache

from pydantic import BaseModel

UNITS = {
    "_mm_deg": "mm per degree", "_mm": "mm", "_deg": "degrees", "_s": "s", "_share": "share of 1",
    "_u": "standard uncertainties", "_steps": "display steps", "_km": "km", "_h": "h", "_kw": "kW",
    "_days": "days", "_bytes": "bytes", "_chance": "probability", "months": "months",
    "baud": "bit/s", "rock_steps": "encoder steps",
    "time_min": "minutes", "probability": "probability", "coverage": "probability", "_spreads": "times",
    "misfit_from": "standard deviations", "small_movement": "times", "lone_scatter": "times",
    "lone_lines": "times", "still_narrow": "times", "still_wide": "times", "still_pass": "times",
    "still_pass_least": "times", "still_doubt": "times", "seen_clear": "times", "seen_luck": "times",
    "guard_r": "times", "times": "times", "misfit_back": "times", "cut_two_waves": "times",
    "cut_beyond": "times", "chance": "probability",
}  # fmt: skip
"""By how a key ends; the longest that fits."""


def unit_of(key: str) -> str:
    """By how the key ends; empty where it has none."""
    ends = [end for end in UNITS if key.endswith(end)]
    return UNITS[max(ends, key=len)] if ends else ""


def meanings(model: type[BaseModel]) -> dict[str, str]:
    """What stands beneath each key of a model, by the field's name. Raises KeyError by name where nothing
    does."""
    said: dict[str, str] = {}
    for owner in reversed(model.__mro__):
        if owner is not BaseModel and issubclass(owner, BaseModel):
            said |= _beneath(owner)
    missing = set(model.model_fields) - set(said)
    if missing:
        raise KeyError(f"{model.__name__}: say beneath {', '.join(sorted(missing))} what it means")
    return said


@cache
def _beneath(model: type[BaseModel]) -> dict[str, str]:
    """What stands beneath the keys that this model itself brings."""
    (node,) = ast.parse(textwrap.dedent(inspect.getsource(model))).body
    assert isinstance(node, ast.ClassDef)
    said: dict[str, str] = {}
    for one, beneath in zip(node.body, node.body[1:], strict=False):
        if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name):
            is_text = isinstance(beneath, ast.Expr) and isinstance(beneath.value, ast.Constant)
            # Its kind was looked at above.
            if is_text and isinstance(beneath.value.value, str):  # type: ignore[attr-defined]
                # Its kind was looked at above.
                said[one.target.id] = " ".join(beneath.value.value.split())  # type: ignore[attr-defined]
    return said
