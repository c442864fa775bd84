"""Where the TOML files that ship lie, and which file a name or path in a configuration means."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

Kind = Literal["gauges", "methods"]
"""The two kinds of file that ship: gauge profiles and inspection methods."""


def shipped_names(kind: Kind) -> list[str]:
    """The names that `shipped` knows, sorted."""
    return sorted(file.stem for file in (Path(__file__).parent / kind).glob("*.toml"))


def shipped(kind: Kind, name: str) -> Path:
    """The file of a shipped profile or method, in a checkout or an installed package alike.

    Raises FileNotFoundError, naming those that ship.
    """
    file = Path(__file__).parent / kind / f"{name}.toml"
    if Path(name).name != name or not file.is_file():
        raise FileNotFoundError(_missing(f"{name!r} does not ship", kind))
    return file


def is_shipped(path: Path, kind: Kind) -> bool:
    """Whether it is one of the files that ship."""
    return path.parent == Path(__file__).parent / kind


def resolve(value: str, kind: Kind, base: Path) -> Path:
    """The file meant by `value`: a path from `base` (the configuration's folder), or a shipped name.

    A shipped file may be written `example`, `example.toml` or `config/methods/example.toml`; a file
    that exists at that path from `base` wins over the shipped one. Raises FileNotFoundError.
    """
    try:
        file = base / Path(value).expanduser()
    except RuntimeError:
        raise FileNotFoundError(_missing("nobody here has that home", kind)) from None
    if file.is_file():
        return file
    bare = Path(value)
    if bare.parent in (Path(), Path("config") / kind) and bare.suffix in ("", ".toml"):
        return shipped(kind, bare.stem if bare.suffix == ".toml" else bare.name)
    raise FileNotFoundError(_missing("no such file", kind))


def fleet_file(name: str) -> Path:
    """A file of what a fleet is made of, as it ships."""
    return Path(__file__).parent / "fleet" / name


def _missing(what: str, kind: Kind) -> str:
    return f"{what}; these ship: {', '.join(shipped_names(kind)) or 'none'}"
