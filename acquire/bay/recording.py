"""What a person saw or read, as the command `record` brings it: items, a dial, a micrometer, a lift."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any, TypeVar, cast

from acquire.bay.asked import Answer, whole
from acquire.bay.inspection import InspectionState
from acquire.bay.looking import Looking
from acquire.bay.stated import Stated
from acquire.errors import CommandRefusedError
from acquire.journal.events import ZERO, Place, TypedLift, TypedRunout, TypedThickness
from acquire.journal.typed import counting, latest
from acquire.runs.abreast import Abreast
from acquire.runs.running import Running
from config.method import Method
from contract import commands
from contract.kinds import takes
from contract.terms import TYPED, ObservedName
from contract.units import NM_PER_MM, UDEG_PER_DEG

T = TypeVar("T", TypedRunout, TypedThickness, TypedLift)


class Recording:
    """The meaning of `record` at one bay; keeps nothing between two of them."""

    def __init__(self, in_force: Callable[[], Method], stated: Stated, looking: Looking) -> None:
        self._in_force = in_force
        self._stated = stated
        self._looking = looking

    def record(
        self,
        command: commands.Record,
        common: dict[str, Any],
        state: InspectionState,
        runs: Abreast,
    ) -> Answer:
        """The event and the reply's own keys. common: what the event shares with all. Raises
        CommandRefusedError."""
        if command.items is not None:
            return self._looking.record(cast(ObservedName, command.check), command.items, common, state)
        value_nm = whole(cast(Decimal, command.value_mm), NM_PER_MM)
        taken = "turn" if command.check is None else takes(command.check)
        if taken == "places":
            return self._thickness(command, common, value_nm, state, runs.first)
        # Side by side with others one at most is read by eye.
        run = runs.by_gauge(TYPED)
        if taken == "lifts":
            if run is None or takes(run.begun.check) != "lifts":
                text = f'record: a lift needs check lifts with gauge "{TYPED}"; begin it first'
                raise CommandRefusedError("out-of-order", text)
            said, _, replaces = _replaced(command, TypedLift, state, "lift", lambda _: True)
            answer = {"check": "lifts", "readings": run.readings + (not replaces)}
            return [TypedLift(**common, value_nm=value_nm, replaces=replaces)], {**answer, **said}
        if run is None or takes(run.begun.check) != "turn":
            text = f'record: a dial reading needs a run-out sweep with gauge "{TYPED}"; begin one first'
            raise CommandRefusedError("out-of-order", text)
        if command.check not in (None, run.begun.check):
            text = f"record: the {run.name} is running, not {command.check}; end it first"
            raise CommandRefusedError("out-of-order", text)
        angle = whole(cast(Decimal, command.angle_deg), UDEG_PER_DEG)
        low_nm, high_nm = _nm(command.low_mm), _nm(command.high_mm)
        where = f"angle_deg {command.angle_deg}"
        said, old, replaces = _replaced(
            command, TypedRunout, state, where, lambda e: e.angle_udeg == angle, run.begun.check
        )
        # What the needle showed stays as it was typed, unless it is given again.
        if old is not None:
            low_nm = old.low_nm if low_nm is None else low_nm
            high_nm = old.high_nm if high_nm is None else high_nm
        _refuse_crossed(value_nm, low_nm, high_nm, run.begun.gauge.resolution_nm)
        answer = {"check": run.begun.check, "readings": run.readings + (not replaces)}
        event = TypedRunout(
            **common, angle_udeg=angle, value_nm=value_nm, low_nm=low_nm, high_nm=high_nm, replaces=replaces
        )
        return [event], {**answer, **said}

    def _thickness(
        self,
        command: commands.Record,
        common: dict[str, Any],
        value_nm: int,
        state: InspectionState,
        run: Running | None,
    ) -> Answer:
        if run is not None and takes(run.begun.check) != "places":
            text = f"record: the {run.name} is running; end or cancel it first"
            raise CommandRefusedError("out-of-order", text)
        place = self._place(command)
        at = {} if place == ZERO else {"station_deg": place.station_udeg / UDEG_PER_DEG}
        where = " ".join([*(f"{key} {value:g}" for key, value in at.items()), f"radius {place.radius}"])
        gauge = run.begun.gauge if run is not None else self._stated.typed(None, None)
        said, _, replaces = _replaced(command, TypedThickness, state, where, lambda e: e.place == place)
        event = TypedThickness(**common, place=place, value_nm=value_nm, gauge=gauge, replaces=replaces)
        return [event], {"check": "thickness", **at, "radius": place.radius, **said}

    def _place(self, command: commands.Record) -> Place:
        """Where the micrometer was put: at one of the method's stations, or at its own zero."""
        if command.radius == "zero":
            return ZERO
        stations = self._in_force().thickness.stations_deg
        station_udeg = whole(cast(Decimal, command.station_deg), UDEG_PER_DEG)
        if station_udeg not in [round(station * UDEG_PER_DEG) for station in stations]:
            known = ", ".join(f"{station:g}" for station in stations)
            text = f"record: station_deg {command.station_deg} is none of the method's stations ({known})"
            raise CommandRefusedError("malformed", text)
        return Place(station_udeg=station_udeg, radius=cast(Any, command.radius))


def _replaced(
    command: commands.Record,
    kind: type[T],
    state: InspectionState,
    where: str,
    is_there: Callable[[T], bool],
    turn: str = "",
) -> tuple[dict[str, Any], T | None, int]:
    """What a correction replaces: for the reply, the reading that counted, and what the event names;
    ({}, None, 0) where the command is no correction. turn: the check that a dial is read for."""
    if not command.replace:
        return {}, None, 0
    events = state.typed_into({TypedThickness: "thickness", TypedLift: "lifts"}.get(kind, turn))
    found = latest(event for event in counting(events) if isinstance(event, kind) and is_there(event))
    if found is None:
        text = f"record: nothing was typed at {where} in this check; leave replace out, or mend the place"
        raise CommandRefusedError("nothing-to-replace", text)
    old, seq = found
    said: dict[str, Any] = {"replaced_mm": old.value_nm / NM_PER_MM}
    if isinstance(old, TypedRunout):
        for name, nm in (("replaced_low_mm", old.low_nm), ("replaced_high_mm", old.high_nm)):
            if nm is not None:
                said[name] = nm / NM_PER_MM
    return said, old, seq


def _refuse_crossed(value_nm: int, low_nm: int | None, high_nm: int | None, step_nm: int) -> None:
    """The needle's lowest and highest enclose what it shows at the stop, to within a step of the display."""
    wrong = None
    if low_nm is not None and low_nm - value_nm > step_nm:
        wrong = f"low_mm {low_nm / NM_PER_MM:g} is above value_mm {value_nm / NM_PER_MM:g}"
    elif high_nm is not None and value_nm - high_nm > step_nm:
        wrong = f"high_mm {high_nm / NM_PER_MM:g} is below value_mm {value_nm / NM_PER_MM:g}"
    if wrong is not None:
        text = f"record: {wrong}; they are the lowest and highest since the stop before, this one included"
        raise CommandRefusedError("malformed", text)


def _nm(value: Decimal | None) -> int | None:
    return None if value is None else whole(value, NM_PER_MM)
