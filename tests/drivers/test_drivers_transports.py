"""One suite for all transports: what holds on one line holds on every line.

The memory's port stands for one that no transport of ours opens: an instrument is handed its opener.
A capture is nobody's far side: what was kept of each line plays the same.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.clock import RealClock
from config.profile import (
    GaugeProfile,
    HidPort,
    KeyboardPort,
    PlainDevice,
    PortSettings,
    SerialPort,
    UsbPort,
)
from drivers.assembly import Assembler
from drivers.capture import written
from drivers.reader import PortReader
from drivers.state import PortState
from drivers.transports import close_port
from ringtrue.capturing import Recorder, record
from tests.drivers.far_usb import HidFarSide, KeyboardFarSide, PacketFarSide, UsbFarSide
from tests.drivers.support import (
    FarSide,
    Heard,
    MemoryFarSide,
    PlainFarSide,
    PtyFarSide,
    Rfc2217FarSide,
    SocketFarSide,
    free_running,
    members,
    profile,
    requested,
    running,
    settings,
)

pytestmark = [
    pytest.mark.slow,
    # pyserial's rfc2217 client names its thread in the old way.
    pytest.mark.filterwarnings("ignore:set(Daemon|Name)\\(\\) is deprecated:DeprecationWarning"),
]

# The latest that a state may tell of a port that is absent, taken or unplugged.
NOTICE_S = 2.0
OPEN = (PortState.HUNTING, PortState.LIVE, PortState.SILENT)
GONE = (PortState.LOST, PortState.ABSENT)


KINDS: dict[str, tuple[type | None, Callable[[Path], FarSide]]] = {
    "pty": (SerialPort, PtyFarSide),
    "socket": (SerialPort, lambda _: SocketFarSide()),
    "rfc2217": (SerialPort, lambda _: Rfc2217FarSide()),
    "plain": (PlainDevice, PlainFarSide),
    "usb": (UsbPort, lambda _: UsbFarSide()),
    "usb, apart": (UsbPort, lambda _: PacketFarSide()),
    "hid": (HidPort, lambda _: HidFarSide()),
    "keyboard": (KeyboardPort, KeyboardFarSide),
    "memory": (None, lambda _: MemoryFarSide()),
}
"""One row at least for each kind of port, with its far side."""

PACKETS = ("usb, apart", "hid")
"""What comes on them comes in packets, so that none is half of a frame; a board hands over whole lines."""
on_streams = pytest.mark.parametrize("far", [kind for kind in KINDS if kind not in PACKETS], indirect=True)
on_lines_of_bytes = pytest.mark.parametrize(
    "far", [kind for kind in KINDS if kind not in (*PACKETS, "keyboard")], indirect=True
)
on_packets = pytest.mark.parametrize("far", PACKETS, indirect=True)
where_one_can_ask = pytest.mark.parametrize(
    "far", [kind for kind in KINDS if kind != "keyboard"], indirect=True
)


@pytest.fixture(params=KINDS)
async def far(request: pytest.FixtureRequest, tmp_path: Path) -> FarSide:
    return KINDS[request.param][1](tmp_path)


def test_every_kind_has_a_row() -> None:
    assert {kind for kind, _ in KINDS.values() if kind is not None} == members(PortSettings)


@on_streams
async def test_frames_become_exact_readings_in_order_and_nothing_else_does(far: FarSide) -> None:
    await far.plug()
    heard = Heard()
    async with running(
        settings(far.port), far.suited(free_running()), heard, opener=far.opener
    ) as instrument:
        await heard.until_state(*OPEN)
        await far.ready()
        far.send(b"0.190\r\n+000.190\r\n-000.")
        await heard.until_readings(1)
        far.send(b"080\r\n\xff\xfe\r\n" + b"z" * 40 + b"\r\n+000.1x0\r\n+000.270\r\n")
        await heard.until_readings(3)
        assert heard.values == [190_000, -80_000, 270_000]
        assert [reading.time_ns for reading in heard.readings] == sorted(r.time_ns for r in heard.readings)
        assert heard.states[-1].state is PortState.LIVE
        assembly = instrument.statistics().assembly
        assert (assembly.readings, assembly.rejected, assembly.overlong) == (3, 2, 1)
        assert (assembly.bytes_discarded, assembly.bytes_lost) == (45, 0)
        assert heard.readings[-1].seq == 5
        far.send(b"+000.27")
        await far.unplug()
        await heard.until_state(*GONE, patience_s=NOTICE_S)


@on_lines_of_bytes
async def test_a_frame_cut_by_unplugging_is_counted_and_not_glued_to_what_follows(far: FarSide) -> None:
    await far.plug()
    heard = Heard()
    kind = far.suited(profile("line-key-mm"))
    async with running(settings(far.port), kind, heard, opener=far.opener) as instrument:
        await heard.until_state(PortState.LIVE)
        await far.ready()
        far.send(b"+042.270\r+04")
        await heard.until_readings(1)
        await far.unplug()
        gone = await heard.until_state(*GONE, patience_s=NOTICE_S)
        assert "looking for it again" in gone.reason
        assert gone.last == heard.readings[0]
        await heard.until_state(PortState.ABSENT)
        await far.plug()
        await heard.until_state(PortState.LIVE, patience_s=2 * NOTICE_S)
        await far.ready()
        far.send(b"2.080\r+042.080\r")
        await heard.until_readings(2)
        assert heard.values == [42_270_000, 42_080_000]
        assembly = instrument.statistics().assembly
        assert (assembly.halves, assembly.rejected) == (1, 1)
        assert [reading.seq for reading in heard.readings] == [0, 3]
        assert instrument.statistics().openings == 2
        await far.unplug()


@on_packets
async def test_each_packet_is_a_frame_and_none_is_glued_to_another(far: FarSide) -> None:
    await far.plug()
    heard = Heard()
    async with running(
        settings(far.port), far.suited(free_running()), heard, opener=far.opener
    ) as instrument:
        await heard.until_state(*OPEN)
        far.send(b"+000.190\r\n-000.\r\n080\r\n\xff\xfe\xc0\xdb\r\n")
        far.send(b"-000.080\r\n" + b"z" * 40)
        far.send(b"+000.1x0\r\n+000.270\r\n")
        await heard.until_readings(3)
        assert heard.values == [190_000, -80_000, 270_000]
        assembly = instrument.statistics().assembly
        assert (assembly.readings, assembly.bytes_lost) == (3, 0)
        assert assembly.rejected + assembly.halves >= 5
        assert heard.readings[-1].seq >= 7
        await far.unplug()
        await heard.until_state(*GONE, patience_s=NOTICE_S)
        await heard.until_state(PortState.ABSENT)
        await far.plug()
        await heard.until_state(*OPEN, patience_s=2 * NOTICE_S)
        far.send(b"+000.001")
        await heard.until_readings(4)
        assert heard.values[-1] == 1_000


class Kept(Recorder):
    """Knows once so many readings have come."""

    def __init__(self, kind: GaugeProfile, number: int) -> None:
        super().__init__(RealClock())
        self._assembler, self._wanted = Assembler("indicator-1", kind), number

    def take(self, data: bytes, time_ns: int, since_ns: int, lost: int) -> None:
        super().take(data, time_ns, since_ns, lost)
        self._wanted -= len(self._assembler.feed(data, time_ns, since_ns))
        if self._wanted <= 0:
            self.finish("enough came")


async def test_what_was_kept_of_a_port_plays_the_same(far: FarSide, tmp_path: Path, heard: Heard) -> None:
    await far.plug()
    kind = far.suited(free_running())
    async with PortReader(RealClock()) as reader:
        port = await asyncio.to_thread(far.opener, far.port, SerialPort())
        recorder = Kept(kind, 2)
        recording = asyncio.ensure_future(record(port, reader, recorder, None, None))
        await far.ready()
        far.send(b"00.190\r\n+000.190\r\n-000.\r\n-000.080\r\n")
        await recording
        await asyncio.to_thread(close_port, port)
    await far.unplug()
    (tmp_path / "kept.cap").write_text(written(recorder.capture({})))
    gauge = settings().model_copy(update={"port": f"capture:{tmp_path}/kept.cap?speed=20"})
    async with running(gauge, kind, heard):
        await heard.until_readings(2)
    assert heard.values == [190_000, -80_000]


@where_one_can_ask
async def test_a_gauge_that_is_asked_answers(far: FarSide) -> None:
    await far.plug()
    heard = Heard()
    async with running(settings(far.port), far.suited(requested()), heard, opener=far.opener):
        await heard.until_state(*OPEN)
        await far.ready()
        for number in (1, 2, 3):
            assert await far.asked(5) == b"read\r"
            far.send(b"+  0.00%d\r" % number)
            await heard.until_readings(number)
        assert heard.values == [1_000, 2_000, 3_000]
        await far.unplug()


async def test_a_port_that_is_not_there_is_said_and_found_once_it_is(far: FarSide) -> None:
    if isinstance(far, SocketFarSide):
        await far.plug()  # for a free port number
        await far.unplug()
    heard = Heard()
    kind = far.suited(profile("line-key-mm"))
    async with running(settings(far.port), kind, heard, opener=far.opener):
        told = await heard.until_state(PortState.ABSENT, patience_s=NOTICE_S)
        assert "check the address" in told.reason or "plug the gauge in" in told.reason
        await far.plug()
        await heard.until_state(PortState.LIVE, patience_s=NOTICE_S)
        await far.ready()
        await far.unplug()
