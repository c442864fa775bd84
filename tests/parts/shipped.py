"""A file of config/fleet/ as a test starts it: as it ships, but for the places and ports of one machine."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from config.files import fleet_file


def shipped(name: str, places: Mapping[str, str]) -> str:
    """Its text. places: what stands there → what stands there here; each must be there."""
    text = fleet_file(name).read_text()
    for there, here in places.items():
        assert there in text, f"{name} does not say {there}"
        text = text.replace(there, here)
    return text


def lay(folder: Path, name: str, places: Mapping[str, str]) -> Path:
    """The same as a file, under its own name."""
    file = folder / name
    file.write_text(shipped(name, places))
    return file
