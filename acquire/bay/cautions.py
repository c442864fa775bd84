"""Which cautions belong to what is going on at the bay."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.bay.dwells import rule_of
from acquire.bay.inspection import InspectionState
from acquire.journal.events import Abandoned, Closed, Event, Observation, Opened, SweepBegun
from config.cautions import Step
from config.method import Method
from contract.kinds import named
from contract.terms import ObservedName, Scope


def cautions_now(method: Method, state: InspectionState) -> tuple[str, ...]:
    """What a person must have read now, each once: see `contract.live.Live`."""
    if state.state != "open":
        return _lines(method, _leaving(state.opened.header.scope))
    if state.running:
        return _lines(method, [take.begun.check for take in state.running])
    return _lines(method, _beginning(method, state.opened.header.scope, _recorded(method, state)))


def cautions_of(method: Method, events: Sequence[Event], state: InspectionState | None) -> tuple[str, ...]:
    """The cautions of the step that a command's events begin, for its reply; none where none begins."""
    last = events[-1] if events else None
    if isinstance(last, Opened):
        return _lines(method, _beginning(method, last.header.scope, set()))
    if isinstance(last, SweepBegun):
        return _lines(method, [last.check])
    if isinstance(last, Closed | Abandoned) and state is not None and state.id == last.inspection:
        return _lines(method, _leaving(state.opened.header.scope))
    return ()


def _beginning(method: Method, scope: Scope, recorded: set[ObservedName]) -> list[Step]:
    steps: list[Step] = []
    if scope != "bench":
        # The crank is barred before a sweep begins, too: to bring a mark under its pointer.
        barred = named("turn")
        steps += ["on-engine", *(check for check in method.required_checks(scope) if check in barred)]
    if scope != "on-engine":
        steps.append("bench")
    by_eye = [check for check in method.required_checks(scope) if check in method.observed]
    return steps + [check for check in by_eye if check not in recorded]


def _recorded(method: Method, state: InspectionState) -> set[ObservedName]:
    """The checks by eye of which each item was seen; a condition that was bad begins one anew."""
    seen: dict[ObservedName, set[str]] = {check: set() for check in method.observed}
    for one in state.finished:
        if not isinstance(one, Observation) or one.check not in seen:
            continue
        for item in one.items:
            rule = rule_of(method, one.check, item.item)
            if item.seen != "not seen":
                seen[one.check].add(item.item)
            if rule is not None and rule.if_bad == "invalid" and item.seen == "bad":
                seen[one.check].clear()
    return {
        check
        for check, rules in method.observed.items()
        if seen[check] >= {rule.id for rule in rules.item if rule.must_see}
    }


def _leaving(scope: Scope) -> list[Step]:
    return ["unlock"] if scope != "bench" else []


def _lines(method: Method, steps: Sequence[Step]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line for step in steps for line in method.cautions_at(step)))
