"""A gauge as the journal writes it: what was stated of it, its lengths in whole nanometres."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator

from contract.gauge import GaugeFacts
from contract.units import NM_PER_MM

# In the order in which they are written; what lifts said is made of the lifts anew.
_STATED = ("id", "resolution_mm", "mpe_mm", "calibration_due", "latency_u_ns", "travel_mm", "unit_hidden")
_LENGTHS = {name: f"{name.removesuffix('_mm')}_nm" for name in _STATED if name.endswith("_mm")}


def written(gauge: GaugeFacts) -> dict[str, Any]:
    """As it stands in an event's body."""
    said: dict[str, Any] = {}
    for name in _STATED:
        value = getattr(gauge, name)
        if name in _LENGTHS and value is not None:
            value = round(value * NM_PER_MM)
        said[_LENGTHS.get(name, name)] = value
    return said


def _read(body: Any) -> Any:
    """What the gauge is made of; anything but a body's own form is left to be found wrong."""
    if not isinstance(body, dict):
        return body
    read = dict(body)
    for name, key in _LENGTHS.items():
        if isinstance(nm := read.pop(key, None), int):
            read[name] = nm / NM_PER_MM
    return read


GaugeInBody = Annotated[GaugeFacts, BeforeValidator(_read)]
"""The gauge of an event, read from the event's body."""
