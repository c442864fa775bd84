"""A bay's configuration with the files that it names, and the mistakes of all of them at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from config.errors import ConfigError, Problem
from config.lines import key_lines
from config.method import Method
from config.profile import GaugeProfile, WireUnit
from config.settings import GaugeSettings, Settings, read_settings
from config.sharing import Said, doubled, users
from config.toml import Loc, read_toml, spelled


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
    for n, gauge in enumerate(settings.gauge):
        if gauge.profile not in read:
            try:
                read[gauge.profile] = read_toml(Path(gauge.profile), GaugeProfile)
            except ConfigError as err:
                read[gauge.profile] = None
                problems += err.problems
        profile = read[gauge.profile]
        if profile is not None:
            profiles[gauge.id] = profile = _of_this_one(gauge, profile)
            problems += at_lines(path, _misfits(n, gauge, profile, settings))
    problems += at_lines(path, doubled(users(settings, profiles)))
    if problems or method is None:
        raise ConfigError(problems)
    return BayFiles(settings, method, profiles)


def at_lines(path: Path, mistakes: Iterable[Said]) -> list[Problem]:
    """Each with its line in the file."""
    lines = key_lines(path.read_text(encoding="utf-8-sig"))
    return [Problem(str(path), _line(lines, loc), *said) for loc, *said in mistakes]


def _of_this_one(gauge: GaugeSettings, profile: GaugeProfile) -> GaugeProfile:
    """The profile with what the bay states of this gauge's latency."""
    stated = {"latency_s": gauge.latency_s, "u_s": gauge.latency_u_s}
    own = {key: float(value) for key, value in stated.items() if value is not None}
    return profile.model_copy(update={"latency": profile.latency.model_copy(update=own)}) if own else profile


def _line(lines: Mapping[Loc, int], loc: Loc) -> int | None:
    """Where a key, or the table that should have it, stands; None where the environment made it."""
    return next((lines[loc[:end]] for end in range(len(loc), 1, -1) if loc[:end] in lines), None)


def _misfits(n: int, gauge: GaugeSettings, profile: GaugeProfile, settings: Settings) -> Iterator[Said]:
    """Where a gauge's profile does not do what the bay wants of it: place, key, found, expected."""
    unit = profile.value.unit
    turns = unit in (WireUnit.DEG, WireUnit.COUNT)
    encoder = settings.angle.gauge == gauge.id
    key = f"gauge {gauge.id}"
    if encoder and not turns:
        found = f"{gauge.id}, which gives {unit}"
        yield ("angle", "gauge"), "angle.gauge", found, "the encoder, a gauge that gives deg or count"
    misnamed = None if gauge.port is None else profile.port.misnamed(gauge.port)
    if misnamed is not None:
        yield ("gauge", n, "port"), f"{key} port", spelled(gauge.port), misnamed
    if not turns and not encoder:
        for name in ("resolution_mm", "mpe_mm"):
            if getattr(gauge, name) is None:
                expected = "it, as every gauge but the encoder needs it"
                yield ("gauge", n, name), f"{key} {name}", "nothing", expected
    if turns and not encoder:
        expected = "one that gives mm or in, or [angle] gauge naming it"
        if settings.angle.source != "encoder":
            said = f'take out this whole [[gauge]], as source is "{settings.angle.source}"'
            expected = f"one that gives mm or in: {said}"
        yield ("gauge", n, "profile"), key, f"a profile that gives {unit}", expected
    if unit is WireUnit.COUNT and gauge.counts_per_turn is None:
        expected = "counts_per_turn, as its profile gives counts"
        yield ("gauge", n, "counts_per_turn"), key, "no counts_per_turn", expected
    if unit is not WireUnit.COUNT and gauge.counts_per_turn is not None:
        found = f"counts_per_turn = {spelled(gauge.counts_per_turn)}"
        yield ("gauge", n, "counts_per_turn"), key, found, f"no counts_per_turn, as its profile gives {unit}"
