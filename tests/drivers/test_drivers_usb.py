"""USB devices by pyusb, on a bus in memory: what is opened, what is said of what cannot be, what comes."""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Iterator

import pytest

from acquire.clock import RealClock
from config.profile import HidPort, UsbPort
from drivers.errors import PortAbsentError, PortError, PortTakenError
from drivers.finding import find_port
from drivers.instrument import Instrument
from drivers.packets import set_apart
from drivers.reader import PortReader
from drivers.state import PortState
from drivers.transports import OpenPort, close_port
from drivers.transports.usb import STALLS_MAX, WAIT_S, open_usb
from drivers.transports.usb_devices import listed_usb
from simulators.usb_bus import SimUsbBus
from simulators.usb_device import HID, IN, INTERRUPT, SimEndpoint, SimInterface, SimUsbDevice
from tests.drivers.far_usb import PLACE, UsbFarSide
from tests.drivers.support import Heard, at_work, free_running, running, settings

NAME = f"usb:{PLACE}"
VENDOR, REPORTS = UsbPort(kind="usb"), HidPort(kind="hid")
BULK = SimInterface(0, (SimEndpoint(IN | 1), SimEndpoint(2)))
USB = {"vendor": 0x1234, "product": 1}


def hid(number: int = 0, *, has_driver: bool = True) -> SimInterface:
    return SimInterface(number, (SimEndpoint(IN | 1, INTERRUPT, 8),), HID, has_driver=has_driver)


def gauge(*interfaces: SimInterface, serial: str | None = "A7", may_be_opened: bool = True) -> SimUsbDevice:
    return SimUsbDevice(0x1234, 1, list(interfaces or (BULK,)), serial, may_be_opened=may_be_opened)


def plugged(*devices: SimUsbDevice) -> SimUsbBus:
    bus = SimUsbBus()
    for number, device in enumerate(devices, 2):
        bus.plug(device, f"1-{number}")
    return bus


@contextlib.contextmanager
def opened(
    device: SimUsbDevice, how: UsbPort | HidPort = VENDOR, bus: SimUsbBus | None = None
) -> Iterator[OpenPort]:
    port = open_usb(NAME, how, bus or plugged(device))
    try:
        yield port
    finally:
        close_port(port)


def read(port: OpenPort, times: int) -> list[bytes]:
    return [port.read() for _ in range(times)]


# What comes.


def test_a_stream_goes_on_from_packet_to_packet_and_nothing_is_b_nothing() -> None:
    device = gauge()
    with opened(device) as port:
        device.send(b"+000.190\r\n" * 7)
        assert b"".join(read(port, 2)) == b"+000.190\r\n" * 7
        assert port.read() == b""


def test_what_is_the_devices_own_is_cut_off_every_packet() -> None:
    device = gauge()
    with opened(device, UsbPort(kind="usb", skip_bytes=2)) as port:
        device.send_packets(b"\x01\x60+00", b"\x01\x60", b"\x01\x600.190\r\n", b"\x01")
        assert read(port, 4) == [b"+00", b"", b"0.190\r\n", b""]


def test_a_transfer_of_its_own_is_a_packet_however_short() -> None:
    device = gauge()
    with opened(device, UsbPort(kind="usb", apart=True)) as port:
        device.send_packets(b"\x01\xc0\xdb", b"", b"\x02")
        assert read(port, 3) == [set_apart(b"\x01\xc0\xdb"), b"", set_apart(b"\x02")]


def test_reports_of_another_number_are_passed_over() -> None:
    device = gauge(hid())
    with opened(device, HidPort(kind="hid", report_id=3)) as port:
        for report in (b"\x03\x01\x02", b"\x04\x64", b"\x03\x05\x06", b"\x03"):
            device.send(report)
        assert read(port, 4) == [set_apart(b"\x01\x02"), b"", set_apart(b"\x05\x06"), b""]


def test_a_report_longer_than_a_packet_is_one() -> None:
    device = gauge(hid())
    with opened(device, HidPort(kind="hid", report_bytes=20)) as port:
        device.send(bytes(range(20)))
        device.send(bytes(range(20, 40)))
        assert read(port, 2) == [set_apart(bytes(range(20))), set_apart(bytes(range(20, 40)))]


def test_half_a_transfer_at_the_time_out_is_not_lost() -> None:
    device = gauge(hid())
    with opened(device, HidPort(kind="hid", report_bytes=20)) as port:
        device.send_packets(b"12345678")
        assert port.read() == set_apart(b"12345678")


def test_a_stall_is_cleared_and_reading_goes_on() -> None:
    device = gauge()
    with opened(device) as port:
        device.stall()
        device.send(b"+000.190\r\n")
        assert read(port, 2) == [b"", b"+000.190\r\n"]


def test_an_endpoint_that_stalls_for_good_is_given_up() -> None:
    device = gauge()
    with opened(device) as port:
        for _ in range(STALLS_MAX):
            device.stall()
            assert port.read() == b""
        device.stall()
        with pytest.raises(OSError, match="Pipe error"):
            port.read()


def test_pulled_out_it_is_gone_and_the_one_plugged_in_there_is_another() -> None:
    device = gauge()
    bus = plugged(device)
    with opened(device, bus=bus) as port:
        bus.unplug(device)
        bus.plug(device, PLACE)
        device.send(b"+000.190\r\n")
        with pytest.raises(OSError) as caught:  # noqa: PT011 its number is what counts
            port.read()
        assert caught.value.errno == errno.ENODEV
    with opened(device, bus=bus) as port:
        assert port.read() == b"+000.190\r\n"


# What goes out.


@pytest.mark.parametrize(
    ("interface", "how", "told"),
    [
        (BULK, VENDOR, (2, b"read\r")),
        (hid(), REPORTS, (0, b"read\r")),
        (hid(), HidPort(kind="hid", report_id=3), (0, b"\x03read\r")),
        (
            SimInterface(0, (SimEndpoint(IN | 1, INTERRUPT), SimEndpoint(2, INTERRUPT)), HID),
            REPORTS,
            (2, b"read\r"),
        ),
    ],
    ids=["endpoint", "report by request", "numbered report by request", "report to an endpoint"],
)
def test_a_request_goes_where_the_device_takes_it(
    interface: SimInterface, how: UsbPort | HidPort, told: tuple[int, bytes]
) -> None:
    heard: list[tuple[int, bytes]] = []
    device = gauge(interface)
    device.on_request = lambda address, data: heard.append((address, data))
    with opened(device, how) as port:
        assert port.write(b"read\r") == 5
    assert heard == [told]


def test_a_halted_endpoint_takes_the_request_all_the_same() -> None:
    heard: list[bytes] = []
    device = gauge()
    device.on_request = lambda _, data: heard.append(data)
    with opened(device) as port:
        device.stall(2)
        port.write(b"read\r")
    assert heard == [b"read\r"]


def test_a_device_that_takes_nothing_says_so_when_it_is_asked() -> None:
    with (
        opened(gauge(SimInterface(0, (SimEndpoint(IN | 1),)))) as port,
        pytest.raises(OSError, match="has 0 endpoints for requests"),
    ):
        port.write(b"read\r")


# What is opened, and what is handed back.


def test_a_driver_of_the_kernel_lets_go_and_has_it_again_afterwards() -> None:
    interface = hid()
    device = gauge(interface)
    with opened(device, REPORTS):
        assert (interface.has_driver, device.claimed) == (False, {0})
    assert (interface.has_driver, device.claimed) == (True, set())


def test_nothing_is_left_open_whatever_went_wrong() -> None:
    device = gauge()
    bus = plugged(device)
    with opened(device, bus=bus):
        assert len(bus.opened) == 1
        with pytest.raises(PortTakenError):
            open_usb(NAME, VENDOR, bus)
        with pytest.raises(PortError, match="no interface"):
            open_usb(NAME, REPORTS, bus)
        assert len(bus.opened) == 1
        bus.unplug(device)
    assert bus.opened == []


def test_of_several_interfaces_the_vendors_own_is_taken_or_the_one_that_is_said() -> None:
    own = SimInterface(3, (SimEndpoint(IN | 3, INTERRUPT, 8),))
    device = gauge(hid(), own)
    with opened(device):
        assert device.claimed == {3}
    with opened(device, REPORTS):
        assert device.claimed == {0}
    with opened(device, UsbPort(kind="usb", interface=0)):
        assert device.claimed == {0}
    with opened(device, UsbPort(kind="usb", endpoint=0x83)) as port:
        device.send(b"\x05", IN | 3)
        assert port.read() == b"\x05"


TWO_ENDS = SimInterface(0, (SimEndpoint(IN | 1), SimEndpoint(IN | 2)))


@pytest.mark.parametrize(
    ("device", "how", "said"),
    [
        (gauge(), REPORTS, f"{NAME} has no interface for reports: say which in its profile's port"),
        (gauge(hid(0), hid(1)), REPORTS, f"{NAME} has interfaces 0 and 1 for reports: say which"),
        (gauge(TWO_ENDS), VENDOR, f"{NAME} has endpoints 0x81 and 0x82: say which"),
        (gauge(TWO_ENDS), UsbPort(kind="usb", endpoint=0x84), "has no interface for readings: say which"),
        (
            gauge(may_be_opened=False),
            VENDOR,
            f"{NAME} may not be opened by this user: `ringtrue gauges --udev` prints the rule that lets it",
        ),
    ],
    ids=["no reports", "two of them", "two ends", "no such end", "not allowed"],
)
def test_what_cannot_be_opened_is_said_in_one_line(
    device: SimUsbDevice, how: UsbPort | HidPort, said: str
) -> None:
    with pytest.raises(PortError) as caught:
        open_usb(NAME, how, plugged(device))
    assert str(caught.value).startswith(said) or said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_one_that_is_not_there_is_absent() -> None:
    for name in ("usb:1-9", "usb:", "usb:nonsense"):
        with pytest.raises(PortAbsentError, match="is not there: plug the gauge in"):
            open_usb(name, VENDOR, plugged(gauge()))


# Which is which.


def found(bus: SimUsbBus, **more: object) -> str:
    return find_port(settings(usb=USB | more), VENDOR, lambda _: listed_usb(bus))


def test_two_alike_are_told_apart_by_their_serial_or_by_their_place() -> None:
    bus = plugged(gauge(serial="A7"), gauge(serial="B1"))
    assert (found(bus, serial="A7"), found(bus, serial="B1")) == ("usb:1-2", "usb:1-3")
    assert found(bus, location="1-3") == "usb:1-3"
    with pytest.raises(PortAbsentError, match="usb:1-2 and usb:1-3 both have vendor 0x1234"):
        found(bus)
    with pytest.raises(PortAbsentError, match="serial C9 is plugged in: plug the gauge in"):
        found(bus, serial="C9")
    assert bus.opened == []


def test_one_without_any_string_has_no_serial() -> None:
    silent = SimUsbDevice(0x1234, 1, [BULK], None, None)
    bus = plugged(gauge(serial=None), silent)
    assert [(some.device, some.serial_number) for some in listed_usb(bus)] == [
        ("usb:1-2", None),
        ("usb:1-3", None),
    ]


def test_a_serial_that_may_not_be_read_is_said_and_not_taken_for_absence() -> None:
    with pytest.raises(PortError, match="usb:1-2 may not be opened by this user: `ringtrue gauges --udev`"):
        found(plugged(gauge(may_be_opened=False)), serial="A7")


@pytest.mark.slow
async def test_two_alike_that_change_places_keep_their_roles(heard: Heard) -> None:
    first, second = gauge(serial="A7"), gauge(serial="B1")
    bus = plugged(first, second)
    clock, other = RealClock(), Heard()
    async with PortReader(clock) as reader:
        one, two = (
            Instrument(
                settings(usb=USB | {"serial": serial}),
                free_running(),
                reader,
                clock,
                who.on_reading,
                who.on_state,
                opener=lambda name, _: open_usb(name, VENDOR, bus),
                finder=lambda of, _: find_port(of, VENDOR, lambda _: listed_usb(bus)),
            )
            for serial, who in (("A7", heard), ("B1", other))
        )
        async with at_work(one), at_work(two):
            for who in (heard, other):
                await who.until_state(PortState.HUNTING)
            for device in (first, second):
                bus.unplug(device)
            for who in (heard, other):
                await who.until_state(PortState.ABSENT, patience_s=2.0)
            bus.plug(first, "1-3")
            bus.plug(second, "1-2")
            for who in (heard, other):
                await who.until_state(PortState.HUNTING, patience_s=2.0)
            first.send(b"\r\n+000.001\r\n")
            second.send(b"\r\n+000.002\r\n")
            await heard.until_readings(1)
            await other.until_readings(1)
    assert (heard.values, other.values) == ([1_000], [2_000])


# When it came.


class Jumping(RealClock):
    """The machine's clock; `late_ns` is how long it has been held up."""

    late_ns = 0

    def monotonic_ns(self) -> int:
        return super().monotonic_ns() + self.late_ns


@pytest.mark.slow
async def test_what_was_read_late_is_known_to_be(heard: Heard) -> None:
    far, clock = UsbFarSide(), Jumping()
    await far.plug()
    async with PortReader(clock) as reader:
        gauge_ = Instrument(
            settings(far.port),
            free_running(),
            reader,
            clock,
            heard.on_reading,
            heard.on_state,
            opener=far.opener,
        )
        async with at_work(gauge_):
            await heard.until_state(PortState.HUNTING)
            far.send(b"\r\n+000.001\r\n")
            await heard.until_readings(1)
            with far.device.changed:  # as the reading thread waits, so does the packet
                clock.late_ns = 100_000_000
                far.send(b"+000.002\r\n")
            await heard.until_readings(2)
    prompt, late = heard.readings
    assert prompt.u_ns == 0
    assert 100e6 / 12**0.5 <= late.u_ns <= (100e6 + 3e9 * WAIT_S) / 12**0.5


async def test_the_device_pulled_out_is_absent_at_once_and_says_why(heard: Heard) -> None:
    far = UsbFarSide()
    await far.plug()
    async with running(settings(far.port), free_running(), heard, opener=far.opener):
        await heard.until_state(PortState.HUNTING)
        await far.unplug()
        gone = await heard.until_state(PortState.LOST, PortState.ABSENT, patience_s=1.0)
        assert "went away" in gone.reason or "is not there" in gone.reason
    assert far.bus.opened == []
