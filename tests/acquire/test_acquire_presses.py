"""A switch that is pressed at a mark does what the command does, and is refused as it is."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import ringtrue.world
from acquire.journal.events import Mark
from config.press import LinePress
from config.profile import PortSettings
from contract.topics import Topics
from drivers.transports import OpenPort, open_port
from tests.acquire.running_bay import Running
from tests.acquire.workbench import INDICATOR, Workbench, bay_files
from tests.link.outside import Ear, ear, speak

Make = Callable[..., Workbench]
TOPICS = Topics("greywacke", "bay-2")


def press(bench: Workbench, late_ns: int = 0) -> dict[str, Any]:
    """Pressed now, and heard of so much later; what would be replied."""
    pressed_ns = bench.clock.now_ns
    bench.clock.now_ns += late_ns
    answer: dict[str, Any] = json.loads(bench.bay.press("foot switch", pressed_ns).payload)
    return answer


def warnings(bench: Workbench) -> list[str]:
    live = bench.bay.live()
    assert live is not None
    return list(live.warnings)


def test_presses_are_the_marks_one_after_another_at_the_times_of_the_presses(make: Make) -> None:
    bench = make("marks")
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    times, angles = [], []
    for _ in range(3):
        bench.wait(2)
        times.append(bench.clock.now_ns)
        angles.append(press(bench, late_ns=40_000_000)["angle_deg"])
    marks = [event for event in bench.journal_events() if isinstance(event, Mark)]
    assert angles == [0, 120, 240]
    assert [mark.time_ns for mark in marks] == times
    assert [mark.operator for mark in marks] == ["foot switch"] * 3
    assert [mark.sure for mark in marks] == [False] * 3


def test_pressed_twice_is_refused_as_the_command_is_and_live_asks(make: Make) -> None:
    bench = make("marks")
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.wait(2)
    press(bench)
    before = bench.state()
    bench.wait(0.3)
    reply = press(bench)
    assert reply["error"]["code"] == "pressed-twice"
    assert bench.state() == before
    asked = f"foot switch: {reply['error']['message']}"
    assert asked in warnings(bench)
    assert "send mark again with sure=true" in asked
    # Whoever knows that it was turned says so, at any display.
    bench.do("mark", sure=True)
    assert asked not in warnings(bench)


def test_what_was_asked_is_forgotten_with_the_sweep(make: Make) -> None:
    bench = make("marks")
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.wait(2)
    press(bench)
    bench.wait(0.2)
    press(bench)
    assert warnings(bench)
    bench.do("cancel")
    assert not any("foot switch" in warning for warning in warnings(bench))


def test_a_press_while_nothing_is_open_changes_nothing(make: Make) -> None:
    bench = make("marks")
    assert press(bench)["error"]["code"] == "out-of-order"
    assert bench.bay.live() is None
    bench.open()
    assert not warnings(bench)


def test_a_press_heard_late_does_not_come_before_the_mark_before_it(make: Make) -> None:
    bench = make("marks")
    bench.open()
    bench.wait(2)
    early_ns = bench.clock.now_ns
    bench.wait(2)
    bench.do("mark")
    bench.bay.press("foot switch", early_ns)
    bench.do("mark", sure=True)
    marks = [event.time_ns for event in bench.journal_events() if isinstance(event, Mark)]
    assert marks == sorted(marks)


class Foot:
    """A serial port whose CTS is as `down` says, and whose far side may be pulled out."""

    in_waiting = 0

    def __init__(self) -> None:
        self.down = self.gone = False

    @property
    def cts(self) -> bool:
        if self.gone:
            raise OSError(5, "Input/output error")
        return self.down

    def fileno(self) -> int:
        raise OSError("none")

    def read(self, size: int = 1, /) -> bytes:
        return b""

    def write(self, data: bytes, /) -> int:
        return len(data)

    def close(self) -> None:
        pass


@pytest.mark.slow
async def test_the_daemon_listens_to_its_switch_and_says_when_it_is_not_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files, place = bay_files(tmp_path, "marks"), tmp_path / "foot"
    foot = Foot()

    def opener(name: str, settings: PortSettings) -> OpenPort:
        return foot if name == str(place) else open_port(name, settings)

    monkeypatch.setattr(ringtrue.world, "open_port", opener)
    press = LinePress(kind="modem-line", port=str(place))
    angle = files.settings.angle.model_copy(update={"press": press})
    mqtt = files.settings.mqtt.model_copy(update={"port": 0})
    settings = files.settings.model_copy(update={"angle": angle, "mqtt": mqtt})
    running = Running(dataclasses.replace(files, settings=settings))

    def missing(heard: Ear) -> bool:
        """Whether the last that was heard says so."""
        said = heard.payloads("/status")
        return bool(said) and "the foot switch for marks: " in said[-1]

    async with running.up(), ear(running.address) as heard:
        await heard.until(lambda _: missing(heard))
        place.touch()
        await heard.until(lambda _: not missing(heard))
        opened = {"id": "1", "operator": "R. Example", "scope": "on-engine", "engine": "E", "damper": "D"}
        await speak(running.address, f"{TOPICS.root}/command/open", json.dumps(opened))
        await heard.until_payload("reply/1")
        foot.down = True
        await heard.until(lambda all_of_it: any('"event":"mark"' in p for _, _, p in all_of_it))
        foot.gone = True
        place.unlink()
        await heard.until(lambda _: missing(heard))
