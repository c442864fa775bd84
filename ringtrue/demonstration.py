"""One whole inspection of an invented haul truck, told while it happens."""

from __future__ import annotations

import random
import time
from pathlib import Path
from typing import Literal

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import fold
from acquire.clock import RealClock
from acquire.journal.reader import JournalReader
from config.bay import BayFiles
from contract.live import Live
from contract.result import Result, SurfaceCheck
from contract.states import GaugeStateMessage
from contract.topics import Topics
from contract.wire import rfc3339
from link.client import BayClient
from link.connection import Connection
from records.pictures.turn import picture
from ringtrue.child import daemon_child
from ringtrue.demo_bench import HAUL_TRUCK_CASING, Bench
from ringtrue.demo_folder import ENCODER, INDICATOR, MICROMETER, DemoFolder
from ringtrue.demo_report import LiveLine, closing, opening, swept_text
from ringtrue.staging import START_MAX_S, end_on_signals, ended, in_session, open_inspection, while_all_run
from simulators.barring import NS_PER_S, BarringHand
from simulators.gauge import SimGauge
from simulators.port import PtyPort
from simulators.rig import Rig, haul_truck
from simulators.timeline import Timeline, play

ENGINE, DAMPER, TRUCK = "GQ-E-2207", "GQ-D-0815", "haul truck 14"
OPERATOR, SIGNER = "demo", "R. Example"
# A full turn, the daemon's own overlap of 5 degrees, and what a hand pulls too far.
TURN_DEG = 370.0
# Virtual seconds: to stand the plunger on a surface before barring, and to read the verdict on the wall.
SETTING_UP_S = 2.0
VERDICT_S = 8.0
# Seconds that a result may take to come: far above the usual.
RESULT_MAX_S = 20.0
# Real seconds by which a frame may be late before the virtual clock waits: at the highest speed the
# crank turns by some 1.5 degrees meanwhile.
LATE_MOST_S = 0.002


class Demonstration:
    """Everything between the command and its last line. `run()` once."""

    def __init__(self, folder: Path, *, speed: float, seed: int) -> None:
        self._began_s = time.monotonic()
        self._began_utc = rfc3339(RealClock().utc())
        self._folder = DemoFolder(folder, has_micrometer=True, has_pages=True)
        self._seed = seed
        self._speed = speed
        self._hand = BarringHand()
        self._hand_rng = random.Random(f"hand {seed}")  # noqa: S311 a simulation, no secret
        self._line = LiveLine()
        self._inspection = ""
        self._left_open: str | None = None
        self._files: BayFiles
        self._timeline: Timeline
        self._live: Live | None = None
        self._rig: Rig
        self._bench: Bench

    async def run(self) -> None:
        """Inspect, and say what came of it. Raises RingtrueError; leaves nothing running."""
        end_on_signals()
        folder = self._folder
        self._files = folder.prepare()
        with (
            folder.alone(),
            PtyPort(folder.port(INDICATOR)) as indicator,
            PtyPort(folder.port(ENCODER)) as encoder,
            PtyPort(folder.port(MICROMETER)) as micrometer,
        ):
            self._left_open = open_inspection(self._files)
            opening(folder, TRUCK, ENGINE, DAMPER)
            daemon = daemon_child(folder.config, folder.log)
            try:
                await daemon.start()
                self._timeline = Timeline(self._speed, late_most_s=LATE_MOST_S)
                profiles = self._files.profiles
                self._rig = haul_truck(profiles[INDICATOR], profiles[ENCODER], self._seed)
                self._bench = Bench(
                    self._files.method,
                    # A simulation, no secret.
                    SimGauge(profiles[MICROMETER], random.Random(self._seed), resolution=1_000),  # noqa: S311
                    micrometer.write,
                    self._seed,
                    self._line.say,
                    lambda: self._live,
                    self._wait,
                )
                result = await while_all_run(
                    in_session(self._files, self._session),
                    ended(daemon),
                    play(self._rig.indicator_stream(start_ns=0), indicator.write, self._timeline),
                    play(self._rig.encoder_stream(start_ns=0), encoder.write, self._timeline),
                )
            finally:
                self._line.end()
                await daemon.stop()
        picture_file = _draw(folder.pictures, self._files, result)
        report_file = write_report(folder.folder, self._files, result)
        spread_mm = HAUL_TRUCK_CASING.spread_mm(self._files.method.thickness.order)
        closing(folder, result, self._rig.damper, spread_mm, picture_file, report_file)

    async def _session(self, connection: Connection) -> Result:
        bay = self._files.settings.bay
        client = BayClient(connection, Topics(bay.site, bay.name), OPERATOR, self._show)
        await client.subscribe()
        return await while_all_run(self._story(client), client.listen())

    def _show(self, live: Live) -> None:
        """Live figures of this inspection, not of one that an earlier demonstration left."""
        if self._inspection and live.inspection == self._inspection:
            self._live = live
            self._line.show(live)

    def _reads(self, gauge: GaugeStateMessage | None) -> bool:
        """Whether a gauge reads now: what an earlier daemon left retained does not count."""
        return gauge is not None and gauge.state == "connected" and gauge.since >= self._began_utc

    async def _story(self, client: BayClient) -> Result:
        """Open, look, measure rim and face, inspect on the bench, close, sign."""
        await client.until(
            lambda: all(self._reads(client.gauges.get(gauge)) for gauge in (INDICATOR, ENCODER)),
            START_MAX_S,
            "readings of both gauges",
        )
        self._line.say("ready", f"first readings after {time.monotonic() - self._began_s:.1f} s")
        if self._left_open is not None:
            await client.command("abandon", inspection=self._left_open)
            self._line.say("left", f"inspection {self._left_open}, open since an earlier demo, is abandoned")
        opened = await client.command(
            "open",
            engine=ENGINE,
            damper=DAMPER,
            scope="both",
            distance_km=184_200.0,
            hours_h=11_870.0,
            work_order="GQ-W-3391",
        )
        inspection = self._inspection = str(opened["inspection"])
        self._line.say("opened", f"inspection {inspection}")
        items = [item.id for item in self._files.method.observed["visual"].item]
        looked = [{"item": item, "seen": "good"} for item in items]
        await client.command("record", check="visual", items=looked)
        # Once it has graded it has loaded what grades: while a daemon that was just started does so, readings
        # may come late, which at a high speed of the virtual clock is far to bar.
        await client.until(lambda: _of(client, inspection) is not None, RESULT_MAX_S, "the first result")
        self._line.say("visual", f"{len(items)} things looked at, all good: {', '.join(items)}")
        await client.command("zero")
        self._line.say("zero", "the timing mark is under its pointer: here is 0 degrees")
        await self._sweep(client, inspection, "rim", "plunger on the rim; first turn, by hand")
        await self._sweep(client, inspection, "face", "plunger on the face, crank held in; second turn")
        self._line.say("bench", "the damper is taken off, cleaned of paint, and lies on the bench")
        await self._bench.inspect(client, MICROMETER, lambda: _of(client, inspection))
        await client.command("close", inspection=inspection)
        await client.command("sign", inspection=inspection, name=SIGNER, sure=True)
        await client.until(
            lambda: (found := _of(client, inspection)) is not None and found.state == "signed",
            RESULT_MAX_S,
            "the signed result",
        )
        result = _of(client, inspection)
        assert result is not None
        self._line.say("signed", f"verdict {result.verdict}")
        await self._wait(VERDICT_S)
        return result

    async def _wait(self, virtual_s: float) -> None:
        await self._timeline.until(self._timeline.now_ns() + round(virtual_s * NS_PER_S))

    async def _sweep(
        self, client: BayClient, inspection: str, surface: Literal["rim", "face"], doing: str
    ) -> None:
        """Stand the plunger on a surface, begin, bar over, wait until the daemon has ended the sweep."""
        timeline, rig = self._timeline, self._rig
        self._line.say(surface, doing)
        rig.surface = surface
        await self._wait(SETTING_UP_S)
        await client.command("begin", check=surface, gauge=INDICATOR)
        now_ns = timeline.now_ns()
        path = self._hand.bar(
            self._hand_rng, start_deg=rig.crank.angle_deg(now_ns), turn_deg=TURN_DEG, start_ns=now_ns
        )
        rig.crank.follow(path)

        def measured() -> SurfaceCheck | None:
            result = _of(client, inspection)
            check = None if result is None else getattr(result.checks, surface)
            return None if check is None or check.outcome == "missing" else check

        barring_s = timeline.real_s(path.end_ns - now_ns)
        await client.until(
            lambda: measured() is not None, barring_s + RESULT_MAX_S, f"the result of the {surface}"
        )
        check = measured()
        assert check is not None
        self._line.say(surface, swept_text(check))
        await timeline.until(path.end_ns)


def _of(client: BayClient, inspection: str) -> Result | None:
    """The bay's result, where it is of this inspection."""
    result = client.result
    return result if result is not None and result.inspection == inspection else None


def _draw(folder: Path, files: BayFiles, result: Result) -> Path | None:
    """The picture of the journal's readings, as a file; None where nothing was swept."""
    reader = JournalReader(files.settings.journal.path)
    try:
        drawn = picture(to_evidence(fold(reader.read(result.inspection))), result)
    finally:
        reader.close()
    if drawn is None:
        return None
    file = folder / f"{result.inspection}.svg"
    file.write_text(drawn, encoding="utf-8")
    return file


def write_report(folder: Path, files: BayFiles, result: Result) -> Path:
    """The report of the signed inspection, written anew by every demonstration; HTML where no PDF can be
    made."""
    # Not before: it is heavy to load, and who sees a demonstration should not wait for its beginning.
    from contract.lengths import UNITS
    from records.errors import NotInstalledError
    from records.report.content import compose
    from records.report.html import as_html
    from records.report.pdf import as_pdf
    from ringtrue.reporting import find

    page = compose(find(files.settings, result.inspection, result.revision), UNITS["mm"])
    try:
        file, data = folder / "report.pdf", as_pdf(page)
    except NotInstalledError:
        file, data = folder / "report.html", as_html(page).encode()
    file.write_bytes(data)
    return file
