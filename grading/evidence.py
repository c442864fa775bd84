"""What a grade is made from: plain data, as the journal's fold or a file of readings gives it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from contract.corrections import Correction
from contract.gauge import GaugeFacts
from contract.header import Header
from contract.item import Item, Photo
from contract.terms import AngleZero, Decision, Radius, State, Surface

F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class AngleSlip:
    """An encoder lost its place: by how much, give or take what, somewhere between which angles; degrees."""

    lost_deg: float
    give_deg: float
    since_deg: float
    until_deg: float


@dataclass(frozen=True, slots=True)
class Delay:
    """By how much later than stated the gauge's readings came, against the encoder's; the angles go by it.

    u_s: its standard uncertainty; stated_u_s: of what is stated; contradicts: the two do not fit together.
    """

    later_s: float
    u_s: float
    stated_u_s: float
    contradicts: bool


@dataclass(frozen=True, slots=True)
class StopQuestion:
    """Which stop was at a mark (degrees as barred), of those that may have been: (seconds after the first
    press, seconds long) each, in order. said: the same in words, with the way to answer it."""

    mark_deg: float
    stops: tuple[tuple[float, float], ...]
    said: str


@dataclass(frozen=True, slots=True)
class Sweep:
    """One turn of the crank under one gauge on one surface.

    angle_deg: shape (n,), unwrapped crank angle as barred: it may pass 360 and go back.
    value_mm: shape (n,), plunger in positive. angle_u_deg: shape (n,), standard uncertainty of
    each angle. time_s: shape (n,), from the first reading; all zero where not known.
    radius_mm: where a face is read, the distance of the plunger from the axis.
    lost: readings known to be lost within the sweep. interrupted: spells in which the gauge or
    the encoder was away, one plain phrase each. low_mm, high_mm: shape (n,), the lowest and highest that
    the needle was seen to show between the stop before and this one, NaN where nobody looked; None where
    nobody did at all. opposite: what a second gauge read of the same face meanwhile, half a turn away, by the
    same crank angles. clock_s: when time_s is 0, by the clock of whatever was read side by side with it.
    float_u_mm: standard uncertainty of the end float that was taken off. breaks_s: when the gauge went away
    and came back, as time_s. slips: where the encoder lost its place, by its index. delay: what the readings
    say of gauge and encoder together, None where they say nothing. angle_zero: what 0 degrees is; None: not
    told. angles_run_on: whether the angles' errors run on from reading to reading, as between marks, rather
    than being each reading's own; None where their uncertainties must tell. stood_mm: the highest or lowest
    value, where the readings stood still there and the crank was taken to stand: a plunger that is held, or
    at the end of its travel, looks the same. question: what a person must answer before its angles are known.
    put_right: what was typed first and counts no more: angle, that figure, and what it was put right to, mm.
    eye_mm: a step that an eye reads, where what was written down shows a finer one and nobody stated that.
    """

    surface: Surface
    angle_deg: F64
    value_mm: F64
    angle_u_deg: F64
    time_s: F64
    gauge: GaugeFacts
    radius_mm: float | None = None
    lost: int = 0
    interrupted: tuple[str, ...] = ()
    low_mm: F64 | None = None
    high_mm: F64 | None = None
    opposite: Sweep | None = None
    clock_s: float = 0.0
    float_u_mm: float = 0.0
    breaks_s: tuple[float, ...] = ()
    slips: tuple[AngleSlip, ...] = ()
    delay: Delay | None = None
    angle_zero: AngleZero | None = None
    angles_run_on: bool | None = None
    stood_mm: float | None = None
    question: StopQuestion | None = None
    put_right: tuple[tuple[float, float, float], ...] = ()
    eye_mm: float | None = None


@dataclass(frozen=True, slots=True)
class ThicknessReading:
    """One micrometer reading of the casing; rows at the same place are replicates."""

    station_deg: float
    radius: Radius
    value_nm: int


@dataclass(frozen=True, slots=True)
class Thickness:
    """All readings of one thickness check, in the order taken.

    zero_asked: it was taken where the zero can be read. zero_before_nm, zero_after_nm: what the micrometer
    showed closed, or on its setting standard; None where nobody looked. zero_between_nm: what it showed there
    once the casing was begun, beside zero_after_nm. beyond_nm: readings of a key that no place was left for.
    put_right: what was typed first at places where it was corrected; it counts no more. beside: other gauges
    that some of it was read with. lost: readings that never came, between others that did.
    """

    readings: tuple[ThicknessReading, ...]
    gauge: GaugeFacts
    zero_asked: bool = False
    zero_before_nm: int | None = None
    zero_after_nm: int | None = None
    zero_between_nm: tuple[int, ...] = ()
    beyond_nm: tuple[int, ...] = ()
    put_right: tuple[ThicknessReading, ...] = ()
    beside: tuple[GaugeFacts, ...] = ()
    lost: int = 0


@dataclass(frozen=True, slots=True)
class Observed:
    """One pass of a check done by eye; an item looked at twice counts as last seen."""

    items: tuple[Item, ...]
    photos: tuple[Photo, ...] = ()


Attempt = Sweep | Thickness | Observed


@dataclass(frozen=True, slots=True)
class Inspection:
    """All that a result is a function of, beside the method.

    attempts: per check name, in the order they were finished; cancelled ones are not in it. dropped: what
    sweeps that were cancelled had shown from lowest to highest, mm, per check name. alike: per check name the
    inspection whose typed readings are, one by one, those of this one.
    revision: counts the events that can change a result. All times RFC 3339, UTC.
    """

    id: str
    revision: int
    state: State
    header: Header
    closed: str | None = None
    signed: str | None = None
    signed_by: str | None = None
    decision: Decision | None = None
    remark: str | None = None
    corrections: tuple[Correction, ...] = ()
    software: str = ""
    readings_sha256: str = ""
    method_sha256: str = ""
    attempts: dict[str, tuple[Attempt, ...]] = field(default_factory=dict)
    dropped: dict[str, tuple[float, ...]] = field(default_factory=dict)
    alike: dict[str, str] = field(default_factory=dict)
