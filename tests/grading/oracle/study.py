"""Regimes that fall short of an aim, by ringtrue and by an oracle, on the same sweeps."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, partial

import numpy as np

from contract.result import SurfaceCheck
from grading.assess import judge
from tests.grading.adverse.day import GAUGES
from tests.grading.oracle.angles import blurred
from tests.grading.oracle.contact import held, stopped
from tests.grading.oracle.dents import kept_at_least
from tests.grading.oracle.judged import Judged, judged
from tests.grading.oracle.level import MOVES, Moves, weighed
from tests.grading.oracle.noise import running
from tests.grading.oracle.presses import asked
from tests.grading.oracle.sound import Sound, sound
from tests.grading.oracle.told import Told, told
from tests.grading.oracle.turned import ODDS, turned
from tests.grading.samples import EXAMPLE

HONEST = "honest at the limit"
# Sound sweeps that may be refused.
REFUSED = 0.02


@dataclass(frozen=True, slots=True)
class Best:
    """What became of one sweep. outcome may be `invalid`; kept: how likely it is wrongly kept, where that is
    a bound and no outcome. u_mm: of its interval, where it is asked for."""

    is_over: bool
    outcome: str
    covered: bool | None
    kept: float | None = None
    u_mm: float | None = None


def _of(one: Told, found: Judged) -> Best:
    return Best(found.is_over, found.outcome, abs(found.estimate_mm - one.day.truth_mm) <= found.u_mm)


def ours(one: Told) -> Best:
    """By ringtrue."""
    check = judge(one.day.surface, [one.sweep], EXAMPLE)
    assert isinstance(check, SurfaceCheck)
    over = one.day.truth_mm > EXAMPLE.surface(one.day.surface).limit_mm
    if check.outcome == "invalid" or check.true_tir_mm is None or check.u_expanded_mm is None:
        return Best(over, "invalid", None)
    u_mm = check.u_expanded_mm
    return Best(over, check.outcome, abs(check.true_tir_mm - one.day.truth_mm) <= u_mm, u_mm=u_mm)


Ratio = Callable[[Told, Sound], float]
Oracle = Callable[[Told, np.random.Generator, int], Best]


def _contact(ratio: Ratio, one: Told, rng: np.random.Generator, sweeps: int) -> Best:
    followed = sound(one)
    if ratio(one, followed) > allowed(ratio, one.step_mm, sweeps):
        return Best(one.day.truth_mm > EXAMPLE.rim.limit_mm, "invalid", None)
    return _of(one, judged(one, followed.tirs_mm(rng, 400)))


@cache
def allowed(ratio: Ratio, step_mm: float, sweeps: int) -> float:
    """What one sound sweep in fifty of such a display exceeds."""
    number = [step for step, _ in GAUGES].index(step_mm)
    days = [told(HONEST, n) for n in range(number, sweeps, len(GAUGES))]
    return float(np.quantile([ratio(one, sound(one)) for one in days], 1 - REFUSED))


def _level(moves: Moves, one: Told, rng: np.random.Generator, _: int) -> Best:
    return _of(one, weighed(one, moves, rng))


def _turned(one: Told, rng: np.random.Generator, _: int) -> Best:
    odds, found = turned(one, rng)
    return Best(found.is_over, "invalid", None) if odds > ODDS else _of(one, found)


def _found(follow: Callable[[Told], Sound], one: Told, rng: np.random.Generator, _: int) -> Best:
    return _of(one, judged(one, follow(one).tirs_mm(rng, 400)))


def _pressed(one: Told, _rng: np.random.Generator, _: int) -> Best:
    return Best(one.day.truth_mm > EXAMPLE.rim.limit_mm, "invalid", None) if asked(one) else ours(one)


def _dents(one: Told, _rng: np.random.Generator, _: int) -> Best:
    return Best(one.day.truth_mm > EXAMPLE.rim.limit_mm, "-", None, kept_at_least(one))


BEST: dict[str, Oracle] = {
    "end of travel": partial(_contact, stopped),
    "stuck arc": partial(_contact, held),
    "stuck at a crest": partial(_contact, held),
    **{name: partial(_level, moves) for name, moves in MOVES.items()},
    "half a turn told to be one": _turned,
    "angle error 1-3 deg, untold": partial(_found, blurred),
    "readings lack around the start": partial(_found, sound),
    "correlated noise": partial(_found, running),
    "marks, pressed twice": _pressed,
    "marks, exact": _pressed,
    **dict.fromkeys(
        (
            "two dents, 60-200 readings",
            "two dents, 200-3000 readings",
            "dents 1-5 deg, 100-400 readings",
            "dents 5-15 deg at 12-36 stops",
        ),
        _dents,
    ),
}


def shares(found: Sequence[Best]) -> dict[str, float]:
    """Of these: invalid, unclear, kept (wrongly, of those over), replaced (of those within), covered."""

    def share(values: Sequence[float]) -> float:
        return float(np.mean(values)) if values else float("nan")

    return {
        "invalid": share([best.outcome == "invalid" for best in found]),
        "unclear": share([best.outcome == "unclear" for best in found]),
        "kept": share([_kept(best) for best in found if best.is_over]),
        "replaced": share([best.outcome == "over" for best in found if not best.is_over]),
        "covered": share([best.covered for best in found if best.covered is not None]),
    }


def _kept(best: Best) -> float:
    return float(best.outcome == "within") if best.kept is None else best.kept


def best_of(name: str, sweeps: int) -> list[Best]:
    """So many sweeps of a regime by its oracle."""
    rng = np.random.default_rng(7)
    return [BEST[name](told(name, n), rng, sweeps) for n in range(sweeps)]


def table(names: Sequence[str], sweeps: int) -> Iterator[str]:
    """Two lines for each regime."""
    yield f"{'':44}" + "".join(f"{column:>10}" for column in shares([]))
    for name in names:
        made = [ours(told(name, n)) for n in range(sweeps)]
        for who, found in ((name, made), ("  best possible", best_of(name, sweeps))):
            yield f"{who:44}" + "".join(f"{100 * value:10.1f}" for value in shares(found).values())
