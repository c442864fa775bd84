"""Gauges that type: keys to characters, the device taken, and found by what it is plugged into.

Codes of keys are held against linux/input-event-codes.h, what is on them against the layouts us, de and fr
(azerty) of xkeyboard-config: spelled out here once more, by the names that these use.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import partial
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.profile import KeyboardPort
from drivers.errors import PortAbsentError, PortError, PortTakenError
from drivers.finding import find_port
from drivers.reader import PortReader
from drivers.state import PortState
from drivers.transports import close_port
from drivers.transports.keyboard import listed_keyboards, open_keyboard
from drivers.transports.keys import EV_KEY, EVENT, LINE_BYTES, PAUSE_S, SPOILT, Keys, Layout, places
from simulators.keyboard import SimKeyboard, dropped, event, keys_of, pressed
from tests.drivers.far_usb import KeyboardFarSide
from tests.drivers.reader.test_drivers_reader import Collected, WatchedClock, wait_read
from tests.drivers.support import Heard, free_running, running, settings

SPOILT_LINE = SPOILT + b"\n"
BOARD = KeyboardPort(kind="keyboard")
# linux/input-event-codes.h
KEY_1, KEY_0, KEY_MINUS, KEY_EQUAL, KEY_6, KEY_RIGHTBRACE, KEY_ENTER = 2, 11, 12, 13, 7, 27, 28
KEY_LEFTSHIFT, KEY_COMMA, KEY_DOT, KEY_SLASH, KEY_NUMLOCK, KEY_LEFTALT = 42, 51, 52, 53, 69, 56
KEY_KP7, KEY_KPMINUS, KEY_KP0, KEY_KPDOT, KEY_KPENTER, KEY_F1 = 71, 74, 82, 83, 96, 59


def board_of(layout: Layout = "us", *, end: str = "\n", settled_s: float = 0.0) -> Keys:
    return Keys(layout, end=end, settled_s=settled_s)


def typed(*codes: int, layout: Layout = "us") -> bytes:
    """What these keys type before Enter; shift is held where its code stands, for the one after it."""
    keys, held = board_of(layout), False
    for code in codes:
        if code == KEY_LEFTSHIFT:
            held = True
            assert keys.typed(event(EV_KEY, code, 1), 1.0) == b""
        else:
            assert keys.typed(pressed(code), 1.0) == b""
            if held:
                keys.typed(event(EV_KEY, KEY_LEFTSHIFT, 0), 1.0)
            held = False
    return keys.typed(pressed(KEY_ENTER), 1.0).removesuffix(b"\n")


def test_a_record_is_that_of_a_64_bit_kernel() -> None:
    assert EVENT.size == 24


@pytest.mark.parametrize(
    ("layout", "codes", "text"),
    [
        ("us", (KEY_MINUS, KEY_1, KEY_0, KEY_DOT, KEY_6), b"-10.6"),
        ("us", (KEY_LEFTSHIFT, KEY_EQUAL, KEY_1, KEY_COMMA, KEY_6), b"+1,6"),
        ("german", (KEY_SLASH, KEY_1, KEY_0, KEY_COMMA, KEY_6), b"-10,6"),
        ("german", (KEY_RIGHTBRACE, KEY_1, KEY_DOT), b"+1."),
        ("french", (KEY_6, KEY_LEFTSHIFT, KEY_1, KEY_LEFTSHIFT, KEY_COMMA), b"-1."),
        ("french", (KEY_LEFTSHIFT, KEY_EQUAL, KEY_LEFTSHIFT, KEY_0, KEY_LEFTSHIFT, KEY_COMMA), b"+0."),
        ("us", (KEY_KPMINUS, KEY_KP7, KEY_KP0, KEY_KPDOT, KEY_KP7), b"-70.7"),
        ("german", (KEY_NUMLOCK, KEY_KP7, KEY_KPDOT, KEY_KP0), b"7,0"),
    ],
)
def test_what_is_on_a_key_depends_on_the_layout(layout: Layout, codes: tuple[int, ...], text: bytes) -> None:
    assert typed(*codes, layout=layout) == text


def test_the_pad_has_an_enter_of_its_own_and_a_line_may_end_with_a_tab() -> None:
    assert board_of().typed(pressed(KEY_1) + pressed(KEY_KPENTER), 1.0) == b"1\n"
    tabbed = board_of(end="\t")
    assert tabbed.typed(b"".join(keys_of("1.5\t2.5\n\t")), 1.0) == b"1.5\t2.5\n\t"
    assert tabbed.typed(b"".join(keys_of("1.5\n")), 1.0) == b""


def test_a_key_without_a_character_spoils_its_whole_line_and_no_other() -> None:
    """Not a part of it either: that might read as a value."""
    keys = board_of()
    line = pressed(KEY_1) + pressed(KEY_F1) + pressed(KEY_0) + pressed(KEY_F1) + pressed(KEY_0)
    assert keys.typed(line + pressed(KEY_ENTER), 1.0) == SPOILT_LINE
    assert keys.typed(pressed(KEY_1) + pressed(KEY_ENTER), 1.0) == b"1\n"


def test_a_key_that_is_held_counts_once() -> None:
    keys = board_of()
    held = b"".join(event(EV_KEY, KEY_1, value) for value in (1, 2, 2, 2, 0))
    assert keys.typed(held + pressed(KEY_ENTER), 1.0) == b"1\n"


def test_with_another_key_held_it_is_no_character() -> None:
    keys = board_of()
    keys.typed(event(EV_KEY, KEY_LEFTALT, 1) + pressed(KEY_1) + event(EV_KEY, KEY_LEFTALT, 0), 1.0)
    assert keys.typed(pressed(KEY_1) + pressed(KEY_ENTER), 1.0) == SPOILT_LINE


def test_where_the_kernel_had_no_room_the_line_is_spoilt_and_shift_is_not_held() -> None:
    keys = board_of()
    lost = event(EV_KEY, KEY_LEFTSHIFT, 1) + dropped() + event(EV_KEY, KEY_1, 1) + event(0, 0, 0)
    assert keys.typed(pressed(KEY_1) + lost + pressed(KEY_0) + pressed(KEY_ENTER), 1.0) == SPOILT_LINE
    assert keys.typed(pressed(KEY_0) + pressed(KEY_ENTER), 1.0) == b"0\n"


def test_a_line_that_broke_off_is_spoilt_and_not_glued_to_the_next() -> None:
    keys = board_of()
    assert keys.typed(pressed(KEY_1), 1.0) == b""
    assert keys.typed(pressed(KEY_0), 1.0 + PAUSE_S) == b""
    assert keys.typed(pressed(KEY_1) + pressed(KEY_ENTER), 1.1 + 2 * PAUSE_S) == SPOILT_LINE + b"1\n"


def test_a_line_that_it_was_typing_as_it_was_opened_is_spoilt_and_no_later_one() -> None:
    keys = board_of(settled_s=1.3)
    assert keys.typed(pressed(KEY_1), 1.1) == b""
    assert keys.typed(pressed(KEY_1) + pressed(KEY_ENTER), 1.4) == SPOILT_LINE
    assert keys.typed(pressed(KEY_1) + pressed(KEY_ENTER), 1.5) == b"1\n"
    other = board_of(settled_s=1.3)
    assert other.typed(event(EV_KEY, KEY_ENTER, 0), 1.1) == b""  # its last key was still down
    assert other.typed(pressed(KEY_1) + pressed(KEY_ENTER), 3.0) == SPOILT_LINE + b"1\n"


def test_keys_without_end_do_not_fill_the_memory() -> None:
    keys = board_of()
    for _ in range(3 * LINE_BYTES):
        assert keys.typed(pressed(KEY_1), 1.0) == b""
    assert keys.typed(pressed(KEY_ENTER), 1.0) == SPOILT_LINE


@pytest.mark.slow
@given(
    lines=st.lists(st.text("0123456789+-., mMinN\t", max_size=12), max_size=3),
    layout=st.sampled_from(["us", "german", "french"]),
    cuts=st.lists(st.integers(0, 3000), max_size=5),
)
def test_whatever_a_gauge_types_is_read_wherever_it_is_cut(
    lines: list[str], layout: Layout, cuts: list[int]
) -> None:
    text = "".join(f"{line}\n" for line in lines)
    records = b"".join(keys_of(text, layout))
    at = [0, *sorted(min(cut, len(records)) for cut in cuts), len(records)]
    keys = board_of(layout)
    assert b"".join(keys.typed(records[a:b], 1.0) for a, b in pairwise(at)) == text.encode()


@pytest.mark.parametrize("layout", ["us", "german", "french"])
def test_each_character_has_a_place_of_its_own(layout: Layout) -> None:
    board = places(layout)
    assert set("0123456789+-.,\n\t ") <= set(board)
    assert len(set(board.values())) == len(board)
    assert all(len(text.encode("latin-1")) == 1 for text in board)


# The device.


@pytest.fixture
def board(tmp_path: Path) -> Iterator[SimKeyboard]:
    board = SimKeyboard(tmp_path / "event5")
    board.plug()
    yield board
    board.unplug()


def test_it_is_taken_before_anything_is_read_and_let_go_when_it_is_closed(board: SimKeyboard) -> None:
    taken: list[int] = []
    port = open_keyboard(str(board.path), BOARD, grab=taken.append, settle_s=0)
    assert taken == [port.fileno()]
    board.type("-1.5\n")
    assert port.read() == b"-1.5\n"
    assert port.read() == b""
    with pytest.raises(OSError, match="nothing can be sent"):
        port.write(b"read\r")
    close_port(port)
    with pytest.raises(OSError, match="closed"):
        port.fileno()


def test_just_opened_it_may_be_heard_from_within_a_line_on(board: SimKeyboard) -> None:
    port = open_keyboard(str(board.path), BOARD, grab=lambda _: None)
    board.type("2.345\n12.345\n")
    assert port.read() == SPOILT_LINE + b"12.345\n"
    close_port(port)


def refuse(number: int, _: int) -> None:
    raise OSError(number, os.strerror(number))


@pytest.mark.parametrize(
    ("number", "kind", "said"),
    [
        (16, PortTakenError, "is in use by another program: close that program"),
        (13, PortError, "may not be opened by this user: `ringtrue gauges --udev` prints the rule"),
        (25, PortError, "check that it is an input device"),
    ],
)
def test_what_cannot_be_taken_is_said_and_left_closed(
    board: SimKeyboard, number: int, kind: type[PortError], said: str
) -> None:
    before = len(list(Path("/proc/self/fd").iterdir()))
    with pytest.raises(kind, match=said):
        open_keyboard(str(board.path), BOARD, grab=partial(refuse, number))
    assert len(list(Path("/proc/self/fd").iterdir())) == before


def test_what_is_no_input_device_is_refused_by_the_kernel_itself(tmp_path: Path) -> None:
    (tmp_path / "notes").touch()
    with pytest.raises(PortError, match="check that it is an input device"):
        open_keyboard(str(tmp_path / "notes"), BOARD)
    with pytest.raises(PortAbsentError, match="plug the gauge in"):
        open_keyboard(str(tmp_path / "event9"), BOARD)


async def test_a_spoilt_line_is_no_reading_and_the_next_one_is(tmp_path: Path, heard: Heard) -> None:
    far = KeyboardFarSide(tmp_path)
    await far.plug()
    kind = far.suited(free_running())
    async with running(settings(far.port), kind, heard, opener=far.opener) as instrument:
        await heard.until_state(PortState.HUNTING)
        far.board.type("\n+000.190\n+000.")
        far.board.tell(dropped() + event(0, 0, 0))
        far.board.type("270\n-000.080\n")
        await heard.until_readings(2)
        assert instrument.statistics().assembly.rejected == 1
    assert heard.values == [190_000, -80_000]


async def test_a_line_is_stamped_by_the_reading_thread_when_its_last_key_comes(board: SimKeyboard) -> None:
    clock, sink = WatchedClock(), Collected()
    async with PortReader(clock) as reader:
        attachment = reader.attach(
            open_keyboard(str(board.path), BOARD, grab=lambda _: None, settle_s=0), sink
        )
        # From here to the next await the loop is busy: it cannot have stamped anything.
        for time_ns, text in ((1000, "1."), (2000, "5\n"), (3000, "-1.5\n")):
            clock.now_ns = time_ns
            board.type(text)
            if text.endswith("\n"):
                wait_read(attachment, 4 if time_ns == 2000 else 9)
        clock.now_ns = 9000
        assert sink.pieces == []
        await sink.until(lambda: len(sink.pieces) == 2)
        assert sink.pieces == [(b"1.5\n", 2000, 0), (b"-1.5\n", 3000, 0)]
        await reader.detach(attachment)
    close_port(attachment.port)


# Which is which: a tree as sysfs has it.

FIGURES = "1000000000007 ff9f207ac14057ff febeffdfffefffff fffffffffffffffe"
NO_FIGURES = (
    "3f000301ff 0 0 483ffff17aff32d bfd4444600000000 1 130c730b17c007 267bfad9415fed 9e000000000000 0"
)


def sysfs(root: Path, *boards: tuple[str, str, str | None, str]) -> Path:
    """Boards at their places of USB: number of the event, place, serial, words of keys."""
    (root / "class").mkdir()
    for number, place, serial, keys in boards:
        usb = root / "devices/usb1" / place
        inputs = usb / f"{place}:1.0/0003:1234:0001.0001/input" / f"input{number}"
        node = inputs / f"event{number}"
        (inputs / "capabilities").mkdir(parents=True)
        (inputs / "capabilities/key").write_text(f"{keys}\n")
        node.mkdir()
        (node / "device").symlink_to("..")
        (usb / "idVendor").write_text("1234\n")
        (usb / "idProduct").write_text("0001\n")
        if serial is not None:
            (usb / "serial").write_text(f"{serial}\n")
        (root / "class" / f"event{number}").symlink_to(node)
    return root / "class"


def test_boards_are_found_by_what_they_are_plugged_into(tmp_path: Path) -> None:
    inputs = sysfs(
        tmp_path,
        ("5", "1-2", "A7", FIGURES),
        ("6", "1-2", "A7", NO_FIGURES),  # the same device's keys for loudness
        ("7", "1-3", None, FIGURES),
    )
    usb = {"vendor": 0x1234, "product": 1}

    def found(**more: object) -> str:
        return find_port(settings(usb=usb | more), BOARD, lambda _: listed_keyboards(inputs))

    assert found(serial="A7") == "/dev/input/event5"
    assert found(location="1-3") == "/dev/input/event7"
    with pytest.raises(PortAbsentError, match="event5 and /dev/input/event7 both have vendor 0x1234"):
        found()
    (tmp_path / "devices/usb1/1-3/idVendor").unlink()  # pulled out as it is looked at
    with pytest.raises(PortAbsentError, match="is plugged in: plug the gauge in"):
        found(location="1-3")
