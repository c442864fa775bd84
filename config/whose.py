"""Which kind of file of ours a TOML file is, whatever else is wrong with it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Literal

from config.errors import ConfigError, Problem

Kind = Literal["gauge profile", "method", "writer's configuration", "bay configuration"]
"""By its `schema`, which a bay's has none of; where that was left out, by a table that no other has."""
_OWN: dict[str, Kind] = {
    "source": "writer's configuration", "framing": "gauge profile", "rim": "method",
    "bay": "bay configuration",
}  # fmt: skip


def kind_of(file: Path) -> Kind | None:
    """What it is; None where nothing tells, or it cannot be read: whoever reads it says why."""
    try:
        data = tomllib.loads(file.read_bytes().decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return None
    schema = data.get("schema")
    match schema.split("/") if isinstance(schema, str) else []:
        case ["ringtrue", "gauge", *_]:
            return "gauge profile"
        case ["ringtrue", "method", *_]:
            return "method"
        case ["ringtrue", "writer", *_]:
            return "writer's configuration"
    return None if "schema" in data else next((kind for table, kind in _OWN.items() if table in data), None)


def refuse_other(file: Path, wanted: Kind) -> None:
    """One line in place of all that is wrong with a file that is another. Raises ConfigError."""
    found = kind_of(file)
    if found not in (None, wanted):
        raise ConfigError([Problem(str(file), None, "file", f"a {found}", f"a {wanted}")])
