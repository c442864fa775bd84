"""`ringtrue gauges`: what it says of what is plugged in, what it guesses, and the rules that it writes."""

from __future__ import annotations

import asyncio
import itertools
import json
import os
import random
import re
import threading
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

import drivers.connected
from config.files import shipped_names
from config.profile import FreeRunning, SerialPort
from config.settings import GaugeSettings, Settings, read_settings
from drivers.capture import Piece
from drivers.connected import Connected
from drivers.encoding import Encoder
from drivers.finding import is_meant
from drivers.transports.usb import open_usb
from ringtrue.cli import main
from ringtrue.gauges_told import as_json, block, told
from ringtrue.guessing import fits
from ringtrue.listening import Listened, listened
from ringtrue.udev import groups, rules
from ringtrue.unknown import UnknownLine
from simulators.plugged import TypingGauge, UsbGauge
from simulators.port import PtyPort
from simulators.usb_bus import SimUsbBus
from tests.drivers.support import profile

PROFILES = [(name, profile(name)) for name in shipped_names("gauges")]
OF_ITSELF = [
    name for name, one in PROFILES if isinstance(one.manner, FreeRunning) and isinstance(one.port, SerialPort)
]
ADAPTER = Connected("/dev/ttyUSB0", "serial", 0x1209, 1, "A7", "1-2", "Serial thing")
BAY = """\
[bay]
site = "greywacke"
name = "bay-2"
[method]
file = "example"
[[gauge]]
id = "indicator-1"
profile = "line-mm"
{place}
resolution_mm = 0.001
mpe_mm = 0.004
[angle]
source = "marks"
marks_deg = [0, 120, 240]
"""


def port_of(name: str) -> SerialPort:
    port = profile(name).port
    assert isinstance(port, SerialPort)
    return port


def sent(name: str, seed: int = 1) -> list[Piece]:
    """What a gauge of that profile sends, begun within a frame, in pieces of any size."""
    rng, encoder = random.Random(seed), Encoder(profile(name))
    data = b"".join(encoder.frame(rng.randrange(0, 300) * 1_000) for _ in range(20))[3:]
    pieces, at = [], 0
    while data:
        size = rng.randint(1, 12)
        at += 10_000_000
        pieces.append(Piece(at, data[:size]))
        data = data[size:]
    return pieces


@pytest.mark.parametrize("name", OF_ITSELF)
def test_the_profile_of_a_gauge_that_sends_is_among_the_guesses(name: str) -> None:
    guesses = fits(sent(name), port_of(name), PROFILES)
    assert name in [fit.name for fit in guesses]
    assert isinstance(guesses[0].profile.manner, FreeRunning)


@pytest.mark.parametrize("name", OF_ITSELF)
def test_noise_and_frames_that_were_damaged_fit_nothing(name: str) -> None:
    rng = random.Random(7)
    assert fits([Piece(n, rng.randbytes(9)) for n in range(30)], port_of(name), PROFILES) == []
    damaged = [Piece(piece.time_ns, bytes(byte ^ 0x15 for byte in piece.data)) for piece in sent(name)]
    assert name not in [fit.name for fit in fits(damaged, port_of(name), PROFILES)]
    assert fits(sent(name)[:1], port_of(name), PROFILES) == []


def test_a_port_set_otherwise_is_no_guess() -> None:
    assert fits(sent("line-mm"), SerialPort(baud=4800), PROFILES) == []


def test_one_that_is_read_is_told_with_its_value_and_the_block_that_makes_it_a_gauge(tmp_path: Path) -> None:
    one = Listened(ADAPTER, True, fits=fits(sent("line-mm"), port_of("line-mm"), PROFILES), heard=b"x")
    said = told(one)
    assert said.startswith('/dev/ttyUSB0: USB serial adapter, calls itself "Serial thing"\n')
    assert "known by its serial number A7 (vendor 0x1209, product 0x0001), wherever it is plugged in" in said
    assert f"now {one.fits[0].last.value / 1e6:.3f} mm" in said
    lines = "\n".join(block(one)).replace("= ?", "= 0.004")
    pasted = tomllib.loads(lines)["gauge"][0]
    gauge = GaugeSettings.model_validate(pasted, context={"base": tmp_path})
    assert gauge.usb is not None
    assert is_meant(gauge, ADAPTER)
    assert Path(gauge.profile).stem == "line-mm"


def test_without_a_serial_number_of_its_own_it_is_known_by_its_place() -> None:
    twin = Listened(ADAPTER, False)
    assert "known by where it is plugged in, 1-2" in told(twin)
    assert "another has the serial number A7 too" in told(twin)
    assert 'location = "1-2"' in "\n".join(block(twin))
    nameless = Connected("/dev/ttyUSB0", "serial", 0x1209, 1, None, "1-2")
    assert "it has no serial number" in told(Listened(nameless, False))


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (Listened(ADAPTER, True, heard=b""), "nothing came"),
        (Listened(ADAPTER, True, heard=b"\x00\xff?"), "no profile reads, such as 00 ff 3f"),
        (Listened(ADAPTER, True), "not listened to"),
        (Listened(ADAPTER, True, trouble="it may not be opened"), "it may not be opened"),
        (Listened(Connected("/dev/input/event3", "keyboard", 1, 2), False), "keyboard: a gauge that types"),
        (Listened(Connected("/dev/ttyS0", "serial"), False), "part of the machine"),
    ],
)  # fmt: skip
def test_what_is_not_read_is_said_to_be_so(one: Listened, words: str) -> None:
    assert words in told(one)
    json.dumps(as_json(one))


def test_one_in_use_is_told_and_no_block_is_offered() -> None:
    taken = Connected("/dev/ttyUSB0", "serial", 0x1209, 1, "A7", "1-2", is_taken=True)
    said = told(Listened(taken, True, gauge="indicator-1"))
    assert "is indicator-1 of the configuration" in said
    assert "left alone" in said
    assert "[[gauge]]" not in said


@pytest.mark.slow
async def test_ports_are_listened_to_and_nothing_is_sent(tmp_path: Path) -> None:
    """One whose port is in use, or listened to for no time, is not even opened."""
    with PtyPort(tmp_path / "gauge") as pty:
        await listen_to(pty, tmp_path)


async def listen_to(pty: PtyPort, tmp_path: Path) -> None:
    frame = Encoder(profile("line-mm")).frame(190_000)

    async def sends() -> None:
        while True:
            pty.write(frame)
            await asyncio.sleep(0.02)

    (tmp_path / "bay.toml").write_text(BAY.format(place=f'port = "{pty.path}"'))
    settings = read_settings(tmp_path / "bay.toml", {})
    free = Connected(pty.device, "serial")
    taken = Connected(pty.device, "serial", is_taken=True)
    sending = asyncio.create_task(sends())
    try:
        tried = [(free, 0.3), (taken, 0.3), (free, 0.0)]
        found, left, unasked = [
            (await asyncio.to_thread(listened, [one], settings, seconds))[0] for one, seconds in tried
        ]
    finally:
        sending.cancel()
        await asyncio.wait({sending})
    assert [fit.name for fit in found.fits][:1] == ["line-mm"]
    assert [fit.last.value for fit in found.fits][:1] == [190_000]
    assert found.gauge == "indicator-1"
    assert left.heard is None
    assert unasked.heard is None
    assert pty.read() == b""


@contextmanager
def kept_up(act: Callable[[], object], every_s: float) -> Iterator[None]:
    """Done again and again, beside."""
    over = threading.Event()

    def run() -> None:
        while not over.wait(every_s):
            act()

    thread = threading.Thread(target=run)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


@pytest.mark.slow
def test_a_gauge_that_types_is_read_while_its_key_is_pressed_and_goes_on_typing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drivers.transports.keyboard.fcntl.ioctl", lambda *_: pytest.fail("it was taken"))
    gauge = TypingGauge(profile("typed-mm"), tmp_path / "board")
    gauge.board.plug()
    one = Connected(str(gauge.board.path), "keyboard", 0x1209, 1, "A7", "1-2")
    with kept_up(lambda: gauge.send(b"+012.345\n"), 0.5):
        (found,) = listened([one], None, 1.8)
    assert [fit.name for fit in found.fits] == ["typed-mm"]
    assert "profile typed-mm reads it: now 12.345 mm" in told(found)
    assert 'profile = "typed-mm"' in "\n".join(block(found))


@pytest.mark.slow
def test_what_somebody_types_on_a_keyboard_is_nobodys_affair(tmp_path: Path) -> None:
    board = TypingGauge(profile("typed-mm"), tmp_path / "board").board
    board.plug()
    one = Connected(str(board.path), "keyboard", 0x1209, 1, "A7", "1-2")
    with kept_up(lambda: board.type("secret 42\n"), 0.3):
        (found,) = listened([one], None, 1.2)
    said = told(found) + json.dumps(as_json(found))
    assert "no reading was typed: press the gauge's key" in said
    assert not any(word in said for word in ("secret", "42\\n", b"secret".hex()))


@pytest.mark.slow
def test_reports_are_read_beside_their_driver(tmp_path: Path) -> None:
    node = tmp_path / "hidraw"
    os.mkfifo(node)
    far = os.open(node, os.O_RDWR | os.O_NONBLOCK)
    one = Connected("usb:1-2", "hid", 0x1209, 1, "A7", "1-2", beside=str(node))
    reports = itertools.cycle([bytes.fromhex("01 00 42FFFF"), bytes.fromhex("02 55")])
    try:
        with kept_up(lambda: os.write(far, next(reports)), 0.03):
            (found,) = listened([one], None, 0.8)
    finally:
        os.close(far)
    assert [fit.name for fit in found.fits] == ["hid-reports"]
    assert "now -0.190 mm" in told(found)
    (nobody,) = listened([replace(one, beside=None)], None, 0.8)
    assert "not listened to" in told(nobody)
    (gone,) = listened([replace(one, beside=str(tmp_path / "none"))], None, 0.8)
    assert "is not there: plug the gauge in" in told(gone)


@pytest.mark.slow
def test_endpoints_that_nobody_has_are_listened_to() -> None:
    bus, kind = SimUsbBus(), profile("usb-lines")
    asked: list[bytes] = []
    gauge = UsbGauge(kind, "A7", on_request=asked.append)
    bus.plug(gauge.device, "1-2")
    one = Connected("usb:1-2", "usb", 0x1209, 1, "A7", "1-2")
    frame = Encoder(kind).frame(190_000)

    def line(one: Connected) -> UnknownLine:
        return UnknownLine(one.device, partial(open_usb, bus=bus))

    with kept_up(lambda: gauge.send(frame), 0.03):
        (found,) = listened([one], None, 0.8, line)
    assert [fit.name for fit in found.fits] == ["usb-lines"]
    assert asked == []
    assert not bus.opened


def test_the_command_lists_and_exits_by_what_it_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(drivers.connected, "connected", list)
    none = ["gauges", "--config", str(tmp_path / "none.toml"), "--seconds", "0"]
    assert main(none) == 1
    assert "nothing is plugged in" in capsys.readouterr().out
    monkeypatch.setattr(drivers.connected, "connected", lambda: [ADAPTER])
    assert main([*none, "--json"]) == 0
    (said,) = json.loads(capsys.readouterr().out)
    assert (said["serial"], said["known_by"], said["in_use"], said["profiles"]) == ("A7", "serial", False, [])


# -- the rules

OWN = """\
schema = "ringtrue/gauge/1"
id = "own"
description = "Indicator that sends a line"
port = {port}
framing = {{ kind = "line", terminator = "\\n", max_bytes = 12 }}
value = {{ pattern = '(?P<value>[+-]\\d+\\.\\d{{3}})mm', template = "{{:+.3f}}mm", unit = "mm" }}
manner = {{ kind = "key-press" }}
proof = [{{ text = "+0.190mm\\n", values = [190_000] }}]
"""


def bay(folder: Path, port: str, usb: str = 'vendor = 0x1209, product = 1, serial = "A7"') -> Settings:
    """A bay whose gauge has a profile with this port."""
    (folder / "own.toml").write_text(OWN.format(port=port))
    text = BAY.format(place=f"usb = {{ {usb} }}").replace('"line-mm"', '"own.toml"')
    (folder / "bay.toml").write_text(text)
    return read_settings(folder / "bay.toml", {})


@pytest.mark.parametrize(
    ("port", "subsystem"),
    [("{ baud = 9600 }", "tty"), ('{ kind = "usb" }', "usb"), ('{ kind = "keyboard" }', "input")],
)
def test_each_kind_of_port_has_its_rule_and_a_file_that_udev_takes(
    port: str, subsystem: str, tmp_path: Path
) -> None:
    lines = rules(bay(tmp_path, port))
    (rule,) = [line for line in lines if not line.startswith("#")]
    assert rule.startswith(f'SUBSYSTEM=="{subsystem}", ')
    assert '{idVendor}=="1209"' in rule
    assert '{serial}=="A7"' in rule
    assert 'GROUP="dialout", MODE="0660"' in rule
    # udev's grammar (man udev, "Rules Files"): keys with operators and quoted values, comma-separated.
    assert re.fullmatch(r'[A-Z]+(\{\w+\})?(==|=)"[^"]*"(, [A-Z]+(\{\w+\})?(==|=)"[^"]*")*', rule)


def test_reports_may_be_looked_at_beside_their_driver(tmp_path: Path) -> None:
    text = BAY.format(place="usb = { vendor = 0x1209, product = 1 }").replace("line-mm", "hid-reports")
    (tmp_path / "bay.toml").write_text(text)
    ours = [line for line in rules(read_settings(tmp_path / "bay.toml", {})) if not line.startswith("#")]
    assert [rule.partition(",")[0] for rule in ours] == ['SUBSYSTEM=="usb"', 'SUBSYSTEM=="hidraw"']


def test_a_serial_number_cannot_break_out_of_its_rule(tmp_path: Path) -> None:
    usb = 'vendor = 0x1209, product = 1, serial = "A*\\", RUN+=\\"x"'
    (rule,) = [line for line in rules(bay(tmp_path, "{ baud = 9600 }", usb)) if not line.startswith("#")]
    assert "RUN+" not in rule
    assert "*" not in rule


def test_a_switch_for_marks_has_its_rule_too(tmp_path: Path) -> None:
    file = tmp_path / "bay.toml"
    press = '[angle.press]\nkind = "key"\nusb = { vendor = 0x1209, product = 3 }\n'
    file.write_text(BAY.format(place='port = "/dev/ttyUSB0"') + press)
    (rule,) = [line for line in rules(read_settings(file, {})) if not line.startswith("#")]
    assert rule.startswith('SUBSYSTEM=="input", ')
    assert '{idProduct}=="0003"' in rule


def test_a_gauge_by_its_port_needs_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "bay.toml"
    file.write_text(BAY.format(place='port = "/dev/ttyUSB0"'))
    assert main(["gauges", "--udev", "--config", str(file)]) == 1
    said = capsys.readouterr()
    assert "# indicator-1: /dev/ttyUSB0, which needs none" in said.out
    assert "dialout" in said.err
    assert groups(read_settings(file, {}))[0] in said.err
    assert "DeviceAllow" not in said.err, "under systemd it may open serial ports"


@pytest.mark.parametrize("url", ["socket://127.0.0.1:4001", "rfc2217://127.0.0.1:4001"])
def test_what_is_on_the_network_alone_needs_no_group(
    url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "bay.toml"
    file.write_text(BAY.format(place=f'port = "{url}"'))
    assert main(["gauges", "--udev", "--config", str(file)]) == 1
    said = capsys.readouterr()
    assert f"# indicator-1: {url}, which needs none" in said.out
    assert "dialout" not in said.out + said.err
    assert "no group is needed" in said.err


@pytest.mark.parametrize(
    ("port", "allowed"),
    [('{ kind = "usb" }', "char-usb_device rw"), ('{ kind = "keyboard" }', "char-input r")],
)
def test_what_systemd_must_allow_beside_is_what_the_gauges_are(
    port: str, allowed: str, tmp_path: Path
) -> None:
    said = [line for line in groups(bay(tmp_path, port)) if "DeviceAllow" in line]
    assert said == [f"  DeviceAllow={allowed}"]
