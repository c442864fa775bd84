"""Evidence for the tests of grading: surfaces whose true figures are known in closed form."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from config.method import ItemRule, Method
from contract.gauge import GaugeFacts
from contract.header import Header
from contract.item import Item
from contract.terms import Seen, Surface
from grading.evidence import F64, Attempt, Inspection, Observed, Sweep, Thickness, ThicknessReading

ROOT = Path(__file__).parents[2]
DATA: dict[str, Any] = tomllib.loads((ROOT / "config/methods/example.toml").read_text())
EXAMPLE = Method.model_validate(DATA)
FINE = GaugeFacts("indicator-1", 0.001, 0.004, "2027-06-01")
MICROMETER = GaugeFacts("micrometer-1", 0.001, 0.004)
# Common practice, no source: highest 0.27, lowest 0.08, spread 0.19 mm under 0.25 mm.
BENCH_MM = (0.27, 0.25, 0.18, 0.16, 0.08, 0.11, 0.19, 0.20)


def method(**changes: Any) -> Method:
    """The example method with some of its tables replaced."""
    return Method.model_validate({**DATA, **changes})


def offset_circle(angle_deg: F64, eccentricity_mm: float, high_deg: float) -> F64:
    """What a dial reads on a circle off its axis: first order in e / radius, TIR = 2 e."""
    return np.asarray(eccentricity_mm * np.cos(np.deg2rad(angle_deg - high_deg)))


def sweep(
    eccentricity_mm: float,
    *,
    surface: Surface = "rim",
    seed: int = 1,
    readings: int = 400,
    covered_deg: float = 366.0,
    high_deg: float = 41.0,
    noise_mm: float = 0.001,
    gauge: GaugeFacts = FINE,
    lost: int = 0,
) -> Sweep:
    """One sweep over an offset circle (or a tilted face), read in whole steps of the gauge."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0.0, covered_deg, readings)
    value = offset_circle(angle, eccentricity_mm, high_deg) + rng.normal(0.0, noise_mm, readings)
    step = gauge.resolution_mm
    shown = np.asarray(np.rint(value / step) * step)
    return Sweep(surface, angle, shown, np.full(readings, 0.05), np.arange(readings) / 20.0, gauge, lost=lost)


def thickness(
    values_mm: Sequence[float] = BENCH_MM, *, gauge: GaugeFacts = MICROMETER, rules: Method = EXAMPLE
) -> Thickness:
    """Readings at the method's places, in its order."""
    places = rules.thickness.order
    return Thickness(
        tuple(
            ThicknessReading(station, radius, round(value * 1_000_000))
            for (station, radius), value in zip(places, values_mm, strict=False)
        ),
        gauge,
    )


def observed(check: str, **seen: Seen) -> Observed:
    """Everything good, except as said (`leak="bad"`; dashes as underscores)."""
    said = {name.replace("_", "-"): value for name, value in seen.items()}
    # It is there, or the test fails.
    items = {key: rules for key, rules in EXAMPLE.observed.items() if key == check}[check].item  # type: ignore[index]
    return Observed(tuple(_item(item, said.get(item.id, "good")) for item in items))


def _item(rule: ItemRule, seen: Seen) -> Item:
    """With the figure that the method asks for, within its bounds."""
    figures: dict[str, Any] = {rule.figure: rule.least or rule.most or 60.0} if rule.figure else {}
    return Item(rule.id, seen, **figures)


HEADER: dict[str, Any] = {
    "site": "greywacke",
    "bay": "bay-2",
    "scope": "both",
    "engine": {"serial": "GQ-E-2207", "distance_km": 100_000.0, "hours_h": 5_000.0},
    "damper": {"serial": "GQ-D-0815"},
    "opened": "2026-03-02T06:00:00.000Z",
}
"""Of an invented truck of an invented quarry."""


def inspection(attempts: Mapping[str, tuple[Attempt, ...]], **changes: Any) -> Inspection:
    """An inspection of it; what changes, in its header or beside it."""
    header = HEADER | {key: changes.pop(key) for key in list(changes) if key in HEADER}
    facts: dict[str, Any] = {
        "id": "i-1",
        "revision": 9,
        "state": "closed",
        "closed": "2026-03-02T07:30:00.000Z",
        "software": "0",
        "readings_sha256": "00",
        **changes,
    }
    return Inspection(**facts, header=Header.model_validate(header), attempts=dict(attempts))


def everything_fit() -> dict[str, tuple[Attempt, ...]]:
    """One valid attempt of every check, all of them good."""
    return {
        "visual": (observed("visual"),),
        "rim": (sweep(0.09),),
        "face": (sweep(0.06, surface="face", seed=2),),
        "visual-bench": (observed("visual-bench"),),
        "thickness": (thickness(),),
        "penetrant": (observed("penetrant"),),
        "warm-leak": (observed("warm-leak"),),
    }
