"""What one seed stands for: an inspection, and all that goes wrong meanwhile."""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Literal, get_args

from simulators.barring import NS_PER_S
from simulators.bay import Spell, Trouble
from simulators.casing import Casing
from simulators.damper import Damper, Local
from tests.acquire.workbench import ENCODER, INDICATOR, SECOND

Kind = Literal["swept", "marked", "typed", "bench", "dwelled"]
# Share of turns by marks in which only the first and the last are pressed.
DWELLED_SHARE = 0.3
# Share of those with an encoder and both surfaces in which two indicators read both in the same turn.
ABREAST_SHARE = 0.6
Surface = Literal["rim", "face"]
Interval = tuple[int, int]

# Seconds in which trouble begins: an inspection takes 15 to 40.
LONGEST_S = 30.0
# Of so many seeds one is graded in full, the others by a stand-in: a sweep takes 0.2 s to be graded.
GRADED_EVERY = 8
# What a broker may refuse, as a part of the topic.
LEVELS = ("/event", "/result", "/reply/", "/status", "/gauge/", "/chain", "/checkpoint")


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that chance decides beforehand. Times are the loop's, in ns.

    quiet: nothing goes wrong at all. kills: the commits before (False) or after (True) which the daemon is
    killed. steps: when the wall clock jumps, and by how many seconds. lossy: chance of a connection that ends
    with a message unacknowledged; doubled, late: chances of a command to come twice, or seconds late.
    slow_s: mean seconds of work beside the loop.
    """

    seed: int
    kind: Kind
    surfaces: tuple[Surface, ...]
    damper: Damper
    casing: Casing
    period_s: float
    quiet: bool
    spells: tuple[Spell, ...]
    kills: dict[int, bool]
    reboots: bool
    away: tuple[Interval, ...]
    refused: tuple[tuple[int, int, str], ...]
    full: tuple[Interval, ...]
    records_away: tuple[Interval, ...]
    records_wiped: tuple[int, ...]
    steps: tuple[tuple[int, float], ...]
    lossy: float
    doubled: float
    late: float
    meddles: bool
    slow_s: float
    full_method: bool
    abreast: bool = False
    """Both surfaces in the same turn, under two indicators."""

    @property
    def is_graded(self) -> bool:
        """Whether sweeps are graded in full."""
        return self.seed % GRADED_EVERY == 0


def plan_of(seed: int) -> Plan:
    """The plan of a seed."""
    rng = random.Random(f"plan {seed}")
    kind: Kind = rng.choices(get_args(Kind)[:4], weights=(60, 15, 10, 15))[0]
    if kind == "marked" and random.Random(f"dwells {seed}").random() < DWELLED_SHARE:
        kind = "dwelled"
    quiet = rng.random() < 0.1

    def chance(share: float) -> bool:
        return rng.random() < share and not quiet

    def intervals(share: float, longest_s: float) -> tuple[Interval, ...]:
        number = rng.randint(1, 2) if chance(share) else 0
        return tuple(sorted(_interval(rng, longest_s) for _ in range(number)))

    gauges = [INDICATOR, ENCODER] if kind == "swept" else [INDICATOR]
    spells = []
    for gauge in gauges:
        for from_ns, to_ns in intervals(0.3, 6.0):
            spells.append(Spell(gauge, rng.choice(get_args(Trouble)), from_ns, to_ns))
    full_method = rng.random() < 0.3
    both = full_method and rng.random() < 0.6
    another = random.Random(f"abreast {seed}")
    abreast = kind == "swept" and both and another.random() < ABREAST_SHARE
    if abreast and not quiet and another.random() < 0.4:
        spells.append(Spell(SECOND, another.choice(get_args(Trouble)), *_interval(another, 6.0)))
    kills = {rng.randint(1, 45): rng.random() < 0.5 for _ in range(rng.randint(1, 3))} if chance(0.4) else {}
    return Plan(
        seed=seed,
        kind=kind,
        surfaces=("rim", "face") if both else ("rim",),
        damper=_damper(rng),
        casing=_casing(random.Random(f"casing {seed}")),
        period_s=rng.uniform(0.06, 0.2),
        quiet=quiet,
        spells=tuple(spells),
        kills=kills,
        reboots=rng.random() < 0.3,
        away=intervals(0.25, 10.0),
        refused=tuple((*span, rng.choice(LEVELS)) for span in intervals(0.25, 20.0)),
        full=intervals(0.3, 20.0),
        records_away=intervals(0.2, 10.0),
        # Not where it is killed: the store forgets with its process that it was new.
        records_wiped=(_interval(rng, 1.0)[0],) if chance(0.05) and not kills else (),
        steps=tuple((span[0], rng.uniform(-90_000, 90_000)) for span in intervals(0.25, 1.0)),
        lossy=0.03 if chance(0.2) else 0.0,
        doubled=0.3 if chance(0.4) else 0.0,
        late=0.1 if chance(0.3) else 0.0,
        meddles=chance(0.5),
        slow_s=rng.choice((0.001, 0.01, 0.3)),
        full_method=full_method,
        abreast=abreast,
    )


def _interval(rng: random.Random, longest_s: float) -> Interval:
    from_s = rng.uniform(0.0, LONGEST_S)
    return round(from_s * NS_PER_S), round((from_s + rng.uniform(0.2, longest_s)) * NS_PER_S)


def _damper(rng: random.Random) -> Damper:
    """Its run-out lies about the limit of 0.28 mm as often as far off it."""
    rim_mm, face_mm = (rng.choice((rng.uniform(0.05, 0.2), rng.uniform(0.24, 0.34))) for _ in range(2))
    dents = (Local(rng.uniform(0, 360), rng.uniform(10, 60), rng.uniform(-0.03, 0.03)),)
    return Damper(
        eccentricity_mm=rim_mm / 2,
        eccentricity_deg=rng.uniform(0, 360),
        ovality_mm=rng.uniform(0.0, 0.01),
        ovality_deg=rng.uniform(0, 360),
        rim_locals=dents if rng.random() < 0.5 else (),
        face_radius_mm=150.0,
        tilt_mrad=1000.0 * face_mm / 300.0,
        tilt_deg=rng.uniform(0, 360),
    )


def _casing(rng: random.Random) -> Casing:
    """Its spread lies about the limit of 0.25 mm as often as far off it; a part of it may be a swelling."""
    spread_mm = rng.choice((rng.uniform(0.02, 0.15), rng.uniform(0.21, 0.29), rng.uniform(0.35, 0.6)))
    swollen_mm = rng.choice((0.0, rng.uniform(0.3, 0.9) * spread_mm))
    swelling = Local(rng.choice((0.0, 90.0, 180.0, 270.0)), rng.uniform(20.0, 80.0), swollen_mm)
    return Casing(
        wedge_mm=(spread_mm - swollen_mm) / 2,
        wedge_deg=rng.uniform(0.0, 360.0),
        swelling=swelling if swollen_mm else None,
    )
