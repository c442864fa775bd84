"""The numbers of a node's connections, which go on where the process before left off."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import structlog

NUMBERS = 256


def kept(file: Path) -> Iterator[int]:
    """0 to 255 and from 0 again, each kept in the file before it is used.

    A death that the broker tells late, of the process before, then is not that of the one that lives. Where
    nothing is kept it begins with 0; where nothing can be, it goes on all the same.
    """
    try:
        last = int(file.read_bytes())
    except (OSError, ValueError):
        last = -1
    while True:
        last = (last + 1) % NUMBERS
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(f"{last}\n")
        except OSError as error:
            structlog.get_logger().warning("the node's number cannot be kept", reason=str(error))
        yield last
