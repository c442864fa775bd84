"""The bay's daemon: everything wired together, each part supervised; nothing is computed here.

    port ─▶ Instrument ─▶ Bay ─▶ Journal ─▶ (committed) ─▶ grading ─▶ Journal ─▶ outbox ─▶ MQTT, records

A part that fails is started again and stops no other. A result is graded only from what the journal
has committed, and leaves through the journal's outbox.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import AsyncExitStack, suppress
from datetime import timedelta
from functools import partial

import structlog

from acquire.bay.asked import Reply, read_payload, refused
from acquire.bay.bay import Bay
from acquire.bay.known import UNREAD
from acquire.chaining import Chaining
from acquire.errors import CommandRefusedError
from acquire.grader import GradingService
from acquire.health import Health
from acquire.journal.outbox import Outbox
from acquire.judging import Judging
from acquire.methods import Methods
from acquire.opening import Opening
from acquire.publisher import Publisher
from acquire.records import Feed, Records
from acquire.results import Results
from acquire.world import Work, World
from config.bay import BayFiles
from config.profile import WireUnit
from contract.health import EVERY_S, health_payload
from contract.live import live_payload
from contract.methods import method_payload
from contract.pauses import Pauses
from contract.states import GaugeStateMessage, gauge_state_payload, reading_message, status_payload
from contract.topics import Topics
from contract.wire import rfc3339
from drivers.instrument import Instrument
from drivers.pedal import Pedal
from drivers.plugs import Plugs
from drivers.reader import PortReader
from drivers.reading import Reading
from drivers.sharing import SharedPorts
from drivers.state import GaugeState
from link.address import BrokerAddress, Will
from link.bursts import BurstConnection
from link.connection import stay_connected
from link.errors import LinkError
from link.tasks import end

# First and longest pause before a part that failed is started again.
RETRY_FIRST_S, RETRY_MAX_S = 0.5, 5.0
# Seconds that the gauges have before what is heavy to load begins to compete with them: five periods of a
# slow one.
HEAD_START_S = 0.5
# How often the register is read anew.
REGISTER_EVERY_S = 20.0
# Longest that saying goodbye to the broker may take before the connection is cut.
LEAVE_MAX_S = 2.0


class Daemon:
    """One bay in the world that it is handed. `run` until `stop` is set; BrokerError and JournalError say
    why it cannot begin."""

    def __init__(
        self,
        files: BayFiles,
        world: World,
        records: Records,
        *,
        software: str,
    ) -> None:
        self._files = files
        self._world = world
        self._clock = world.clock
        self._records = records
        self._software = software
        bay = files.settings.bay
        self._topics = Topics(bay.site, bay.name)
        self._log = structlog.get_logger().bind(bay=f"{bay.site}/{bay.name}")
        self._replies: asyncio.Queue[Reply] = asyncio.Queue()
        self._opening = Opening(self._command)
        self._no_presses = ""
        self._feed: Feed
        self._publisher: Publisher
        self._bay: Bay
        self._results: Results

    async def run(self, stop: asyncio.Event, on_ready: Callable[[], None] = lambda: None) -> None:
        """Until `stop`; then say goodbye, end the broker, and close the journal. on_ready: called once."""
        settings, world = self._files.settings, self._world
        async with AsyncExitStack() as stack:
            loop = asyncio.get_running_loop()
            self._journal = world.open_journal(
                settings.journal.path,
                on_messages=lambda: _call_soon(loop, self._outbox_grew),
                on_trouble=lambda _: _call_soon(loop, self._tell_trouble),
            )
            stack.push_async_callback(world.aside, self._journal.close)
            bay, pauses, tell = settings.bay, Pauses(RETRY_FIRST_S, RETRY_MAX_S), self._tell_trouble
            self._feed = Feed(self._records, self._journal, bay.site, bay.name, world.aside, pauses, tell)
            self._log.info("journal", file=str(settings.journal.path))
            # The broker starts while the gauges' ports are opened: they do not wait for each other.
            finding = asyncio.ensure_future(world.find_broker(settings, stack))
            stack.push_async_callback(end, finding)
            reader = await stack.enter_async_context(world.ports.reader(self._clock))
            on_warning = partial(_call_soon, loop, self._tell_trouble)
            self._chaining = Chaining(self._topics, self._clock, on_warning)
            self._methods = Methods(self._files, self._clock, world.aside, self._method_changed)
            self._publisher = Publisher(
                self._topics,
                Outbox(self._journal, "mqtt", world.aside),
                live=lambda: live_payload(self._bay.live()),
                on_command=self._opening.take,
                on_checkpoint=lambda message: self._chaining.heard(message, self._journal),
                on_method=self._methods.heard if self._methods.is_wanted else None,
                on_no_method=self._methods.unheard,
            )
            reader.handed_over = self._publisher.send_readings
            plugs = await stack.enter_async_context(world.ports.plugs())
            parts = await self._wire(reader, plugs)
            tasks = [asyncio.ensure_future(self._supervise(name, work)) for name, work in parts]
            tasks.append(asyncio.ensure_future(self._after_gauges(lambda: world.aside(world.load))))
            try:
                address, kept_running = await finding
                tasks += [asyncio.ensure_future(self._supervise(name, work)) for name, work in kept_running]
                link = asyncio.ensure_future(self._keep_link(address))
                tasks.append(link)
                self._log.info("ready", gauges=[gauge.id for gauge in settings.gauge])
                on_ready()
                await stop.wait()
                self._log.info("stopping")
                self._publisher.leave()
                await asyncio.wait([link], timeout=LEAVE_MAX_S)
            finally:
                await end(*tasks)
        self._log.info("stopped")

    async def _wire(self, reader: PortReader, plugs: Plugs) -> list[tuple[str, Work]]:
        """Make all parts but the link, in the order in which they begin."""
        files, world = self._files, self._world
        judging = Judging()
        grading = GradingService(lambda graded: results.keep(graded), world.aside, judging)
        results = Results(self._journal, grading, self._topics, self._clock, world.aside, self._tell_trouble)
        self._results = results
        await world.aside(self._methods.open)
        self._bay = Bay(
            files.settings,
            self._methods.method,
            files.profiles,
            self._journal,
            self._clock,
            results.due,
            software=self._software,
            judging=judging,
        )
        self._bay.known = UNREAD
        self._bay.take_up(self._methods.method, self._methods.withheld)
        self._bay.resume()
        self._tell_method()
        self._tell_trouble()
        await results.look_back()
        latest = await world.aside(self._journal.latest_result)
        if latest is not None:
            self._publisher.keep(self._topics.result, latest.document)
        checkpoint = await world.aside(self._journal.checkpoint)
        if checkpoint:
            self._publisher.keep(self._topics.checkpoint, checkpoint)
        parts: list[tuple[str, Work]] = []
        instruments = []
        shared = SharedPorts(world.ports.opener, reader)
        for gauge in files.settings.gauge:
            profile = files.profiles[gauge.id]
            is_channel = profile.channel is not None
            instrument = Instrument(
                gauge,
                profile,
                shared if is_channel else reader,
                self._clock,
                self._take_reading,
                self._gauge_changed,
                opener=shared.open if is_channel else world.ports.opener,
                finder=world.ports.finder,
                thread=world.ports.thread,
                plugs=plugs,
            )
            self._publish_state(instrument.state)
            instruments.append((gauge.id, instrument))
            parts.append((f"gauge {gauge.id}", instrument.run))
        folder = files.settings.journal.path.parent
        health = Health(
            self._clock, self._journal, folder, world.machine, self._publisher.statistics, instruments
        )
        press = files.settings.angle.press
        if press is not None:
            pedal = Pedal(
                press,
                self._clock.monotonic_ns,
                partial(self._pressed, press.by),
                self._presses_changed,
                opener=world.ports.opener,
                finder=world.ports.finder,
                thread=world.ports.thread,
                plugs=plugs,
            )
            parts.append(("presses", pedal.run))
        return [
            *parts,
            ("grading", grading.run),
            ("results", partial(self._run_results, results)),
            ("replies", self._send_replies),
            ("methods", self._methods.run),
            ("records", lambda: self._after_gauges(self._feed.run)),
            ("register", lambda: self._after_gauges(self._follow_register)),
            ("health", lambda: self._after_gauges(partial(self._tell_health, health))),
        ]

    async def _run_results(self, results: Results) -> None:
        """None is kept before the bay's key is there, whose library the first reading does not wait for."""
        if not self._chaining.has_begun:
            key_file = self._files.settings.journal.key_file
            await self._world.aside(self._chaining.open, key_file, self._world.open_key)
            self._chaining.begin(self._journal)
        await results.run()

    async def _supervise(self, name: str, work: Work) -> None:
        """Run one part for ever: a failure of its own is logged and stops no other."""
        pauses = Pauses(RETRY_FIRST_S, RETRY_MAX_S)
        while True:
            try:
                await work()
            except Exception:
                self._log.exception("a part failed and is started again", part=name)
            await pauses.wait()

    async def _after_gauges(self, work: Work) -> None:
        """Work that loads large libraries, once the gauges have had time to be heard."""
        await asyncio.sleep(HEAD_START_S)
        await work()

    # -- from the gauges

    def _take_reading(self, reading: Reading) -> None:
        self._bay.take_reading(reading)
        self._publisher.reading(reading)
        self._publisher.live_changed()

    def _gauge_changed(self, state: GaugeState) -> None:
        self._publish_state(state)
        self._bay.gauge_changed(state)
        self._publisher.live_changed()

    def _publish_state(self, state: GaugeState) -> None:
        since = self._clock.utc() - timedelta(
            microseconds=(self._clock.monotonic_ns() - state.since_ns) / 1000
        )
        last, profile = state.last, self._files.profiles[state.gauge]
        said = GaugeStateMessage(
            state=state.state.told,
            reason=state.reason,
            since=rfc3339(since),
            last=None
            if last is None
            else reading_message(last.seq, last.time_ns, last.value, last.unit, last.u_ns),
            measures="length" if profile.value.unit in (WireUnit.MM, WireUnit.INCH) else "angle",
            sends="key-press" if profile.manner.kind == "modem-line" else profile.manner.kind,
        )
        payload = gauge_state_payload(said)
        self._publisher.keep(self._topics.gauge_state(state.gauge), payload)

    def _presses_changed(self, trouble: str) -> None:
        self._no_presses = trouble
        self._tell_trouble()

    # -- commands and their replies

    def _pressed(self, operator: str, time_ns: int) -> None:
        try:
            reply = self._bay.press(operator, time_ns)
        except Exception:  # as below
            self._log.exception("a press failed", by=operator)
        else:
            self._answer(reply)

    def _command(self, name: str, payload: bytes, retained: bool) -> None:
        try:
            reply = self._bay.command(name, payload, retained)
        except Exception:  # a fault of ours must not take the connection along, again and again
            self._log.exception("command failed", command=name)
            text = f"{name}: the daemon failed at this; its log says why, and nothing was changed"
            reply = refused(read_payload(payload)[0], CommandRefusedError("failed", text))
        self._answer(reply)

    def _answer(self, reply: Reply) -> None:
        if reply.seq:
            self._replies.put_nowait(reply)
        else:
            self._publisher.reply(reply.request, reply.payload)
        self._tell_method()
        self._publisher.live_changed()

    async def _send_replies(self) -> None:
        """What the journal keeps is answered once it is on the disk, in the order asked."""
        while True:
            reply = await self._replies.get()
            await self._journal.committed(reply.seq)
            self._publisher.reply(reply.request, reply.payload)

    # -- from the journal

    def _outbox_grew(self) -> None:
        self._publisher.outbox_grew()
        self._feed.outbox_grew()

    def _tell_trouble(self) -> None:
        trouble = self._journal.trouble
        said = [trouble.text] if trouble is not None else []
        said += [self._no_presses] if self._no_presses else []
        for part in (self._chaining, self._methods, self._feed, self._results):
            said += part.warnings
        self._publisher.warn(*said)
        self._publisher.live_changed()

    def _method_changed(self) -> None:
        """Taken up on the loop, between two commands: an inspection that is open keeps its own."""
        self._bay.take_up(self._methods.method, self._methods.withheld)
        self._tell_method()
        self._tell_trouble()

    def _tell_method(self) -> None:
        if self._methods.is_wanted:
            said = self._methods.told(self._bay.opened)
            self._publisher.keep(self._topics.method, method_payload(said))

    async def _follow_register(self) -> None:
        """Read it again and again; while it cannot be read what it said last holds."""
        said = ""
        while True:
            try:
                self._bay.known = await self._records.register()
                said = ""
            except Exception as err:  # a database may fail in any way of its own
                if str(err) != said:
                    said = str(err)
                    self._log.warning("the register cannot be read now", reason=said)
            self._opening.free()
            await asyncio.sleep(REGISTER_EVERY_S)

    async def _tell_health(self, health: Health) -> None:
        """Say it again and again; beside the loop, as the disk is asked."""
        while True:
            told = await self._world.aside(health.told)
            self._publisher.keep(self._topics.health, health_payload(told))
            await asyncio.sleep(EVERY_S)

    # -- the broker

    async def _keep_link(self, address: BrokerAddress) -> None:
        will = Will(self._topics.status, status_payload("offline"))
        said = ""

        def on_down(error: LinkError) -> None:
            nonlocal said
            if str(error) != said:
                said = str(error)
                self._log.warning("no connection to the broker; trying again", reason=said)

        async def session(connection: BurstConnection) -> None:
            nonlocal said
            said = ""
            self._log.info("connected to the broker", url=address.url)
            await self._publisher.session(connection)

        while True:
            try:
                await stay_connected(
                    lambda: address,
                    session,
                    will=will,
                    on_down=on_down,
                    connect=self._world.connect,
                    chance=self._world.rng.random,
                )
            except Exception:  # whatever it is, the bay must come back to its displays
                self._log.exception("publishing failed and is started again")
                await asyncio.sleep(RETRY_FIRST_S)
            else:
                return


def _call_soon(loop: asyncio.AbstractEventLoop, call: Callable[[], None]) -> None:
    """From the journal's thread; at the very end the loop may be gone already."""
    with suppress(RuntimeError):
        loop.call_soon_threadsafe(call)
