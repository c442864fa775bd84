"""What configuration, profile and method state of a gauge and of the angle's source, as a sweep keeps it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal

from acquire.angle.source import TURN_UDEG
from acquire.bay.crank import CrankWatch
from acquire.bay.heard import Heard
from acquire.bay.known import Known
from acquire.errors import CommandRefusedError
from acquire.journal.events import AngleStated
from config.method import Method
from config.profile import GaugeProfile, WireUnit
from config.settings import GaugeSettings, Settings
from contract import commands
from contract.gauge import GaugeFacts
from contract.kinds import takes
from contract.terms import TYPED
from contract.units import NM_PER_MM, UDEG_PER_DEG, Unit


class Stated:
    """What is stated of the instruments of one bay."""

    def __init__(
        self,
        settings: Settings,
        in_force: Callable[[], Method],
        profiles: Mapping[str, GaugeProfile],
        known: Callable[[], Known],
        heard: Heard,
    ) -> None:
        self._angle = settings.angle
        self._in_force = in_force
        self._profiles = profiles
        self._known = known
        self._heard = heard
        self._gauges = {gauge.id: gauge for gauge in settings.gauge}

    def gauges(self, command: commands.Begin, today: date) -> tuple[GaugeFacts, GaugeFacts | None]:
        """The gauge that a sweep is begun with, and the one half a turn away. Raises CommandRefusedError
        where one of them cannot serve."""
        if command.gauge == TYPED:
            return self.typed(command.resolution_mm, command.mpe_mm), None
        opposite = None if command.opposite is None else self._connected(command.opposite, today)
        return self._connected(command.gauge, today), opposite

    def _connected(self, gauge: str, today: date) -> GaugeFacts:
        settings = self._gauges.get(gauge)
        if settings is None:
            known = ", ".join(self._gauges) or "none"
            text = f"begin: there is no gauge {gauge!r}; configured: {known}; or {TYPED}"
            raise CommandRefusedError("no-such-gauge", text)
        profile = self._profiles[settings.id]
        is_length = profile.value.unit in (WireUnit.MM, WireUnit.INCH)
        if not is_length or settings.resolution_mm is None or settings.mpe_mm is None:
            text = f"begin: {settings.id} gives no lengths of a stated accuracy; choose another gauge"
            raise CommandRefusedError("wrong-gauge", text)
        self._heard.refuse_absent(settings.id)
        due = settings.calibration_due or self._known().calibrated_until(settings.serial)
        if due is not None and due < today and self._in_force().gauges.past_due == "refuse":
            text = (
                f"begin: the calibration of {settings.id} was due on {due}, and the method takes no reading "
                "of such a gauge: choose another, or have it calibrated and its new date entered"
            )
            raise CommandRefusedError("past-due", text)
        return GaugeFacts(
            id=settings.id,
            resolution_mm=to_nm(settings.resolution_mm),
            mpe_mm=to_nm(self._known().mpe_mm(settings.serial, settings.mpe_mm)),
            calibration_due=None if due is None else due.isoformat(),
            latency_u_ns=round(profile.latency.u_s * 1e9),
            travel_mm=None if settings.travel_mm is None else to_nm(settings.travel_mm),
            unit_hidden=not profile.unit_is_shown,
        )

    def angle(self, command: commands.Begin, now_ns: int) -> AngleStated:
        """Where a sweep's angles come from. Raises CommandRefusedError where they do not come."""
        mark_u_udeg = round(self._in_force().typed.angle_u_deg * UDEG_PER_DEG)
        encoder = self._gauges.get(self._angle.gauge or "")
        if takes(command.check) == "places" or command.gauge == TYPED:
            return AngleStated(source="typed", mark_u_udeg=mark_u_udeg)
        if takes(command.check) == "lifts" and not self._watches_crank(command.gauge, encoder):
            return AngleStated(source="typed", mark_u_udeg=mark_u_udeg)
        if encoder is None:
            if self._angle.source == "dwells" and takes(command.check) == "turn":
                marks = tuple(round(mark * UDEG_PER_DEG) for mark in self._angle.marks_deg)
                return AngleStated(source="dwells", mark_u_udeg=mark_u_udeg, marks_udeg=marks)
            return AngleStated(source="marks", mark_u_udeg=mark_u_udeg)
        self._heard.refuse_absent(encoder.id)
        crank = self._heard.crank
        if crank is None:
            raise CommandRefusedError("wrong-gauge", _no_angle(encoder))
        return crank.stated(now_ns)

    def by_reading(self, command: commands.Begin) -> bool:
        """Whether each reading of a repeatability test is the value of a lift."""
        if takes(command.check) != "lifts":
            return False
        return command.gauge == TYPED or self._profiles[command.gauge].manner.by_hand

    def _watches_crank(self, gauge: str, encoder: GaugeSettings | None) -> bool:
        """Whether the encoder can tell that the crank stands: lifts need none, and a gauge with a key may
        well be a micrometer on the bench."""
        if encoder is None or self._profiles[gauge].manner.by_hand:
            return False
        return self._heard.is_connected(encoder.id)

    def typed(self, resolution_mm: Decimal | None, mpe_mm: Decimal | None) -> GaugeFacts:
        """A dial or micrometer read by eye: as given, else as the method takes one to be."""
        typed = self._in_force().typed
        resolution = typed.resolution_mm if resolution_mm is None else resolution_mm
        mpe = typed.mpe_mm if mpe_mm is None else mpe_mm
        return GaugeFacts(id=TYPED, resolution_mm=to_nm(resolution), mpe_mm=to_nm(mpe))


def _no_angle(encoder: GaugeSettings) -> str:
    return f"begin: {encoder.id} gives no angle: it needs degrees, or counts with counts_per_turn"


def encoder_stated(encoder: GaugeSettings, profile: GaugeProfile) -> AngleStated | None:
    """An encoder as its settings and profile state it; its step as its frames can show one. None where it
    gives no angle."""
    by_degrees = profile.value.unit is WireUnit.DEG
    per_turn = TURN_UDEG if by_degrees else encoder.counts_per_turn
    if per_turn is None or profile.value.unit in (WireUnit.MM, WireUnit.INCH):
        return None
    return AngleStated(
        source="encoder",
        gauge=encoder.id,
        unit=Unit.UDEG if by_degrees else Unit.COUNT,
        per_turn=per_turn,
        step=_step_udeg(profile) if by_degrees else 1,
        reversed=encoder.reversed,
        gear=encoder.gear,
        modulus=profile.value.modulus or 0,
        latency_u_ns=round(profile.latency.u_s * 1e9),
    )


def to_nm(mm: float | Decimal) -> float:
    """What is stated in mm, to the whole nanometre: as the journal keeps it."""
    return round(mm * NM_PER_MM) / NM_PER_MM


def _step_udeg(profile: GaugeProfile) -> int:
    """The last decimal that the profile's frames have, in microdegrees."""
    return max(
        1, round(abs(profile.value.scale) * UDEG_PER_DEG * Decimal(10) ** -profile.value.shown_decimals)
    )


def crank_watch(settings: Settings, profiles: Mapping[str, GaugeProfile]) -> CrankWatch | None:
    """What watches the bay's encoder; None where it has none, or one that gives no angle."""
    encoder = next((gauge for gauge in settings.gauge if gauge.id == settings.angle.gauge), None)
    stated = None if encoder is None else encoder_stated(encoder, profiles[encoder.id])
    return None if stated is None else CrankWatch(stated)
