"""Dwells of the bench that are timed: a penetrant's, a soak's. They outlive a restart, as events do."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from config.method import ItemRule, Method
from contract.live import AskedPart, TimerPart
from contract.terms import ObservedName, Scope

ACROSS = "timed across a restart, by the wall clock"
"""What is noted of a dwell whose beginning and end no single clock has seen."""


@dataclass(slots=True)
class Dwell:
    """begun, ended: by the bay's clock, see `InspectionState.moment`. across: a restart lies between them."""

    begun: datetime
    ended: datetime | None = None
    across: bool = False

    def elapsed_s(self, now: datetime) -> float:
        """How long it lasts by now, or lasted; never below 0."""
        return max(0.0, ((self.ended or now) - self.begun).total_seconds())

    def elapsed_min(self, now: datetime) -> float:
        """The same in minutes, to the hundredth, never rounded up: 4.999 is not yet 5."""
        return math.floor(self.elapsed_s(now) / 60 * 100) / 100


Dwells = dict[tuple[ObservedName, str], Dwell]


def rule_of(method: Method, check: ObservedName, item: str) -> ItemRule | None:
    """What the method says of an item; None where it has none such."""
    rules = method.observed.get(check)
    return next((rule for rule in rules.item if rule.id == item), None) if rules is not None else None


def shown(dwells: Dwells, method: Method, now: datetime) -> tuple[TimerPart, ...]:
    """As `live` tells them."""
    parts: list[TimerPart] = []
    for (check, item), dwell in dwells.items():
        rule = rule_of(method, check, item)
        parts.append(
            TimerPart(
                check=check,
                item=item,
                text=rule.text if rule is not None else "",
                elapsed_s=int(dwell.elapsed_s(now)),
                ended=dwell.ended is not None,
                least_min=rule.least if rule is not None else None,
                most_min=rule.most if rule is not None else None,
            )
        )
    return tuple(parts)


def asked(method: Method, scope: Scope) -> tuple[AskedPart, ...]:
    """The items of the checks that are required which are recorded with a figure."""
    return tuple(
        AskedPart(check=check, item=rule.id, figure=rule.figure, least=rule.least, most=rule.most)
        for check, rules in method.observed.items()
        if check in method.required_checks(scope)
        for rule in rules.item
        if rule.figure is not None
    )
