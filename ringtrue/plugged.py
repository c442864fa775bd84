"""A bay's configuration, held against what is plugged in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from config.bay import BayFiles, at_lines, read_bay
from config.errors import ConfigError
from config.sharing import users
from drivers.finding import doubled_now


def read_plugged(path: Path, environ: Mapping[str, str]) -> BayFiles:
    """The configuration. Raises ConfigError with all its mistakes, also where two of its gauges are one."""
    bay = read_bay(path, environ)
    problems = at_lines(path, doubled_now(users(bay.settings, bay.profiles)))
    if problems:
        raise ConfigError(problems)
    return bay
