"""What is plugged in, listened to all at once: nothing is sent."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from config.files import shipped, shipped_names
from config.profile import GaugeProfile, SerialPort
from config.settings import GaugeSettings, Settings
from config.toml import read_toml
from drivers.connected import Connected, known_by_serial
from drivers.errors import PortError
from drivers.finding import is_meant
from ringtrue.guessing import Fit, fits
from ringtrue.unknown import UnknownLine


@dataclass(frozen=True, slots=True)
class Listened:
    """One port and what came on it. by_serial: whether its serial number alone tells it apart. gauge: which
    of the bay's it is. heard: bytes that came. trouble: why it could not be listened to."""

    connected: Connected
    by_serial: bool
    gauge: str | None = None
    fits: Sequence[Fit] = ()
    heard: bytes | None = None
    trouble: str | None = None


def listened(found: Sequence[Connected], settings: Settings | None, for_s: float) -> list[Listened]:
    """Each of them, for so long; 0: none is opened."""
    gauges = settings.gauge if settings is not None else ()
    profiles = [*_shipped(), *_own(gauges)]
    with ThreadPoolExecutor(max(len(found), 1)) as threads:
        return list(threads.map(lambda one: _listened(one, found, gauges, profiles, for_s), found))


def _listened(
    one: Connected,
    all_found: Sequence[Connected],
    gauges: Sequence[GaugeSettings],
    profiles: Sequence[tuple[str, GaugeProfile]],
    for_s: float,
) -> Listened:
    by_serial = known_by_serial(one, all_found)
    gauge = next((gauge.id for gauge in gauges if is_meant(gauge, one)), None)
    if one.kind != "serial" or one.is_taken or for_s <= 0:
        return Listened(one, by_serial, gauge)
    heard: bytes = b""
    try:
        with UnknownLine(one.device) as line:
            for port in dict.fromkeys(p.port for _, p in profiles if isinstance(p.port, SerialPort)):
                pieces = line.listen(port, for_s)
                heard = heard or b"".join(piece.data for piece in pieces)
                fitting = fits(pieces, port, profiles)
                if fitting:
                    return Listened(one, by_serial, gauge, fitting, heard)
    except PortError as error:
        return Listened(one, by_serial, gauge, trouble=str(error))
    return Listened(one, by_serial, gauge, (), heard)


def _shipped() -> Iterable[tuple[str, GaugeProfile]]:
    return [(name, read_toml(shipped("gauges", name), GaugeProfile)) for name in shipped_names("gauges")]


def _own(gauges: Iterable[GaugeSettings]) -> Iterable[tuple[str, GaugeProfile]]:
    """Those of the bay that do not ship."""
    ours = {str(shipped("gauges", name)) for name in shipped_names("gauges")}
    files = dict.fromkeys(gauge.profile for gauge in gauges if gauge.profile not in ours)
    return [(file, read_toml(Path(file), GaugeProfile)) for file in files]
