"""The terminal display, from messages to lines."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass, field
from typing import Any

import pytest

from contract.live import Live, live_payload
from contract.topics import Topics
from contract.wire import encode
from ringtrue.commands.watch import PLAIN_PERIOD_S, Screen, live_line, print_raw, result_lines

TOPICS = Topics("greywacke", "bay-2")
RUNNING = Live(
    inspection="i-1", check="rim", gauge="indicator-1", angle_deg=124.6, turn=0, value_mm=0.142, min_mm=-0.05,
    max_mm=0.142, max_deviation_mm=0.192, covered_deg=124.6, limit_mm=0.28, readings=300,
)  # fmt: skip
RESULT: dict[str, Any] = {
    "inspection": "i-1", "revision": 3, "state": "closed", "verdict": "measure-again",
    "checks": {
        "rim": {
            "outcome": "within", "tir_mm": 0.19, "true_tir_mm": 0.186, "u_expanded_mm": 0.008,
            "limit_mm": 0.28,
        },
        "visual": {"outcome": "good"},
    },
    "reasons": ["face is missing"],
}  # fmt: skip


@dataclass
class Watched:
    """A screen, what it wrote, and the time it is told."""

    drawn_over: bool
    out: io.StringIO = field(default_factory=io.StringIO)
    time_s: float = 0.0

    def __post_init__(self) -> None:
        self.screen = Screen(self.out, drawn_over=self.drawn_over, now_s=lambda: self.time_s)

    def live(self, live: Live | None = RUNNING) -> None:
        self.screen.take(TOPICS.live, live_payload(live))

    @property
    def lines(self) -> list[str]:
        return self.out.getvalue().splitlines()


def test_a_live_line_says_what_matters() -> None:
    watched = Watched(drawn_over=False)
    watched.screen.take(
        TOPICS.gauge_state("indicator-1"), encode({"state": "connected", "reason": "on a port"})
    )
    watched.live()
    figures = "rim  angle 124.6°  +0.142 mm  run-out so far 0.192 of 0.280 mm  covered 125°"
    assert watched.lines == ["indicator-1: connected (on a port)", f"{figures}  gauges connected"]


def test_a_gauge_that_is_silent_shows_no_number() -> None:
    watched = Watched(drawn_over=False)
    watched.screen.take(TOPICS.gauge_state("indicator-1"), encode({"state": "silent", "reason": "no power"}))
    watched.live()
    assert "no value" in watched.lines[-1]
    assert watched.lines[-1].startswith("rim  indicator-1 silent  angle")


def test_a_narrow_terminal_shows_whole_figures_or_none_and_trouble_first() -> None:
    running = RUNNING.model_copy(
        update={"check": "face", "covered_deg": 226.4, "warnings": ("9 readings lost",)}
    )
    live = json.loads(live_payload(running))
    figures = "angle 124.6°  +0.142 mm  run-out so far 0.192 of 0.280 mm"
    assert live_line({**live, "warnings": []}, {}, 79) == f"face  {figures}  covered 226°"
    assert live_line({**live, "warnings": []}, {}, 76) == f"face  {figures}"
    assert live_line(live, {}, 90) == f"face  9 readings lost  {figures}"
    assert live_line(live, {}, 20) == "face  9 readings lo…"


def test_where_the_crank_does_not_turn_the_line_says_what_comes_next() -> None:
    step = "lift 2 of 3: lift the plunger and let it back"
    lifts = {"check": "lifts", "value_mm": 0.102, "max_deviation_mm": 0.002, "next_step": step}
    assert live_line(lifts, {}) == f"lifts  {step}  +0.102 mm  spread so far 0.002 mm"
    place = {"check": "thickness", "gauge": "typed", "next_station_deg": 90.0, "next_radius": "outer"}
    assert live_line(place, {"indicator-1": "absent"}).startswith(
        "thickness  next: station 90° outer  no value"
    )


def test_what_a_repeatability_test_came_to_is_said_once() -> None:
    watched = Watched(drawn_over=False)
    for _ in range(2):
        watched.screen.take(TOPICS.live, encode({"check": None, "repeatability_mm": 0.0015, "warnings": []}))
    assert watched.lines == ["lifts: standard deviation 0.0015 mm"]


def test_why_a_check_is_invalid_is_said_where_another_one_decides_the_verdict() -> None:
    checks = {
        "visual": {"outcome": "bad", "reason": "found bad: leak"},
        "rim": {"outcome": "invalid", "reason": "only 5 readings", "tir_mm": 0.2, "limit_mm": 0.28},
        "thickness": {
            "outcome": "within", "spread_mm": 0.2, "true_spread_mm": 0.19, "u_expanded_mm": 0.004,
            "limit_mm": 0.25, "warnings": ["drifted"],
        },
    }  # fmt: skip
    assert result_lines({"checks": checks, "reasons": ["visual: found bad: leak"]})[1:] == [
        "  visual: bad",
        "  rim: invalid, limit 0.280 mm",
        "  thickness: within, 0.190 mm ± 0.004 mm, limit 0.250 mm",
        "  visual: found bad: leak",
        "  rim: only 5 readings",
        "  thickness: note: drifted",
    ]


def test_plain_output_is_one_line_a_second() -> None:
    watched = Watched(drawn_over=False)
    for n in range(41):
        watched.time_s = n * 0.05
        watched.live()
    assert len(watched.lines) == 1 + round(2.0 / PLAIN_PERIOD_S)


def test_on_a_terminal_the_line_is_drawn_over_and_left_before_other_news() -> None:
    watched = Watched(drawn_over=True)
    watched.live()
    watched.live()
    watched.screen.take(TOPICS.result, encode(RESULT))
    written = watched.out.getvalue()
    assert written.count("\r") == 2
    _, _, rest = written.partition("\n")
    assert "\r" not in rest
    assert rest.startswith("inspection i-1")
    watched.live(None)
    assert watched.out.getvalue() == written


def test_a_result_is_shown_once_for_each_revision() -> None:
    watched = Watched(drawn_over=False)
    for revision in (3, 3, 4):
        watched.screen.take(TOPICS.result, encode({**RESULT, "revision": revision}))
    assert [line for line in watched.lines if line.startswith("inspection")] == [
        "inspection i-1 (revision 3, closed): measure again",
        "inspection i-1 (revision 4, closed): measure again",
    ]
    assert result_lines(RESULT)[1:] == [
        "  rim: within, 0.186 mm ± 0.008 mm, limit 0.280 mm", "  visual: good", "  face is missing",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("topic", "payload"),
    [
        (TOPICS.live, b"\xff"), (TOPICS.live, b"[1]"), (TOPICS.live, b""), ("elsewhere", b"{}"),
        (TOPICS.live, b'{"check":"rim","value_mm":"x","warnings":[]}'), (TOPICS.result, b"{}"),
        (TOPICS.live, b'{"check":"rim","limit_mm":"x","warnings":3}'),
        (TOPICS.result, b'{"checks":{"rim":1}}'),
        (TOPICS.result, b'{"checks":[1],"revision":2}'), (TOPICS.result, b'{"reasons":5,"revision":3}'),
        (TOPICS.reply("x"), b"{}"),
    ],
)  # fmt: skip
def test_strange_messages_do_no_harm(topic: str, payload: bytes) -> None:
    Watched(drawn_over=True).screen.take(topic, payload)


def test_raw_messages_are_lines_of_json(capsys: pytest.CaptureFixture[str]) -> None:
    print_raw(TOPICS.live, live_payload(RUNNING), True)
    print_raw("t", b"no json", False)
    first, second = map(json.loads, capsys.readouterr().out.splitlines())
    assert first == {
        "topic": TOPICS.live, "retained": True, "payload": {**RUNNING.model_dump(), "warnings": []},
    }  # fmt: skip
    assert second == {"topic": "t", "retained": False, "payload": "no json"}
