"""What a trainee is given to inspect, drawn by a seed: a damper, its mounting, the base under the indicator.

It is the truth that an inspection is held against: it knows geometry and faults, and nothing of grading. How
large each fault is drawn is our own choice, with no source, where nothing else is said.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, get_args

from contract.terms import Surface
from simulators.casing import Casing, Places
from simulators.damper import Damper, Local, tir_mm
from simulators.mounting import Mounting
from simulators.plunger import EndOfTravel, Off, PlungerFault, Slip

Fault = Literal[
    "none", "eccentric", "tilted", "swollen", "dented", "leaking", "cracked",
    "end-float", "slipping-base", "plunger-off", "bolts-loose", "dirty-mounting",
]  # fmt: skip
FAULTS: tuple[Fault, ...] = get_args(Fault)
"""What may be amiss. From `end-float` on the damper is sound: what is amiss is how it is measured, or how
it sits."""

SURFACES: tuple[Surface, ...] = get_args(Surface)
# Points of a turn at which a size is fitted to a figure, and halvings until it is: to below a micrometre.
FIT_POINTS, FIT_STEPS = 360, 16
# Degrees that a base which has slipped once holds until it slips again; often enough for any training.
SLIP_AGAIN_DEG, SLIPS = 410.0, 8
# Further over than other figures, since eight places say less than a whole turn.
SWOLLEN_MORE_MM = 0.02
# What a display stays at whose plunger touches nothing.
REST_NM = 412_500.0
# Seen by eye, or shown by penetrant: the places of a crack.
CRACKED: tuple[str, ...] = ("flange", "rim", "faces", "edge")
# Where a leak shows when it is warm.
LEAKING: tuple[str, ...] = ("joint", "welds", "plugs")
NM_PER_MM = 1_000_000.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What the method allows, and where it measures thickness."""

    rim_mm: float
    face_mm: float
    thickness_mm: float
    places: Places


@dataclass(frozen=True, slots=True)
class Figures:
    """What is true of a damper, whoever measures it, in mm."""

    rim: float
    face: float
    thickness: float


@dataclass(frozen=True, slots=True)
class Specimen:
    """fault, is_far: what was drawn; far from a limit, or plain to see. damper, casing: what they are by
    themselves. mounting: as it was found. bad: by check, what is bad about the damper itself. is_oily: oil
    hides a leak until it is wiped off. plunger: what goes wrong when the indicator is first set on a surface,
    and no more once it has been set anew. slips_deg: of a base that slips, how far after it was set.
    """

    fault: Fault
    is_far: bool
    damper: Damper
    mounting: Mounting = field(default_factory=Mounting)
    casing: Casing = field(default_factory=Casing)
    bad: Mapping[str, frozenset[str]] = field(default_factory=dict)
    is_oily: bool = False
    plunger: Mapping[Surface, tuple[PlungerFault, ...]] = field(default_factory=dict)
    slips_deg: tuple[float, ...] = ()

    def figures(self, places: Places, mounting: Mounting | None = None) -> Figures:
        """True figures of the damper by itself, or as it runs on a mounting."""
        damper = self.damper if mounting is None else mounting.carries(self.damper)
        return Figures(damper.rim_tir_mm(), damper.face_tir_mm(), self.casing.spread_mm(places))

    def must_go(self, limits: Limits) -> bool:
        """Whether the damper itself is over a limit or bad to the eye: what no remedy mends."""
        true = self.figures(limits.places)
        over = true.rim > limits.rim_mm or true.face > limits.face_mm or true.thickness > limits.thickness_mm
        return over or any(self.bad.values())


def drawn(seed: str, limits: Limits, fault: Fault | None = None, *, far: bool | None = None) -> Specimen:
    """The specimen of a seed; the same one every time. fault, far: those, whatever the seed would draw."""
    rng = random.Random(f"specimen {seed}")
    drawn_fault, drawn_far, is_oily = rng.choice(FAULTS), rng.random() < 0.5, rng.random() < 0.25
    which, is_far = fault or drawn_fault, drawn_far if far is None else far
    near_limit = which == "none" and not is_far
    over = rng.uniform(0.10, 0.25) if is_far else rng.uniform(0.02, 0.04)
    damper = Damper(
        rim_radius_mm=160.0,
        eccentricity_deg=rng.uniform(0.0, 360.0),
        ovality_mm=rng.uniform(0.004, 0.010),
        ovality_deg=rng.uniform(0.0, 180.0),
        face_radius_mm=150.0,
        tilt_deg=rng.uniform(0.0, 360.0),
        face_locals=(Local(rng.uniform(0.0, 360.0), 50.0, rng.uniform(0.005, 0.012)),),
        end_float_mm=rng.uniform(0.05, 0.08),
    )
    rim_mm, face_mm = (
        limit - rng.uniform(0.03, 0.045) if near_limit else limit * rng.uniform(0.35, 0.6)
        for limit in (limits.rim_mm, limits.face_mm)
    )
    if which == "eccentric":
        rim_mm = limits.rim_mm + over
    if which == "tilted":
        face_mm = limits.face_mm + over
    damper = _running_out(damper, rim_mm, face_mm)
    casing = Casing(
        rim_mm=rng.uniform(38.0, 46.0),
        wedge_mm=limits.thickness_mm * rng.uniform(0.15, 0.25),
        wedge_deg=rng.uniform(0.0, 360.0),
    )
    sound = Specimen(which, is_far, damper, casing=casing, is_oily=is_oily)
    add = _ADD.get(which)
    return sound if add is None else add(sound, rng, limits, over)


def _running_out(damper: Damper, rim_mm: float, face_mm: float) -> Damper:
    """With the offset and the tilt that give these figures."""
    offset_mm = _fitted(lambda size: _tir_mm(replace(damper, eccentricity_mm=size).rim_mm), rim_mm)
    tilt_mrad = _fitted(lambda size: _tir_mm(replace(damper, tilt_mrad=size).face_mm), face_mm, most=20.0)
    return replace(damper, eccentricity_mm=offset_mm, tilt_mrad=tilt_mrad)


def _fitted(figure: Callable[[float], float], wanted_mm: float, most: float = 2.0) -> float:
    """The size, up to `most`, with which a figure becomes what is wanted."""
    low, high = 0.0, most
    for _ in range(FIT_STEPS):
        size = (low + high) / 2
        low, high = (size, high) if figure(size) < wanted_mm else (low, size)
    return high


def _tir_mm(surface: Callable[[float], float]) -> float:
    return tir_mm(surface, FIT_POINTS)


def _swollen(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    at_deg = rng.choice((0.0, 90.0, 180.0, 270.0)) + rng.uniform(-10.0, 10.0)

    def swollen(height_mm: float) -> Casing:
        return replace(sound.casing, wedge_deg=at_deg, swelling=Local(at_deg, 150.0, height_mm))

    height_mm = _fitted(
        lambda size: swollen(size).spread_mm(limits.places), limits.thickness_mm + over + SWOLLEN_MORE_MM
    )
    bad = {"visual-bench": frozenset({"faces"})} if sound.is_far else {}
    return replace(sound, casing=swollen(height_mm), bad=bad)


def _dented(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    depth_mm = rng.uniform(0.3, 0.5) if sound.is_far else rng.uniform(0.04, 0.06)
    dent = Local(rng.uniform(0.0, 360.0), rng.uniform(14.0, 20.0), -depth_mm)
    damper = replace(sound.damper, rim_locals=(dent,))
    return replace(sound, damper=damper, bad={"visual": frozenset({"dents"})})


def _leaking(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    bad = {"warm-leak": frozenset({rng.choice(LEAKING)})}
    return replace(sound, bad=bad | ({"visual": frozenset({"leak"})} if sound.is_far else {}))


def _cracked(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    where = frozenset({rng.choice(CRACKED)})
    return replace(sound, bad={"penetrant": where} | ({"visual-bench": where} if sound.is_far else {}))


def _end_float(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    float_mm = rng.uniform(0.30, 0.40) if sound.is_far else rng.uniform(0.15, 0.22)
    return replace(sound, damper=replace(sound.damper, end_float_mm=float_mm))


def _slipping(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    at_deg, sign = rng.uniform(120.0, 300.0), rng.choice((-1.0, 1.0))
    by_nm = sign * NM_PER_MM * (rng.uniform(0.10, 0.20) if sound.is_far else rng.uniform(0.04, 0.06))
    slips_deg = tuple(at_deg + n * SLIP_AGAIN_DEG for n in range(SLIPS))
    slips = tuple(Slip(slip_deg, by_nm) for slip_deg in slips_deg)
    return replace(sound, plunger={"rim": slips}, slips_deg=slips_deg)


def _plunger_off(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    surface = rng.choice(SURFACES)
    faults: tuple[PlungerFault, ...] = (Off(REST_NM),)
    if not sound.is_far:
        feel = sound.damper.rim_mm if surface == "rim" else sound.damper.face_mm
        turn = sorted(feel(float(angle_deg)) for angle_deg in range(360))
        faults = (EndOfTravel(low_nm=NM_PER_MM * (turn[0] + rng.uniform(0.35, 0.5) * (turn[-1] - turn[0]))),)
    return replace(sound, plunger={surface: faults})


def _bolts_loose(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    """Hanging so far to one side that the rim runs out over its limit."""
    deg = rng.uniform(0.0, 360.0)

    def hanging(play_mm: float) -> Callable[[float], float]:
        return Mounting(play_mm=play_mm, play_deg=deg).carries(sound.damper).rim_mm

    play_mm = _fitted(lambda size: _tir_mm(hanging(size)), limits.rim_mm + over)
    return replace(sound, mounting=Mounting(play_mm=play_mm, play_deg=deg))


def _dirty(sound: Specimen, rng: random.Random, limits: Limits, over: float) -> Specimen:
    """Sitting so far askew that the face wobbles over its limit."""
    deg = rng.uniform(0.0, 360.0)

    def askew(dirt_mm: float) -> Callable[[float], float]:
        return Mounting(dirt_mm=dirt_mm, dirt_deg=deg).carries(sound.damper).face_mm

    dirt_mm = _fitted(lambda size: _tir_mm(askew(size)), limits.face_mm + over)
    return replace(sound, mounting=Mounting(dirt_mm=dirt_mm, dirt_deg=deg))


_ADD: dict[Fault, Callable[[Specimen, random.Random, Limits, float], Specimen]] = {
    "swollen": _swollen,
    "dented": _dented,
    "leaking": _leaking,
    "cracked": _cracked,
    "end-float": _end_float,
    "slipping-base": _slipping,
    "plunger-off": _plunger_off,
    "bolts-loose": _bolts_loose,
    "dirty-mounting": _dirty,
}
