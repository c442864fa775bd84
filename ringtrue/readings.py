"""Files of readings: see `tables` for how they may be written.

`rim` and `face`: columns angle_deg,value_mm and optionally time_s, low_mm, high_mm; of a face under two
indicators also indicator. `thickness`: columns station_deg,radius,value_mm. The first mistake refuses the
file, in one line that says where.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from config.errors import Problem
from contract.gauge import GaugeFacts
from contract.terms import Radius, Surface
from contract.units import NM_PER_MM
from grading.evidence import F64, Sweep, Thickness, ThicknessReading
from ringtrue.tables import VALUE_MAX_MM, ReadingsError, Row, Table, read_table, shown

__all__ = ["ReadingsError", "read_sweep", "read_thickness"]

ANGLE_MAX_DEG = 360_000
"""A thousand turns."""
TIME_MAX_S = 1e9
# A whole number of nanometres, read as millimetres into a float and back, is off by less.
ROUNDING_NM = 1e-3

Gauge = Callable[[int], GaugeFacts]
"""The gauge's facts, given the step that all readings are multiples of, nm."""


def read_sweep(
    path: Path,
    surface: Surface,
    *,
    gauge: Gauge,
    angle_u_deg: float,
    radius_mm: float | None = None,
) -> Sweep:
    """A sweep from its file. angle_u_deg: standard uncertainty of every angle. radius_mm: of a face, where
    it is known.

    Raises ReadingsError where the file is not as it should be, OSError where it cannot be read.
    """
    may = ("time_s", "low_mm", "high_mm", *(("indicator",) if surface == "face" else ()))
    table = read_table(path, ("angle_deg", "value_mm"), may, check=surface)
    if "indicator" in table.header:
        return _of_two(table, gauge, angle_u_deg, radius_mm)
    return _plain(table, surface, gauge, angle_u_deg, radius_mm) or _row_by_row(
        table.rows(), surface, gauge, angle_u_deg, radius_mm
    )


def _of_two(table: Table, gauge: Gauge, angle_u_deg: float, radius_mm: float | None) -> Sweep:
    """A face under two indicators, half a turn apart: each row says whose it is."""
    of: dict[str, list[Row]] = {"first": [], "second": []}
    for row in table.rows():
        name = row.cells["indicator"]
        if name not in of:
            row.refuse("indicator", shown(name), "first or second, which stands half a turn further on")
        of[name].append(row)
    missing = next((name for name, rows in of.items() if not rows), None)
    if missing is not None:
        expected = "rows of both, first and second; with one indicator leave the column out"
        raise ReadingsError(
            Problem(str(table.path), table.line, "indicator", f"none of the {missing}", expected)
        )
    first, second = (_row_by_row(iter(rows), "face", gauge, angle_u_deg, radius_mm) for rows in of.values())
    first = replace(first, gauge=replace(first.gauge, id="first"))
    return replace(first, opposite=replace(second, gauge=replace(second.gauge, id="second")))


def _plain(
    table: Table, surface: Surface, gauge: Gauge, angle_u_deg: float, radius_mm: float | None
) -> Sweep | None:
    """The sweep of a file that holds nothing but numbers as they should be; None of any other."""
    found = table.numbers()
    if found is None or not found["angle_deg"] or not {*found} <= {"angle_deg", "value_mm", "time_s"}:
        return None
    angle, value = np.array(found["angle_deg"]), np.array(found["value_mm"])
    time = np.array(found["time_s"]) if "time_s" in found else np.zeros(angle.size)
    nm = np.rint(value * NM_PER_MM) + 0.0  # which makes 0 of -0
    if max(np.abs(angle).max() / ANGLE_MAX_DEG, np.abs(value).max() / VALUE_MAX_MM) > 1:
        return None
    # Finer than a nanometre is rounded as it is written, not as a float has it.
    if np.abs(value * NM_PER_MM - nm).max() > ROUNDING_NM:
        return None
    if np.abs(time).max() > TIME_MAX_S or (np.diff(time) < 0).any():
        return None
    facts = gauge(int(np.gcd.reduce(nm.astype(np.int64))))
    u = np.full(angle.size, angle_u_deg)
    return Sweep(surface, angle, nm / NM_PER_MM, u, time - time[0], facts, radius_mm)


def _row_by_row(
    rows: Iterator[Row], surface: Surface, gauge: Gauge, angle_u_deg: float, radius_mm: float | None
) -> Sweep:
    angles: list[float] = []
    values: list[int] = []
    times: list[float] = []
    seen: list[tuple[Row, int | None, int | None]] = []
    for row in rows:
        angles.append(row.number("angle_deg", ANGLE_MAX_DEG, "an angle in degrees"))
        values.append(row.length_nm("value_mm"))
        if "time_s" in row.cells:
            time = row.number("time_s", TIME_MAX_S, "a time in seconds")
            if times and time < times[-1]:
                row.refuse("time_s", f"{time:g} after {times[-1]:g}", "times in the order of the readings")
            times.append(time)
        if "low_mm" in row.cells or "high_mm" in row.cells:
            seen.append((row, _seen_nm(row, "low_mm"), _seen_nm(row, "high_mm")))
    n = len(values)
    facts = gauge(math.gcd(*values))
    for (row, low, high), value in zip(seen, values, strict=bool(seen)):
        _refuse_crossed(row, low, value, high, facts.resolution_mm)
    return Sweep(
        surface=surface,
        angle_deg=np.array(angles, dtype=np.float64),
        value_mm=np.array(values, dtype=np.float64) / NM_PER_MM,
        angle_u_deg=np.full(n, angle_u_deg),
        time_s=_from_zero(times) if times else np.zeros(n),
        gauge=facts,
        radius_mm=radius_mm,
        low_mm=_where_seen([low for _, low, _ in seen]),
        high_mm=_where_seen([high for _, _, high in seen]),
        clock_s=times[0] if times else 0.0,
    )


def read_thickness(path: Path, *, gauge: Gauge) -> Thickness:
    """Thickness readings from their file; otherwise as `read_sweep`."""
    readings = []
    for row in read_table(path, ("station_deg", "radius", "value_mm"), check="thickness").rows():
        station = row.number("station_deg", ANGLE_MAX_DEG, "an angle in degrees") % 360.0
        readings.append(ThicknessReading(station, _radius(row), row.length_nm("value_mm")))
    return Thickness(tuple(readings), gauge(math.gcd(*(r.value_nm for r in readings))))


def _from_zero(times: list[float]) -> F64:
    seconds = np.array(times, dtype=np.float64)
    return np.asarray(seconds - seconds[0])


def _seen_nm(row: Row, column: str) -> int | None:
    """What the needle showed between stops; an empty cell: nobody looked."""
    return row.length_nm(column) if row.cells.get(column) else None


def _where_seen(seen: list[int | None]) -> F64 | None:
    """In mm, NaN where nobody looked; None where nobody did at all."""
    if all(nm is None for nm in seen):
        return None
    return np.array([np.nan if nm is None else nm / NM_PER_MM for nm in seen], dtype=np.float64)


def _refuse_crossed(row: Row, low: int | None, value: int, high: int | None, step_mm: float) -> None:
    """The needle's lowest and highest enclose what it shows at the stop, to within a step of the display."""
    step_nm = round(step_mm * NM_PER_MM)
    if low is not None and low - value > step_nm:
        row.refuse("low_mm", row.cells["low_mm"], f"at most value_mm, {row.cells['value_mm']}")
    if high is not None and value - high > step_nm:
        row.refuse("high_mm", row.cells["high_mm"], f"at least value_mm, {row.cells['value_mm']}")


def _radius(row: Row) -> Radius:
    text = row.cells["radius"]
    if text == "outer":
        return "outer"
    if text != "inner":
        row.refuse("radius", shown(text), "outer or inner")
    return "inner"
