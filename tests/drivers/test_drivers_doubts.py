"""Bad lines and gauges that say how they stand: each has a state and a sentence of its own."""

from __future__ import annotations

import pytest

from config.profile import GaugeProfile, PatternValue, SerialPort
from drivers.assembly import LARGEST, Assembler
from drivers.doubts import STRANGE_FRAMES, garbled
from drivers.errors import FrameError, StatusError
from drivers.state import PortState
from drivers.transports.marks import ErrorMarks
from drivers.values import codec
from simulators.wire import received
from tests.drivers.support import Heard, MemoryFarSide, free_running, profile, running, settings

TEXT = b"+000.190\r\n" * 6
UNIT = free_running(name="line-unit")
ALWAYS_THE_SAME = 'the eighth bit of each byte is a parity: set bytesize = 7 and parity = "{}"'


def heard_as(sender: SerialPort, hearer: SerialPort, data: bytes = TEXT) -> bytes:
    return bytes(byte for _, byte in received(data, sender, hearer))


def mirrored(data: bytes) -> bytes:
    return bytes(int(f"{byte:08b}"[::-1], 2) for byte in data)


@pytest.mark.parametrize(
    ("came", "wrong", "said"),
    [
        (heard_as(SerialPort(bytesize=7, parity="even"), SerialPort()), 0, ALWAYS_THE_SAME.format("even")),
        (heard_as(SerialPort(bytesize=7, parity="odd"), SerialPort()), 0, ALWAYS_THE_SAME.format("odd")),
        (heard_as(SerialPort(baud=4800), SerialPort()), 0, "check its speed first: is it 9600 baud"),
        (heard_as(SerialPort(baud=19_200), SerialPort()), 0, "check its speed first"),
        (mirrored(TEXT), 0, "the bits of each byte come in the other order"),
        (TEXT[:20], 7, "7 of 27 bytes came with a wrong parity or stop bit: check baud, bytesize and parity"),
        (TEXT, 0, None),
        (b"\xff", 0, None),
    ],
)
def test_what_came_tells_what_is_set_wrong(came: bytes, wrong: int, said: str | None) -> None:
    advice = garbled(came, wrong, SerialPort())
    assert said in advice if said and advice else advice is said


@pytest.mark.parametrize(
    ("name", "frame", "says"),
    [
        ("line-unit", b"LOW BATTERY", "battery-low"),
        ("line-unit", b"+000.1900 mm H", "hold"),
        ("line-unit", b"-OVER", "off-scale"),
        ("line-unit", b"ERROR 12", "error"),
        ("sum-mm", bytes.fromhex("BE 00 00 80"), "error"),
        ("sum-mm", bytes.fromhex("BE 00 00 41"), "off-scale"),
    ],
)
def test_a_frame_in_which_the_gauge_says_why_is_no_reading(name: str, frame: bytes, says: str) -> None:
    with pytest.raises(StatusError) as caught:
        codec(profile(name).value, "g").value(frame)
    assert caught.value.says == says


def test_a_battery_that_runs_low_leaves_readings_good() -> None:
    for name, frame in (
        ("line-unit", b"+000.1900 mm B"),
        ("sum-mm", bytes.fromhex("BE 00 00 01")),
        ("xor-requested-mm", b"10001903"),
    ):
        reader = codec(profile(name).value, "g")
        assert (reader.value(frame), reader.says) == (190_000, "battery-low")


def test_what_nobody_has_explained_is_no_reading() -> None:
    with pytest.raises(FrameError):
        codec(UNIT.value, "g").value(b"+000.1900 mm Z")


def test_a_number_that_no_journal_keeps_is_none() -> None:
    kind = profile("line-exponent-mm")
    assert isinstance(kind.value, PatternValue)
    wide = kind.value.model_copy(update={"pattern": kind.value.pattern.replace(r"E[+-]\d{2}", r"E[+-]\d+")})
    assembler = Assembler("g", kind.model_copy(update={"value": wide}))
    assert assembler.feed(b"\n+9.99999E+99\n+9.22338E+12\n", 0) == []
    (kept,) = assembler.feed(b"+9.22337E+12\n", 0)
    assert kept.value <= LARGEST


def test_another_channels_lines_take_no_number() -> None:
    kind = profile("line-mm")
    status = {"pattern": r"B[+-]\d{3}\.\d{3}", "means": "other"}
    table = kind.model_dump(by_alias=True, mode="json")
    table["value"] |= {
        "pattern": "A" + table["value"]["pattern"],
        "template": "A" + table["value"]["template"],
    }
    assembler = Assembler(
        "g", GaugeProfile.model_validate(table | {"value": table["value"] | {"status": [status]}})
    )
    readings = assembler.feed(b"\r\nA+000.001\r\nB+042.000\r\nA+000.002\r\nC+000.001\r\nA+000.003\r\n", 0)
    assert [(one.seq, one.value) for one in readings] == [(0, 1_000), (1, 2_000), (3, 3_000)]
    told = assembler.statistics()
    assert (told.readings, told.rejected, told.others) == (3, 1, 1)


GARBAGE = bytes(range(0x80, 0x8A)) * 2 + b"\r\n"


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        (b"ERROR 3\r\n", "it says that it is in error: see what its display shows (b'ERROR 3')"),
        (b"OVER\r\n", "it says that it is off its scale"),
        (b"HOLD\r\n", "it holds its display"),
        (b"LOW BATTERY\r\n", "it says that its battery is low: change it"),
        (
            GARBAGE,
            "garbled: check its speed first: is it 9600 baud, as the profile says?;",
        ),
        (b"+0.1900\r\n", "such as b'+0.1900': check that profile line-unit suits the gauge"),
    ],
)
async def test_an_instrument_says_why_there_is_no_number(
    memory: MemoryFarSide, heard: Heard, sent: bytes, said: str
) -> None:
    async with running(settings(), UNIT, heard, opener=memory.opener, finder=lambda *_: "m"):
        await heard.until_state(PortState.HUNTING)
        memory.send(b"\r\n+000.1900 mm\r\n")
        await heard.until_state(PortState.LIVE)
        for _ in range(20):
            memory.send(sent)
        told = await heard.until_state(PortState.SILENT)
        assert said in told.reason
        memory.send(b"+000.1900 mm\r\n")
        await heard.until_state(PortState.LIVE)
    assert len(heard.states) <= 6, "each is said once"


async def test_where_nothing_came_and_something_does_it_is_said_what(
    memory: MemoryFarSide, heard: Heard
) -> None:
    """Switched on at the wrong speed: no frame ever ends, and "switch it on" is not true any more."""
    kind = free_running(0.01)
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda *_: "m"):
        told = await heard.until_state(PortState.SILENT)
        assert told.reason == "nothing came on m for 0.03 s: switch the gauge on and check its cable"
        for _ in range(12):
            memory.send(bytes(range(0x80, 0x8A)))
        await heard.until(lambda: "garbled" in heard.states[-1].reason)
        told = heard.states[-1]
        assert told.state is PortState.SILENT
        assert told.reason.startswith("100 bytes came on m but no reading in them: garbled: check its speed")
        memory.send(b"\r\n+000.190\r\n")
        await heard.until_state(PortState.LIVE)
    assert len(heard.states) <= 6, "it is said once"


async def test_bytes_that_came_wrong_are_told(
    memory: MemoryFarSide, heard: Heard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As the kernel marks them: a pseudo-terminal has none, and a memory has no kernel."""
    monkeypatch.setattr("drivers.instrument.mark_errors", lambda *_: ErrorMarks())
    async with running(settings(), free_running(), heard, opener=memory.opener, finder=lambda *_: "m"):
        await heard.until_state(PortState.HUNTING)
        memory.send(b"\r\n+000.190\r\n")
        await heard.until_state(PortState.LIVE)
        for _ in range(STRANGE_FRAMES):
            memory.send(b"+0\xff\x00\xb00\xff\x00\xb0.19\r\n+0\r\n")
        told = await heard.until_state(PortState.SILENT)
        assert "came with a wrong parity or stop bit: check baud, bytesize and parity" in told.reason


async def test_what_is_to_be_seen_to_is_said_while_it_reads(memory: MemoryFarSide, heard: Heard) -> None:
    async with running(settings(), UNIT, heard, opener=memory.opener, finder=lambda *_: "m"):
        await heard.until_state(PortState.HUNTING)
        memory.send(b"\r\n+000.1900 mm\r\n")
        assert (await heard.until_state(PortState.LIVE)).warning == ""
        for sent, said in (
            (b"+000.1900 mm B\r\n", "it says that its battery is low: change it"),
            (b"+000.0075 in\r\n", "it shows in now, which its profile has as mm: its step is another"),
            (b"+000.1900 mm\r\n", ""),
        ):
            memory.send(sent * 3)
            # A default binds the loop variable.
            await heard.until(lambda said=said: heard.states[-1].warning == said)  # type: ignore[misc]
            assert heard.states[-1].reason == "; ".join(filter(None, ("on m", said)))
    assert heard.values == [190_000] * 4 + [190_500] * 3 + [190_000] * 3


async def test_a_gauge_that_was_switched_is_silent_until_it_is_switched_back(
    memory: MemoryFarSide, heard: Heard
) -> None:
    kind = free_running()
    loose = kind.value.model_copy(update={"pattern": r"(?P<value>[+-]\d+\.\d+)"})
    kind = kind.model_copy(update={"value": loose})
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda *_: "m"):
        await heard.until_state(PortState.HUNTING)
        memory.send(b"\r\n" + b"+000.190\r\n" * 9)
        await heard.until_readings(9)
        memory.send(b"+0.00748\r\n" * 9)
        told = await heard.until_state(PortState.SILENT)
        assert "leapt from 0.19 mm to 0.00748 mm, as when its unit is switched: switch it back" in told.reason
        memory.send(b"+000.190\r\n")
        await heard.until_readings(10)
    assert set(heard.values) == {190_000}
