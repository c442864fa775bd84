"""What `live` says: what runs at the bay, as far as it has come."""

from __future__ import annotations

from typing import Literal

from contract.terms import AngleZero, MicrometerAt, ObservedName, Radius
from contract.wire import Message, encode


class TimerPart(Message):
    """A dwell that is timed: of which item, for how long by now, and how long it must last."""

    check: ObservedName
    item: str
    text: str = ""
    elapsed_s: int
    ended: bool = False
    least_min: float | None = None
    most_min: float | None = None


class AskedPart(Message):
    """An item of a check by eye that is recorded with a figure: which, and its bounds."""

    check: ObservedName
    item: str
    figure: Literal["time_min", "temperature_c"]
    least: float | None = None
    most: float | None = None


class PlacePart(Message):
    """One place of a casing that is measured: the mean of what was read there, and how often it was read."""

    station_deg: float
    radius: Radius
    value_mm: float
    readings: int


class BesidePart(Message):
    """A sweep that runs beside the one that `live` shows, or the second gauge of its face: what `Live` says
    of that one, by the same names. opposite: it is the gauge half a turn away on the face."""

    check: str
    gauge: str
    opposite: bool = False
    turn: int | None = None
    value_mm: float | None = None
    min_mm: float | None = None
    max_mm: float | None = None
    max_deviation_mm: float | None = None
    covered_deg: float | None = None
    limit_mm: float | None = None
    closure_mm: float | None = None
    readings: int = 0
    lost: int = 0


class Live(Message):
    """The sweep that runs, as far as it has come; may run ahead of the journal's commit.

    angle_deg: crank angle within the turn, 0 ≤ angle < 360; turn: full turns since the sweep began,
    counted as barred. max_deviation_mm: max − min so far. covered_deg: of the surface. limit_mm: what
    the method allows. closure_mm: second pass minus first over the same angles. lost: readings known
    to be lost. back_deg, back_times: how far and how often the crank was barred back. next_…: the place
    that the next thickness reading is for; radius zero: its own zero; places: those that have one.
    lifts … next_step: of a repeatability test (check `lifts`), how many are taken, their standard
    deviation, and what to do next; when it has ended, repeatability_mm or a warning says what it came to,
    until something else begins. to_bar_deg: how far to bar yet until the sweep ends by itself; None where
    it does not. angle_source: where its angles come from (dwells: a person tells the start and the end of a
    turn only); angle_zero: what 0 degrees is;
    next_mark_deg: the mark to stop at next, and that the next `mark` without an angle stands for; None where
    it needs its angle, or no marks are configured. timers: dwells of the bench that are timed and not
    recorded yet, also while another check runs. beside: the sweeps that run side by side with this one, which
    was begun first; to_bar_deg and warnings are of all of them.
    asked: while nothing runs, the items that are recorded with a figure. cautions: what a person must have
    read at this step, to be shown by every display: of the check that runs; else of the inspection that is
    open, of barring where it is on an engine, and of its checks by eye of which an item is not recorded yet;
    once one on an engine is over, before the lock comes off. Figures are None where there is none yet; all
    others are when nothing runs.
    """

    inspection: str | None = None
    check: str | None = None
    gauge: str | None = None
    angle_deg: float | None = None
    angle_u_deg: float | None = None
    turn: int | None = None
    value_mm: float | None = None
    min_mm: float | None = None
    max_mm: float | None = None
    max_deviation_mm: float | None = None
    covered_deg: float | None = None
    to_bar_deg: float | None = None
    angle_source: Literal["encoder", "marks", "dwells", "typed"] | None = None
    angle_zero: AngleZero | None = None
    next_mark_deg: float | None = None
    largest_gap_deg: float | None = None
    limit_mm: float | None = None
    closure_mm: float | None = None
    readings: int = 0
    lost: int = 0
    back_deg: float | None = None
    back_times: int | None = None
    next_station_deg: float | None = None
    next_radius: MicrometerAt | None = None
    places: tuple[PlacePart, ...] = ()
    lifts: int | None = None
    lifts_wanted: int | None = None
    repeatability_mm: float | None = None
    next_step: str | None = None
    beside: tuple[BesidePart, ...] = ()
    timers: tuple[TimerPart, ...] = ()
    asked: tuple[AskedPart, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def live_payload(live: Live | None) -> bytes:
    """`Live` as JSON; None: nothing runs."""
    return encode((live or Live()).model_dump())
