"""The records as pages of a display read them: nothing is kept here but histories that were made already."""

from __future__ import annotations

import re
from contextlib import closing
from datetime import date, datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from config.errors import RingtrueError
from contract.lengths import UNITS
from display.web.archive import Filed, Leaf, Paper
from display.web.recorded import DueList, Fleet, PastTold, SurfaceTold
from grading.programme.order import contradicted
from records.order import contradicted_of, order_of
from records.pictures.turn import drawn_surfaces, picture
from records.register.register import dampers_of
from records.report.content import compose, file_stem, read_result
from records.store import Store
from ringtrue.arguments import missing_file
from ringtrue.due_told import due_told, fleet_rows
from ringtrue.dues import OnRecord, dues_of, on_record
from ringtrue.fleets import fleet_told
from ringtrue.history_told import past_told
from ringtrue.in_force import method_in_force
from ringtrue.pasts import Memory, asked_of
from ringtrue.reporting import find, latest_document

if TYPE_CHECKING:
    from config.method import Method
    from config.settings import Settings
    from contract.result import Result
    from display.web.fleets import FleetTold

PHOTO = re.compile(r"[0-9a-f]{64}\.jpg")
"""What a photo is called: nothing else is looked for in their folder."""
POINTS_MOST = 720
"""Of a profile: half a degree apart, less than a line is wide."""


class NoRecordsYetError(RingtrueError):
    """The file of records is not there: nothing can be told from that."""


class Showing:
    """An `Archive` of a bay's records and journal; safe in any thread."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._memory: Memory = {}
        self._compared: tuple[bytes, FleetTold] | None = None

    def due(self, today: date) -> DueList:
        """Which engines are due, and when the others will be."""
        method, found = self._method(), self._on_record()
        dues = dues_of(found.records, method, today)
        engines = tuple(due_told(due, today) for due in dues)
        return DueList(today=today, method=_named(method), engines=engines, notes=tuple(found.notes(today)))

    def fleet(self, today: date) -> Fleet:
        """Every engine and damper."""
        method, found = self._method(), self._on_record()
        rows = tuple(fleet_rows(found, dues_of(found.records, method, today), today))
        return Fleet(today=today, method=_named(method), rows=rows, notes=tuple(found.notes(today)))

    def compared(self) -> FleetTold:
        """Who drifts, which bay or gauge reads high, what each method came to."""
        with closing(Store(self._url(), create=False)) as store:
            documents, order, dampers = list(store.latest()), order_of(store), dampers_of(store)
        state = sha256(repr((order, dampers)).encode())
        for document in documents:
            state.update(sha256(document).digest())
        known = self._compared
        if known is None or known[0] != state.digest():
            known = self._compared = state.digest(), fleet_told(documents, order, dampers)
        return known[1]

    def history(self, serial: str) -> PastTold | None:
        """The past of a damper, or of the last one that an engine has carried."""
        with closing(Store(self._url(), create=False)) as store:
            asked = asked_of(store, serial, dampers_of(store))
        return None if asked is None else past_told(serial, asked, asked.history)

    def surfaces(self, inspection: str) -> tuple[SurfaceTold, ...] | None:
        """Rim and face of an inspection, from the journal's readings where they are here."""
        if latest_document(self._settings, inspection) is None:
            return None
        source = find(self._settings, inspection, None)
        result = read_result(source.document, inspection)
        told = []
        for drawn in drawn_surfaces(result, source.evidence):
            check = result.checks.rim if drawn.panel.name == "rim" else result.checks.face
            assert check is not None
            counts = check.outcome != "invalid"
            stride = -(-len(drawn.panel.angle_deg) // POINTS_MOST)
            told.append(
                SurfaceTold(
                    check="rim" if drawn.panel.name == "rim" else "face",
                    outcome=check.outcome,
                    limit_mm=check.limit_mm,
                    figure_mm=check.true_tir_mm if counts else None,
                    u_expanded_mm=check.u_expanded_mm if counts else None,
                    high_spot_deg=check.high_spot_deg,
                    angle_zero=check.angle_zero,
                    from_readings=drawn.of_readings,
                    angle_deg=tuple(round(angle, 2) for angle in drawn.panel.angle_deg[::stride]),
                    value_mm=tuple(round(value, 6) for value in drawn.panel.value_mm[::stride]),
                )
            )
        return tuple(told)

    def report(self, inspection: str, unit: str) -> Paper | None:
        """The report: a PDF, or a page of HTML where what a PDF needs is not installed."""
        from records.errors import NotInstalledError
        from records.report.html import as_html
        from records.report.pdf import as_pdf

        if latest_document(self._settings, inspection) is None:
            return None
        source = find(self._settings, inspection, None)
        page = compose(source, UNITS[unit])
        stem = file_stem(read_result(source.document, inspection))
        try:
            return Paper(stem, "application/pdf", as_pdf(page))
        except NotInstalledError:
            return Paper(stem, "text/html", as_html(page).encode())

    def picture(self, inspection: str) -> str | None:
        """Its surfaces as an SVG document."""
        if latest_document(self._settings, inspection) is None:
            return None
        source = find(self._settings, inspection, None)
        return picture(source.evidence, read_result(source.document, inspection))

    def photo(self, file: str) -> bytes | None:
        """A photo, where it lies there unaltered: each is named for its hash."""
        if PHOTO.fullmatch(file) is None:
            return None
        try:
            data = (self._settings.photos.folder / file).read_bytes()
        except OSError:
            return None
        return data if sha256(data).hexdigest() == file[:64] else None

    def documents(
        self, since: datetime | None, after: str | None, engine: str | None, damper: str | None, limit: int
    ) -> Leaf:
        """The latest revision of each inspection, oldest record first."""
        stored, _, inspection = (after or "").partition(" ")
        with closing(Store(self._url(), create=False)) as store:
            found = store.leaf(limit + 1, (stored, inspection), since, engine=engine, damper=damper)
            bays = contradicted_of(store)
        shown = found[:limit]
        following = " ".join(shown[-1][1]) if len(found) > limit else None
        why = {name: contradicted(name, whose) for name, whose in sorted(bays.items())}
        return Leaf(tuple(document for document, _ in shown), following, why)

    def document(self, inspection: str, revision: int | None) -> Filed | None:
        """One result document, of the records alone."""
        with closing(Store(self._url(), create=False)) as store:
            document = store.get(inspection, revision)
            return None if document is None else Filed(document, contradicted_of(store).get(inspection))

    def calendar(self, now: datetime) -> bytes:
        """What is due."""
        from records.calendar import as_calendar

        dues = dues_of(self._on_record().records, self._method(), now.date())
        return as_calendar(dues, now)

    def result(self, inspection: str) -> Result | None:
        """Its result, as of the latest revision."""
        document = latest_document(self._settings, inspection)
        return None if document is None else read_result(document, inspection)

    def _on_record(self) -> OnRecord:
        return on_record(self._url(), self._memory)

    def _method(self) -> Method:
        return method_in_force(self._settings)

    def _url(self) -> str:
        url = self._settings.records.url
        if (name := missing_file(url)) is not None:
            raise NoRecordsYetError(
                f"there are no records yet: {name} is made when the daemon keeps its first result, or by "
                "`ringtrue register import`"
            )
        return url


def _named(method: Method) -> str:
    return f"{method.id} {method.version}"
