"""The little display of the docs, which shares no code with ours: what it shows, and what it must not."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from contract.live import Live, live_payload
from contract.states import GaugeStateMessage, gauge_state_payload, status_payload
from contract.terms import PublicState
from contract.topics import Topics

STRIP = Path(__file__).parents[2] / "docs" / "displays" / "strip.sh"
TOPICS = Topics("greywacke", "bay-2")
# In place of the broker's client: says what is in a file.
CLIENT = '#!/bin/sh\nprintf "%s\\n" "$@" > "$0.asked"\ncat "$0.said"\n'


@pytest.fixture
def show(tmp_path: Path) -> Any:
    client = tmp_path / "mosquitto_sub"
    client.write_text(CLIENT)
    client.chmod(0o755)

    def shown(*messages: tuple[str, bytes]) -> list[str]:
        lines = [json.dumps({"topic": topic, "said": json.loads(said)}) for topic, said in messages]
        (tmp_path / "mosquitto_sub.said").write_text("\n".join(lines))
        done = subprocess.run(
            ["sh", STRIP, "greywacke/bay-2", "-p", "1884"],
            env={**os.environ, "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}"},
            capture_output=True,
            text=True,
            check=True,
            timeout=30,
        )
        asked = (tmp_path / "mosquitto_sub.asked").read_text().splitlines()
        assert asked[:2] == ["-p", "1884"]
        assert {TOPICS.status, TOPICS.gauge_state("+"), TOPICS.result, TOPICS.live} <= set(asked)
        return done.stdout.splitlines()

    return shown


def gauge(state: PublicState) -> tuple[str, bytes]:
    said = GaugeStateMessage(state=state, reason="reading", since="2026-03-02T06:00:00.000Z")
    return TOPICS.gauge_state("indicator-1"), gauge_state_payload(said)


def live(**more: Any) -> tuple[str, bytes]:
    sweep = {
        "inspection": "i-1",
        "check": "rim",
        "gauge": "indicator-1",
        "value_mm": 0.1234,
        "limit_mm": 0.28,
    }
    return TOPICS.live, live_payload(Live(**{**sweep, **more}))


ONLINE = TOPICS.status, status_payload("online")
OFFLINE = TOPICS.status, status_payload("offline")


def test_it_is_short_and_needs_nothing_of_ours() -> None:
    text = STRIP.read_text()
    assert len(text.splitlines()) < 60
    assert "python" not in text
    assert shutil.which("jq") is not None


def test_it_shows_how_far_a_sweep_has_come_and_when_to_stop(show: Any) -> None:
    lines = show(ONLINE, gauge("connected"), live(max_deviation_mm=0.14, to_bar_deg=211.2), live(check=None))
    assert lines == [
        "bay is there",
        "gauge indicator-1 connected",
        "rim  0.123 mm  so far 0.14 mm of 0.28 mm [##########..........]  bar 212° more",
        "STOP: rim has ended",
    ]


def test_above_the_limit_is_said_in_words(show: Any) -> None:
    assert show(ONLINE, gauge("connected"), live(max_deviation_mm=0.31))[-1].endswith(
        "[####################]  ABOVE THE LIMIT"
    )


@pytest.mark.parametrize("state", ["silent", "absent"])
def test_a_gauge_that_is_not_connected_shows_no_number(show: Any, state: PublicState) -> None:
    line = show(ONLINE, gauge(state), live(max_deviation_mm=0.14))[-1]
    assert f"no figure: indicator-1 is {state}" in line
    assert "0.123" not in line


def test_while_the_bay_is_away_no_figure_is_shown(show: Any) -> None:
    lines = show(ONLINE, gauge("connected"), OFFLINE, live(max_deviation_mm=0.14))
    assert lines[-1] == "BAY AWAY: no figures"


def test_every_caution_is_shown_once_as_it_comes(show: Any) -> None:
    first, second = "Never lever on a damper.", "Wheels chocked."
    lines = show(
        ONLINE,
        gauge("connected"),
        live(cautions=(first,)),
        live(cautions=(first, second)),
        live(cautions=(second,)),
    )
    assert [line for line in lines if line.startswith("!")] == [f"! {first}", f"! {second}"]
