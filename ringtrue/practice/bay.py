"""The bay as practice needs it, whatever runs it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import fold
from acquire.journal.reader import JournalReader
from config.method import Method
from contract.live import Live
from contract.result import Result
from grading.assess import assess


class PracticeBay(Protocol):
    """A daemon, and what it last said."""

    method: Method

    @property
    def live(self) -> Live | None:
        """What runs now."""
        ...

    async def command(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        """One command; the keys of its reply. Raises RefusedError or NothingHeardError."""
        ...

    async def until(self, is_so: Callable[[], bool]) -> bool:
        """Wait, not for long, until something is so that hangs on what the bay says; whether it is."""
        ...

    async def caught_up(self) -> None:
        """Wait until what the gauges have sent is in what it says."""
        ...

    async def result(self) -> Result | None:
        """What the journal says of this practice's inspection by now; None before it is opened."""
        ...


def journal_result(path: Path, known: frozenset[str]) -> Result | None:
    """Of the latest inspection that is none of the known ones."""
    reader = JournalReader(path)
    try:
        latest = reader.latest_inspection()
        if latest is None or latest in known:
            return None
        state = fold(reader.read(latest))
    finally:
        reader.close()
    return assess(to_evidence(state), Method.model_validate(state.opened.method))
