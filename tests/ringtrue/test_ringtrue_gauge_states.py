"""From the bytes of a gauge to what everybody is told on `gauge/<id>/state`, by the daemon as it ships."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from config.files import shipped
from config.profile import SerialPort
from simulators.port import PtyPort
from simulators.wire import received
from tests.drivers.support import profile
from tests.link.outside import Ear, ear, mosquitto
from tests.ringtrue.test_ringtrue_run import ringtrue

pytestmark = pytest.mark.slow

ROOT = "ringtrue/1/greywacke/bay-2"
TEXT = b"+000.190\r\n"
BOX = b"A+000.190 B+042.270\r\n"
GAUGES = {
    "first": "channels-first-mm",
    "second": "channels-second-mm",
    "speed": "line-mm",
    "parity": "line-mm",
    "order": "line-mm",
    "switched": "loose.toml",
    "unit": "line-unit",
    "battery": "line-unit",
    "error": "line-unit",
}
"""Each at a port of its own, but for the two of a box."""
GARBLED = ("speed", "parity", "order")


@pytest.fixture
def ports(tmp_path: Path) -> Iterator[dict[str, PtyPort]]:
    with ExitStack() as stack:
        found = {name: stack.enter_context(PtyPort(tmp_path / name)) for name in GAUGES if name != "second"}
        for port in found.values():
            port.plug()
        yield found


def bay(folder: Path, broker_port: int) -> Path:
    """Profiles whose gauges are never silent of themselves, but for those that are garbled."""
    text = '[bay]\nsite = "greywacke"\nname = "bay-2"\n'
    text += f'[mqtt]\nurl = "mqtt://127.0.0.1:{broker_port}"\n[method]\nfile = "example"\n'
    for name, kind in GAUGES.items():
        shipping = shipped("gauges", "line-mm" if kind == "loose.toml" else kind).read_text()
        (before,) = {line for line in shipping.splitlines() if line.startswith("period_s")}
        own = shipping.replace(before, f"period_s = {0.5 if name in GARBLED else 60.0}")
        if kind == "loose.toml":  # as somebody may write it, so that inches have the right form too
            pattern = next(line for line in own.splitlines() if line.startswith("pattern"))
            own = own.replace(pattern, r"pattern = '(?P<value>[+-]\d+\.\d+)'")
        (folder / f"{name}.toml").write_text(own)
        place = folder / ("first" if name == "second" else name)
        text += f'[[gauge]]\nid = "{name}"\nprofile = "{name}.toml"\nport = "{place}"\n'
        text += "resolution_mm = 0.001\nmpe_mm = 0.004\n"
    file = folder / "bay.toml"
    file.write_text(text + '[angle]\nsource = "marks"\nmarks_deg = [0, 120, 240]\n')
    return file


async def told(heard: Ear, gauge: str, state: str, *words: str) -> dict[str, object]:
    """The newest state of a gauge, once it is this one and says these words."""
    found: dict[str, object] = {}

    def is_said(_: object) -> bool:
        said = [json.loads(text) for text in heard.payloads(f"/gauge/{gauge}/state")]
        if said and said[-1]["state"] == state and all(word in said[-1]["reason"] for word in words):
            found.update(said[-1])
        return bool(found)

    try:
        await heard.until(is_said)
    except TimeoutError:
        raise AssertionError(f"{gauge}: {heard.payloads(f'/gauge/{gauge}/state')}") from None
    return found


async def test_each_trouble_of_a_line_is_a_state_of_its_own(
    ports: dict[str, PtyPort], tmp_path: Path
) -> None:
    line = profile("line-mm").port
    assert isinstance(line, SerialPort)
    slow, even = SerialPort(baud=4800), SerialPort(baud=line.baud, bytesize=7, parity="even")
    mirror = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
    async with (
        mosquitto(tmp_path) as broker,
        ear(broker.address, f"{ROOT}/#") as heard,
        ringtrue("run", "--config", bay(tmp_path, broker.address.port)),
    ):
        for name in GAUGES:
            await told(heard, name, "silent")
        for name in ("switched", "unit", "battery", "error"):
            ports[name].write(b"\r\n" + (b"+000.1900 mm\r\n" if name != "switched" else TEXT) * 9)
            await told(heard, name, "connected")

        # Switched on later than the bay, and set wrong: no frame ever ends.
        for name in GARBLED:
            await told(heard, name, "silent", "nothing came", "switch the gauge on")
        for _ in range(20):
            ports["speed"].write(bytes(byte for _, byte in received(TEXT, slow, line)))
            ports["parity"].write(bytes(byte for _, byte in received(TEXT, even, line)))
            ports["order"].write(TEXT.translate(mirror))
        await told(heard, "speed", "silent", "check its speed first: is it 115200 baud")
        await told(heard, "parity", "silent", 'set bytesize = 7 and parity = "even"')
        await told(heard, "order", "silent", "the bits of each byte come in the other order")

        ports["switched"].write(b"+0.00748\r\n" * 9)
        await told(heard, "switched", "silent", "leapt from 0.19 mm to 0.00748 mm", "switch it back")
        ports["switched"].write(TEXT * 2)
        await told(heard, "switched", "connected")

        ports["unit"].write(b"+000.0075 in\r\n" * 9)
        await told(heard, "unit", "connected", "it shows in now, which its profile has as mm")
        ports["battery"].write(b"+000.1900 mm B\r\n" * 9)
        await told(heard, "battery", "connected", "its battery is low: change it")
        for sent, said in (
            (b"ERROR 12\r\n", "it is in error"),
            (b"-OVER\r\n", "it is off its scale"),
            (b"HOLD\r\n", "it holds its display"),
        ):
            ports["error"].write(sent * 9)
            await told(heard, "error", "silent", said)

        # Two gauges of a box, on a port that only one may open.
        ports["first"].write(b"\r\n" + BOX * 3)
        for name, value in (("first", 0.19), ("second", 42.27)):
            await told(heard, name, "connected")
            # A default binds the loop variable.
            await heard.until(lambda _, name=name: len(heard.payloads(f"/{name}/reading")) >= 3)  # type: ignore[misc]
            read = [json.loads(text)["value_mm"] for text in heard.payloads(f"/{name}/reading")]
            assert read == [value] * 3
        ports["first"].unplug()
        for name in ("first", "second"):
            await told(heard, name, "absent")
        ports["first"].plug()
        for name in ("first", "second"):
            await told(heard, name, "silent", "listening on")


async def test_two_gauges_that_are_one_do_not_start(tmp_path: Path) -> None:
    """Nothing is opened: one line, and the code by which it is not started again."""
    file = bay(tmp_path, 1)
    file.write_text(file.read_text().replace(str(tmp_path / "parity"), str(tmp_path / "speed"), 1))
    async with ringtrue("run", "--config", file) as run:
        assert await run.ended() == 1
    (said,) = run.err
    assert "gauge parity port: expected a port of its own" in said
    assert "which is the port of gauge speed too" in said
