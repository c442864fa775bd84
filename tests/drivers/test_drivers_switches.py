from __future__ import annotations

import os
import random
import struct
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any

import pytest

from config.press import BoardPress, LinePress
from config.profile import KeyboardPort, SerialPort
from drivers.contacts import LOOK_S, Contact, LineSwitch
from drivers.errors import PortError
from drivers.switches import BoardSwitch, port_settings, switch
from drivers.transports import OpenPort, open_port
from simulators.port import PtyPort

LOOK_NS = round(LOOK_S * 1e9)
RECORD = struct.Struct("qqHHi")  # struct input_event, linux/input.h
FOOT: dict[str, Any] = {"kind": "modem-line", "port": "/dev/foot"}
KEY: dict[str, Any] = {"kind": "key", "port": "/dev/input/foot"}


class LinesPort:
    """A serial port whose lines are as a script has them, look after look; its end is an unplugging."""

    def __init__(self, line: str, looks: str) -> None:
        self._line = line
        self._looks = iter(looks)
        self.time_ns = 0

    def _look(self, line: str) -> bool:
        assert line == self._line
        look = next(self._looks, None)
        if look is None:
            raise OSError(5, "Input/output error")
        return look == "#"

    cts = property(lambda self: self._look("cts"))
    dsr = property(lambda self: self._look("dsr"))
    ri = property(lambda self: self._look("ri"))
    cd = property(lambda self: self._look("cd"))
    in_waiting = 0

    def fileno(self) -> int:
        raise OSError("none")

    def read(self, size: int = 1, /) -> bytes:
        return b""

    def write(self, data: bytes, /) -> int:
        return len(data)

    def close(self) -> None:
        pass

    def now_ns(self) -> int:
        return self.time_ns

    def pause(self, seconds: float) -> None:
        self.time_ns += round(seconds * 1e9)


def looked(looks: str, **more: Any) -> list[int]:
    """The looks at which a press was told, counted from 0."""
    settings = LinePress(**FOOT | more)
    port = LinesPort(settings.line, looks)
    line = LineSwitch(port, settings, port.now_ns, port.pause)
    told: list[int] = []
    try:
        while True:
            for time_ns in line.presses():
                told.append(time_ns // LOOK_NS)  # noqa: PERF401 those before it was unplugged are kept
    except OSError:
        return told


@pytest.mark.parametrize(
    ("looks", "told"),
    [
        ("..........####..........##..........", [10, 24]),
        # It bounces as it closes and as it opens: one press, told the moment it closes first.
        ("..........#.##..#####.#.#..........#####", [10, 35]),
        # Pressed before anybody looked, and held: no press until it was let go for a while.
        ("####..#..........#", [17]),
        ("#" * 50, []),
        # A tap that is shorter than a look apart is one.
        ("..........#...#..........", [10]),
        ("..#.......", [2]),
    ],
)
def test_a_press_is_told_once_and_the_moment_it_is_made(looks: str, told: list[int]) -> None:
    assert looked(looks, debounce_s=0.03) == told


@pytest.mark.parametrize("line", ["cts", "dsr", "ri", "cd"])
def test_any_of_the_lines_that_come_in_will_do(line: str) -> None:
    assert looked("........##", line=line) == [8]


def test_a_switch_may_open_where_another_closes() -> None:
    assert looked("########..########.", pressed="off") == [8, 18]


def test_of_any_bouncing_as_many_presses_are_told_as_were_made() -> None:
    """Presses a tenth of a second apart and held as long, each edge bouncing for up to 15 ms."""
    rng = random.Random(11)
    for _ in range(200):
        made, looks = rng.randint(0, 5), "." * 20
        for _ in range(made):
            for held in "#.":
                looks += "".join(rng.choice("#.") for _ in range(3)) + held * 20
        contact, told = Contact(0.03), 0
        for n, look in enumerate(looks):
            told += contact.is_pressed(look == "#", n * LOOK_NS)
        assert told == made


def test_a_port_without_lines_is_refused_and_told(pty: PtyPort) -> None:
    """A pseudo-terminal has none, which only shows when it is asked."""
    port = open_port(pty.device, SerialPort())
    with closing(port), pytest.raises(OSError):  # noqa: PT011 the kernel's own
        list(LineSwitch(port, LinePress(**FOOT), lambda: 0).presses())
    with open_pipe() as (near, _), pytest.raises(PortError, match="no modem lines"):
        switch(near, LinePress(**FOOT), lambda: 0)


# -- keys


class PlainPipe:
    """The near end of a pipe, which stands for an input device."""

    in_waiting = 0

    def __init__(self, fd: int) -> None:
        self.fd = fd

    def fileno(self) -> int:
        return self.fd

    def read(self, size: int = 1, /) -> bytes:
        return b""

    def write(self, data: bytes, /) -> int:
        return len(data)

    def close(self) -> None:
        pass


@contextmanager
def open_pipe() -> Iterator[tuple[OpenPort, int]]:
    near, far = os.pipe()
    try:
        yield PlainPipe(near), far
    finally:
        os.close(near)
        os.close(far)


def events(*keys: tuple[int, int, int]) -> bytes:
    """Records of the kernel: kind, code, value."""
    return b"".join(RECORD.pack(1, 2, *key) for key in keys)


def test_a_key_is_told_as_it_goes_down_and_not_while_it_is_held() -> None:
    with open_pipe() as (near, far):
        key = BoardSwitch(near, BoardPress(**KEY), lambda: 7)
        assert list(key.presses()) == []
        os.write(far, events((4, 4, 458_792), (1, 48, 1), (0, 0, 0), (1, 48, 2), (1, 48, 2), (1, 48, 0)))
        assert list(key.presses()) == [7]
        os.write(far, events((1, 48, 1), (0, 0, 0), (1, 30, 1)))
        assert list(key.presses()) == [7, 7]


def test_only_the_key_that_is_named_counts() -> None:
    with open_pipe() as (near, far):
        key = switch(near, BoardPress(**KEY, code=57), lambda: 7)
        os.write(far, events((1, 48, 1), (1, 57, 1)))
        assert list(key.presses()) == [7]


def test_each_kind_is_opened_as_what_it_is() -> None:
    assert port_settings(LinePress(**FOOT)) == SerialPort()
    assert port_settings(BoardPress(**KEY)) == KeyboardPort(kind="keyboard")


def test_a_board_that_is_gone_is_told() -> None:
    ends = os.pipe()
    os.close(ends[1])
    key = BoardSwitch(PlainPipe(ends[0]), BoardPress(**KEY), lambda: 7)
    with pytest.raises(OSError, match="closed"):
        list(key.presses())
    os.close(ends[0])
