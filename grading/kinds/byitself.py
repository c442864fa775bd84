"""A sweep by itself: all that its check needs to know of it before sweeps are taken together."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields, replace
from functools import cached_property
from hashlib import sha256

import numpy as np

from config.runout import SurfaceRules
from grading.decision.decision import Decided
from grading.evidence import Sweep
from grading.kinds.facing import facing_of, float_faults
from grading.kinds.parts import SEED
from grading.kinds.refused import scatter_faults, sweep_faults
from grading.runout.agreement import agree
from grading.runout.cut import cut_faults
from grading.runout.runout import READINGS_MIN, Alone, look_at
from grading.runout.unsigned import surer_than
from grading.signs.faults import disturbances
from grading.signs.opposite import ASK
from grading.signs.prepared import Prepared, prepare
from grading.signs.steps import as_shown


class ByItself:
    """A pure function of the sweep as it came and the rules of its surface; a fit is made when it is first
    asked for, and kept.

    facing: what came of looking at it beside its second indicator. faults: why it does not count, so far as
    that needs no fit.
    """

    def __init__(self, came: Sweep, rules: SurfaceRules) -> None:
        self.came = came
        self._rules = rules
        self.facing = facing_of(as_shown(came, rules.sweep.coarser), rules)
        sweep = self.facing.sweep
        self.faults = sweep_faults(sweep, rules) + ([] if self.facing.fault is None else [self.facing.fault])
        self._prepared: Prepared | None = None
        if not self.faults and sweep.angle_deg.size >= READINGS_MIN:
            self._prepared = prepare(_placed(sweep, rules), rules.sweep)
            self.faults = disturbances(self._prepared, rules.sweep) or float_faults(
                self._prepared, self._second, self.facing, rules
            )

    @property
    def sweep(self) -> Sweep:
        """With its values as its display steps, and what the second indicator took off."""
        return self.facing.sweep

    @property
    def may_be_fitted(self) -> bool:
        """Whether `alone` is to be had."""
        return self._prepared is not None and not self.faults

    @cached_property
    def alone(self) -> Alone:
        """Its figures; only where it may be fitted."""
        assert self._prepared is not None
        return look_at(self._prepared, self._rules, seed=SEED)

    @cached_property
    def fitted_faults(self) -> list[str]:
        """Why it does not count after all."""
        figures, rules = self.alone.figures, self._rules
        return (
            [*figures.faults, *scatter_faults(self.alone, rules)]
            or surer_than(figures.fold, rules.sweep.signs.unsigned_odds)
            or cut_faults(self.alone.sweep, rules)
        )

    @cached_property
    def second(self) -> Alone | None:
        """What its second indicator read, where that counts."""
        return None if self._second is None else look_at(self._second, self._rules, seed=SEED)

    @cached_property
    def _second(self) -> Prepared | None:
        other = self.facing.other
        return None if other is None else prepare(other, self._rules.sweep)


Look = Callable[[Sweep, SurfaceRules], ByItself]
"""Looks at a sweep by itself: `ByItself`, or whoever remembers what came of it by its `fingerprint`."""


def fingerprint(sweep: Sweep, rules: SurfaceRules) -> bytes:
    """Of all that `ByItself` is a function of."""
    digest = sha256(rules.model_dump_json().encode())
    _add(digest.update, sweep)
    return digest.digest()


def apart_faults(both: ByItself, rules: SurfaceRules, decide: Callable[[Alone], Decided]) -> list[str]:
    """A second indicator that reads another figure of the face than the first: one of them stands wrong, or
    a float was seen by one alone. Not where each is over by itself, which no setting up undoes."""
    first, second = both.alone, both.second
    if second is None or agree(first, second, rules) or decide(first) == decide(second) == "over":
        return []
    return [
        f"{first.sweep.gauge.id} and {second.sweep.gauge.id} read {first.tir_mm:.3f} and "
        f"{second.tir_mm:.3f} mm of one face; {ASK}"
    ]


def over_beside(each: Iterable[ByItself], decide: Callable[[Alone], Decided]) -> str | None:
    """What is to be said of a second indicator that is over by itself; None where none is."""
    for second in (both.second for both in each):
        if second is not None and decide(second) == "over":
            return (
                f"the second indicator, {second.sweep.gauge.id}, is over by itself ({second.tir_mm:.3f} mm)"
            )
    return None


def _add(update: Callable[[bytes], None], sweep: Sweep) -> None:
    for field in fields(sweep):
        value = getattr(sweep, field.name)
        if isinstance(value, np.ndarray):
            update(f"{field.name} {value.dtype} {value.shape}".encode())
            update(np.ascontiguousarray(value).tobytes())
        elif isinstance(value, Sweep):
            update(f"{field.name}(".encode())
            _add(update, value)
            update(b")")
        else:
            update(f"{field.name} {value!r};".encode())


def _placed(sweep: Sweep, rules: SurfaceRules) -> Sweep:
    """The sweep with the method's radius where it knows none of its own."""
    return sweep if sweep.radius_mm is not None else replace(sweep, radius_mm=rules.radius_mm)
