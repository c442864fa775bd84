"""A patch of a bay with its sentences in the unit of the page that shows them; figures are the page's own."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from contract.document import as_data
from contract.lengths import UNITS, LengthUnit
from contract.result import Result
from contract.told import result_in


def in_unit(name: str) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """What makes a patch be told in this unit; of another name in mm."""
    unit = UNITS.get(name, UNITS["mm"])
    return dict if unit.name == "mm" else lambda patch: patch | _told(patch, unit)


def _told(patch: dict[str, Any], unit: LengthUnit) -> dict[str, Any]:
    told: dict[str, Any] = {}
    live, result = patch.get("live"), patch.get("result")
    if live is not None and live["warnings"]:
        told["live"] = live | {"warnings": [unit.sentence(text) for text in live["warnings"]]}
    if result is not None:
        told["result"] = as_data(result_in(Result.model_validate(result), unit))
    return told
