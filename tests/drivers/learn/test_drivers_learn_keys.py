"""A key across a modem line is learnt from what the lines did while it was pressed, and from nothing else."""

from __future__ import annotations

import json
import random
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import cast

import pytest

from config.press import LinePress
from config.profile import FreeRunning, GaugeProfile, LineKey, PortSettings, SerialPort
from config.toml import read_toml
from drivers.errors import PortError
from drivers.learn.contacts import LINES, Contact, Look, contact
from drivers.learn.judging import at_key
from drivers.transports import OpenPort
from ringtrue.cli import main
from ringtrue.learning import KEY_PRESSES, KEY_S, Learning, Trying, _pressed_through
from ringtrue.switch_told import switch_told
from ringtrue.unknown import UnknownLine
from tests.drivers.learn.keys import Key, drawn_key
from tests.drivers.learn.unknown import Unknown
from tests.drivers.support import MemoryPort, profile

VARIATIONS = 200
OFF = (False,) * len(LINES)


def seen(key: Key, seed: int) -> Sequence[Look]:
    """Until they are enough, as a line is watched."""
    looks: list[Look] = []
    for look in key.looks(random.Random(seed), KEY_S):
        looks.append(look)
        if len(looks) % 20 == 0 and _pressed_through(looks):
            break
    return looks


@pytest.mark.slow
def test_two_hundred_keys_are_learnt_and_none_is_wrong() -> None:
    ended: Counter[str] = Counter()
    for seed in range(VARIATIONS):
        key = drawn_key(random.Random(seed))
        found = contact(seen(key, seed), KEY_PRESSES)
        if isinstance(found, str):
            ended["unknown"] += 1
            continue
        own = {key.line, key.joined} - {None}
        rest = key.rests[LINES.index(found.line)]
        right = {found.line, *found.joined} == own and found.pressed == ("off" if rest else "on")
        ended["right" if right else "wrong"] += 1
    assert ended["wrong"] == 0
    assert ended["right"] >= 0.95 * VARIATIONS


@pytest.mark.parametrize(
    ("key", "why"),
    [
        (Key("cts", OFF, presses=4), "CTS moved, but not 5 times there and back"),
        (Key("ri", OFF, presses=6), "RI moved, but not 5 times there and back"),
        (Key("dsr", OFF, latches=True), "DSR moved, but not 5 times there and back"),
        (Key("cts", OFF, presses=0), "no modem line moved"),
        (Key("cts", OFF, presses=0, glitch="cd"), "CD moved, but not 5 times there and back"),
    ],
)
def test_what_was_not_pressed_five_times_is_no_key(key: Key, why: str) -> None:
    for seed in range(5):
        found = contact(list(key.looks(random.Random(seed), KEY_S)), KEY_PRESSES)
        assert isinstance(found, str)
        assert why in found


def test_two_lines_that_move_as_often_but_apart_are_not_told_apart() -> None:
    looks = [Look(n * 0.01, (n % 100 < 20, 40 <= n % 100 < 60, False, False)) for n in range(90, 90 + 500)]
    said = contact(looks, KEY_PRESSES)
    assert isinstance(said, str)
    assert "CTS and DSR moved 5 times, but not together" in said


def test_a_foot_switch_alone_is_learnt_with_nothing_heard_and_its_block_is_told() -> None:
    gauge = Unknown(profile("line-requested-mm"), random.Random(1), key=Key("ri", (True, True, True, False)))
    learnt = Learning(gauge, gauge, Trying(key=True)).run()
    assert gauge.moves == ["rest", "key", "done"]
    assert learnt.verdict.answer == "unknown"
    key = cast(Contact, learnt.contact)
    assert (key.line, key.pressed) == ("ri", "off")
    told = "\n".join(switch_told(key, 'port = "/dev/ttyUSB1"', alone=True))
    assert "RI, at rest on, off while pressed" in told
    assert told.endswith('port = "/dev/ttyUSB1"\nline = "ri"\npressed = "off"\ndebounce_s = 0.03')


def test_a_gauge_that_sends_all_the_time_is_read_at_its_key_then() -> None:
    key = Contact("cts", "on", 0.03, 0.1)
    own = at_key(profile("line-mm"), key).manner
    assert isinstance(own, LineKey)
    period = profile("line-mm").manner
    assert isinstance(period, FreeRunning)
    assert (own.line, own.request, own.timeout_s) == ("cts", None, 3 * period.period_s)
    assert at_key(profile("line-key-mm"), key) == profile("line-key-mm"), "it sends at its key already"


@pytest.fixture
def at_hand(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[[Unknown], None]:
    """Puts a simulated gauge, and somebody who moves it, in the place of port and terminal."""

    def put(gauge: Unknown) -> None:
        class Here(nullcontext[Unknown]):
            def __init__(self, _: str) -> None:
                super().__init__(gauge)

        monkeypatch.chdir(tmp_path)
        monkeypatch.setattr("ringtrue.unknown.UnknownLine", Here)
        monkeypatch.setattr("ringtrue.unknown.Hands", lambda *_: gauge)

    return put


@pytest.mark.slow
def test_a_switch_alone_is_an_answer_and_its_block_is_printed(
    at_hand: Callable[[Unknown], None], capsys: pytest.CaptureFixture[str]
) -> None:
    at_hand(Unknown(profile("line-requested-mm"), random.Random(1), key=Key("cts", OFF)))
    assert main(["learn", "/dev/ttyUSB9", "--key"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    block = tomllib.loads(told.out[told.out.index("[angle.press]") :])["angle"]["press"]
    assert LinePress.model_validate(block).line == "cts"
    assert main(["learn", "/dev/ttyUSB9", "--key", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["answer"], answer["key"]["line"], answer["file"]) == ("switch", "cts", None)


@pytest.mark.slow
@pytest.mark.parametrize(("presses", "code"), [(5, 0), (3, 1)])
def test_a_gauge_with_a_key_is_written_with_it_and_an_unknown_key_is_told(
    at_hand: Callable[[Unknown], None], capsys: pytest.CaptureFixture[str], presses: int, code: int
) -> None:
    at_hand(Unknown(profile("line-mm"), random.Random(1), key=Key("ri", OFF, presses=presses)))
    assert main(["learn", "/dev/ttyUSB9", "--key"]) == code
    told = capsys.readouterr()
    manner = read_toml(Path("learnt-gauge.toml"), GaugeProfile).manner
    assert manner.kind == ("modem-line" if presses == 5 else "free-running")
    assert ("key: RI, at rest off, on while pressed" in told.out) is (presses == 5)
    assert ("its key is unknown: RI moved, but not 5 times" in told.err) is (presses == 3)


class Pressed(MemoryPort):
    """Its key is pressed five times, a tenth of a second each."""

    def __init__(self) -> None:
        super().__init__()
        self._began_s = time.monotonic()

    @property
    def dsr(self) -> bool:
        after_s = time.monotonic() - self._began_s
        return after_s < 1.1 and after_s % 0.2 >= 0.1

    cts = ri = cd = False


class Gone(Pressed):
    @property
    def dsr(self) -> bool:
        raise OSError(25, "Inappropriate ioctl for device")


def opened(port: OpenPort) -> UnknownLine:
    def opener(_: str, settings: PortSettings) -> OpenPort:
        return port

    return UnknownLine("/dev/ttyUSB1", opener)


@pytest.mark.slow
def test_the_lines_of_a_port_are_watched_until_the_key_is_let_go() -> None:
    with opened(Pressed()) as line:
        looks = line.watch(SerialPort(), KEY_S, _pressed_through)
    found = contact(looks, KEY_PRESSES)
    assert isinstance(found, Contact), found
    assert (found.line, found.pressed) == ("dsr", "on")
    assert looks[-1].time_s < KEY_S / 2


@pytest.mark.parametrize("port", [MemoryPort, Gone])
def test_a_port_without_modem_lines_is_told_in_one_line(port: type[MemoryPort]) -> None:
    with opened(port()) as line, pytest.raises(PortError, match="a key across one needs a serial port"):
        line.watch(SerialPort(), KEY_S, lambda _: False)
