"""The pictures of a report: rim and face as polar pictures, the casing's thickness as a map."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from contract.lengths import LengthUnit
from contract.result import Result, StationPart, ThicknessCheck
from grading.evidence import Inspection
from records.pictures.casing import STATIONS_MAX, casing_svg
from records.pictures.polar import surface_svg
from records.pictures.turn import FROM_RESULT, LEGEND, NOT_ZEROED, SEEN, Drawn, drawn_surfaces
from records.report.figures import OUTCOMES, judged, short_name
from records.report.page import Block, Cell, Lines, Picture, Pictures, Section, Table

FROM_READINGS = "Drawn from the readings of the journal."
STATIONS = (
    "Casing: station 0° is at the timing mark, 12 o'clock as the damper lies with its front up; counted "
    "against the clock, as crank angles are."
)


def drawings(result: Result, evidence: Inspection | None, unit: LengthUnit) -> Section | None:
    """All that can be drawn; None where nothing was measured."""
    pictures = [_turn(drawn, result, unit) for drawn in drawn_surfaces(result, evidence, unit)]
    legend = [f"{LEGEND} {SEEN}"] if pictures else []
    if any(
        check is not None and check.angle_zero == "encoder"
        for check in (result.checks.rim, result.checks.face)
    ):
        legend.append(NOT_ZEROED)
    blocks: list[Block] = []
    check = result.checks.thickness
    if check is not None and check.stations:
        if len(check.stations) <= STATIONS_MAX:
            pictures.append(_casing(check, check.stations, unit))
            legend.append(STATIONS)
        else:
            blocks.append(_stations(check.stations, unit))
    if pictures:
        blocks = [Pictures(tuple(pictures)), Lines(tuple(legend), small=True), *blocks]
    return Section("Where it is high", tuple(blocks)) if blocks else None


def _turn(drawn: Drawn, result: Result, unit: LengthUnit) -> Picture:
    panel = drawn.panel
    check = result.checks.rim if panel.name == "rim" else result.checks.face
    assert check is not None
    outcome = OUTCOMES[check.outcome]
    alt = f"Polar picture of the {panel.name}: {judged(check, unit)} {unit.name}"
    alt += f", limit {unit.length(check.limit_mm)}, {outcome}"
    caption = ""
    if check.high_spot_deg is not None:
        at = f"{check.high_spot_deg:.0f}°"
        alt += f"; high spot at crank angle {at}"
        caption = f"High spot at {at}: bar to this angle and the high spot is under the plunger. "
    svg = surface_svg(replace(panel, name=short_name(panel.name), outcome=outcome, figures=()), title=alt)
    return Picture(svg, alt, caption + (FROM_READINGS if drawn.of_readings else FROM_RESULT))


def _casing(check: ThicknessCheck, stations: tuple[StationPart, ...], unit: LengthUnit) -> Picture:
    heading = f"{short_name('thickness')}: {OUTCOMES[check.outcome]}"
    title = f"Map of the casing's thickness, {unit.name}: " + "; ".join(
        f"station {one.station_deg:g}°: outer {unit.number(one.outer_mm)}, inner {unit.number(one.inner_mm)}"
        for one in stations
    )
    caption = f"Thickness, {unit.name}: at each station the outer reading outside, the inner one inside."
    if check.wedge_mm is not None and check.wedge_deg is not None:
        caption += f" Wedge {unit.length(check.wedge_mm)}, thick at {check.wedge_deg:.0f}°."
    return Picture(casing_svg(stations, unit, heading=heading, title=title), title, caption)


def _stations(stations: tuple[StationPart, ...], unit: LengthUnit) -> Table:
    columns = ("Station", f"Outer, {unit.name}", f"Inner, {unit.name}", f"Taper, {unit.name}")
    return Table("Thickness at each station", columns, tuple(_rows(stations, unit)), (1.0, 1.0, 1.0, 1.0))


def _rows(stations: tuple[StationPart, ...], unit: LengthUnit) -> Iterator[tuple[Cell, ...]]:
    for part in stations:
        taper = unit.number(part.taper_mm, sign="+")
        figures = (f"{part.station_deg:g}°", unit.number(part.outer_mm), unit.number(part.inner_mm), taper)
        yield tuple(map(Cell, figures))
