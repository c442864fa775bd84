"""Who is asked for what pages read from the records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from contract.result import Result
from display.web.fleets import FleetTold
from display.web.recorded import DueList, Fleet, PastTold, SurfaceTold


@dataclass(frozen=True, slots=True)
class Paper:
    """A file to be read. stem: its name without its ending."""

    stem: str
    media_type: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Leaf:
    """Some of many documents, each as it is on record. next: what to ask with for those that follow; None:
    there are none. contradicted: of all that is on record, by the inspection's id: why its result does not
    count."""

    documents: tuple[bytes, ...]
    next: str | None
    contradicted: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Filed:
    """A document as it is on record. contradicted: the bays of which the results of its inspection contradict
    each other; None: none do."""

    document: bytes
    contradicted: str | None


class Archive(Protocol):
    """The records, read; nothing is changed by it. Every method blocks, is safe in any thread, and raises
    RingtrueError where the records are away or cannot be read. None: there is nothing of that name."""

    def due(self, today: date) -> DueList:
        """Which engines are due, and when the others will be."""

    def fleet(self, today: date) -> Fleet:
        """Every engine and damper: its latest figures, whether it is due, whether it drifts."""

    def compared(self) -> FleetTold:
        """Who drifts, which bay or gauge reads high, what each method came to."""

    def history(self, serial: str) -> PastTold | None:
        """The past of a damper, or of the last one that an engine has carried."""

    def surfaces(self, inspection: str) -> tuple[SurfaceTold, ...] | None:
        """Rim and face of an inspection, each as far as it can be drawn."""

    def report(self, inspection: str, unit: str) -> Paper | None:
        """The report of its latest revision, lengths in mm or in: a PDF, or a page where none can be made."""

    def picture(self, inspection: str) -> str | None:
        """Its surfaces as an SVG document; None also where none can be drawn."""

    def photo(self, file: str) -> bytes | None:
        """A photo (JPEG), by the name that a result gives it."""

    def documents(
        self, since: datetime | None, after: str | None, engine: str | None, damper: str | None, limit: int
    ) -> Leaf:
        """The latest revision of each inspection, oldest record first. after: `next` of the leaf before."""

    def document(self, inspection: str, revision: int | None) -> Filed | None:
        """One result document; revision: else the latest."""

    def calendar(self, now: datetime) -> bytes:
        """What is due, a day for each engine (RFC 5545)."""

    def result(self, inspection: str) -> Result | None:
        """Its result, as of the latest revision."""
