"""A bay's configuration with the files that it names, and the mistakes of all of them at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from config.errors import ConfigError, Problem
from config.method import Method
from config.profile import GaugeProfile, WireUnit
from config.settings import GaugeSettings, Settings, read_settings
from config.toml import read_toml, spelled


@dataclass(frozen=True, slots=True)
class BayFiles:
    """All that a daemon is started with. profiles: by gauge id."""

    settings: Settings
    method: Method
    profiles: dict[str, GaugeProfile]


def read_bay(path: Path, environ: Mapping[str, str]) -> BayFiles:
    """Read the configuration, its method and its gauges' profiles. Raises ConfigError with all mistakes."""
    settings = read_settings(path, environ)
    problems: list[Problem] = []
    method: Method | None = None
    try:
        method = read_toml(Path(settings.method.file), Method)
    except ConfigError as err:
        problems += err.problems
    profiles: dict[str, GaugeProfile] = {}
    read: dict[str, GaugeProfile | None] = {}
    for gauge in settings.gauge:
        if gauge.profile not in read:
            try:
                read[gauge.profile] = read_toml(Path(gauge.profile), GaugeProfile)
            except ConfigError as err:
                read[gauge.profile] = None
                problems += err.problems
        profile = read[gauge.profile]
        if profile is not None:
            profiles[gauge.id] = profile
            problems += _misfits(str(path), gauge, profile, settings)
    if problems or method is None:
        raise ConfigError(problems)
    return BayFiles(settings, method, profiles)


def _misfits(file: str, gauge: GaugeSettings, profile: GaugeProfile, settings: Settings) -> list[Problem]:
    """Where a gauge's profile does not do what the bay wants of it."""
    problems: list[Problem] = []
    unit = profile.value.unit
    turns = unit in (WireUnit.DEG, WireUnit.COUNT)
    encoder = settings.angle.gauge == gauge.id
    if encoder and not turns:
        problems.append(
            Problem(
                file,
                None,
                "angle.gauge",
                f"{gauge.id}, which gives {unit}",
                "a gauge that gives deg or count",
            )
        )
    if turns and not encoder:
        problems.append(
            Problem(
                file,
                None,
                f"gauge {gauge.id}",
                f"a profile that gives {unit}",
                "one that gives mm or in, or [angle] gauge naming it",
            )
        )
    if unit is WireUnit.COUNT and gauge.counts_per_turn is None:
        problems.append(
            Problem(
                file,
                None,
                f"gauge {gauge.id}",
                "no counts_per_turn",
                "counts_per_turn, as its profile gives counts",
            )
        )
    if unit is not WireUnit.COUNT and gauge.counts_per_turn is not None:
        found = f"counts_per_turn = {spelled(gauge.counts_per_turn)}"
        problems.append(
            Problem(
                file, None, f"gauge {gauge.id}", found, f"no counts_per_turn, as its profile gives {unit}"
            )
        )
    return problems
