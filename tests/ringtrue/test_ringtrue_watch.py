"""The terminal display, from messages to lines."""

from __future__ import annotations

import io
import json
import re
from dataclasses import dataclass, field
from typing import Any

import pytest

from contract.document import decode, encode
from contract.events import EventMessage
from contract.header import DamperPart, EnginePart
from contract.lengths import UNITS
from contract.live import BesidePart, Live, live_payload
from contract.result import (
    Checks,
    ItemPart,
    MethodPart,
    NextDue,
    ObservedCheck,
    Result,
    SurfaceCheck,
    ThicknessCheck,
)
from contract.states import GaugeStateMessage, gauge_state_payload, status_payload
from contract.terms import ObservedOutcome, PublicState, Seen
from contract.topics import Topics
from display.shown import idle_lines, live_parts, result_lines
from ringtrue.commands.watch import print_raw
from ringtrue.screen import PLAIN_PERIOD_S, Screen, packed

TOPICS = Topics("greywacke", "bay-2")
MM, INCH = UNITS["mm"], UNITS["in"]
RUNNING = Live(
    inspection="i-1", check="rim", gauge="indicator-1", angle_deg=124.6, turn=0, value_mm=0.142, min_mm=-0.05,
    max_mm=0.142, max_deviation_mm=0.192, covered_deg=124.6, to_bar_deg=240.4, limit_mm=0.28, readings=300,
    back_deg=0.4, back_times=1,
)  # fmt: skip
RIM = SurfaceCheck(
    outcome="within", reason="below", tir_mm=0.19, true_tir_mm=0.186, u_expanded_mm=0.008, limit_mm=0.28
)
LOOKED = ObservedCheck(
    outcome="bad",
    reason="found bad: leak",
    items=(
        ItemPart(item="oil", seen="good", text="Dry of engine oil"),
        ItemPart(item="leak", seen="bad", text="No silicone fluid on the damper", note="at the joint"),
        ItemPart(item="soak", seen="good", text="Soaked the full time", time_min=45.0),
        ItemPart(item="hub", seen="not seen"),
    ),
)
RESULT = Result(
    inspection="i-1", revision=3, state="closed", site="greywacke", bay="bay-2", scope="on-engine",
    engine=EnginePart(serial="GQ-E-2207"), damper=DamperPart(serial="GQ-D-0815"),
    opened="2026-03-02T06:00:00.000Z", method=MethodPart(id="example", version="1", sha256="0"),
    checks=Checks(rim=RIM, visual=LOOKED), verdict="measure-again", reasons=("face is missing",),
    next_due=NextDue(hours_h=14_840.0, date="2027-03-02"), software="ringtrue", readings_sha256="0",
)  # fmt: skip


def of_checks(checks: Checks, *reasons: str) -> list[str]:
    changed = RESULT.model_copy(update={"checks": checks, "reasons": reasons, "next_due": None})
    return result_lines(changed, MM)[1:]


@dataclass
class Watched:
    """A screen, what it wrote, and the time it is told."""

    drawn_over: bool = False
    columns: int = 80
    unit: str = "mm"
    out: io.StringIO = field(default_factory=io.StringIO)
    time_s: float = 0.0

    def __post_init__(self) -> None:
        self.screen = Screen(
            self.out, UNITS[self.unit], drawn_over=self.drawn_over, now_s=lambda: self.time_s,
            columns=lambda: self.columns,
        )  # fmt: skip

    def live(self, live: Live | None = RUNNING, topics: Topics = TOPICS) -> None:
        self.screen.take(topics.live, live_payload(live))

    def gauge(self, state: PublicState, reason: str = "on a port") -> None:
        said = GaugeStateMessage(state=state, reason=reason, since="2026-03-02T06:00:00.000Z")
        self.screen.take(TOPICS.gauge_state("indicator-1"), gauge_state_payload(said))

    def event(self, kind: str, *, seq: int = 1, **more: Any) -> None:
        event = EventMessage(event=kind, seq=seq, inspection="i-1", time="", t_ns=0, **more)
        self.screen.take(TOPICS.event("i-1"), event.model_dump_json().encode())

    def result(self, **changes: Any) -> None:
        self.screen.take(TOPICS.result, encode(RESULT.model_copy(update=changes)))

    @property
    def lines(self) -> list[str]:
        return self.out.getvalue().splitlines()

    @property
    def terminal(self) -> list[str]:
        """What a terminal that knows the sequences used shows in the end."""
        rows: list[str] = [""]
        at = 0
        for part in re.findall(r"\x1b\[\d*[AKJ]|[\r\n]|[^\x1b\r\n]+", self.out.getvalue()):
            if part.endswith("A") and part.startswith("\x1b"):
                at -= int(part[2:-1])
                assert at >= 0
            elif part == "\x1b[J":
                del rows[at + 1 :]
            elif part == "\n":
                at += 1
                rows += [""] * (at + 1 - len(rows))
            elif part not in ("\r", "\x1b[K"):
                rows[at] = part
        return rows


def test_a_live_line_says_what_matters() -> None:
    watched = Watched()
    watched.gauge("connected")
    watched.live()
    figures = "rim  angle 124.6°  +0.142 mm  run-out so far 0.192 of 0.280 mm"
    barring = "covered 124°, bar 241° more  gauges connected"
    assert watched.lines == ["indicator-1: connected (on a port)", f"{figures}  {barring}"]


def test_a_gauge_that_is_silent_shows_no_number() -> None:
    watched = Watched()
    watched.gauge("silent", "no power")
    watched.live()
    assert "no value" in watched.lines[-1]
    assert watched.lines[-1].startswith("rim  indicator-1 silent  angle")


@pytest.mark.parametrize("columns", [40, 60, 80, 120])
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_whatever_the_width_no_figure_is_left_out_or_cut(columns: int, unit: str) -> None:
    watched = Watched(drawn_over=True, columns=columns, unit=unit)
    busy = RUNNING.model_copy(update={"back_deg": 12.3, "back_times": 2, "warnings": ("9 readings lost",)})
    watched.live(busy)
    rows = watched.terminal
    assert max(map(len, rows)) < columns
    for part in live_parts(busy, {}, UNITS[unit]):
        assert any(part in row for row in rows), part
    assert rows[-1] == "! 9 readings lost"
    assert len(rows) <= 6


def test_the_figures_are_drawn_over_those_of_before_also_where_they_were_more_lines() -> None:
    watched = Watched(drawn_over=True, columns=40)
    watched.live(RUNNING.model_copy(update={"warnings": ("9 readings lost", "near the end of its travel")}))
    watched.live(RUNNING.model_copy(update={"value_mm": 0.15, "max_deviation_mm": 0.2}))
    assert watched.terminal == [
        "rim  angle 124.6°  +0.150 mm", "run-out so far 0.200 of 0.280 mm",
        "covered 124°, bar 241° more",
    ]  # fmt: skip
    watched.result()
    assert watched.terminal[3].startswith("inspection i-1")


def test_lengths_are_shown_in_inches_exactly() -> None:
    """1 in = 25.4 mm: international yard and pound agreement, 1959."""
    assert INCH.length(25.4) == "1.0000 in"
    assert INCH.length(0.28) == "0.0110 in"
    assert INCH.length(-0.127, sign="+") == "-0.0050 in"
    assert "+0.0056 in" in live_parts(RUNNING, {}, INCH)
    assert "run-out so far 0.0076 of 0.0110 in" in live_parts(RUNNING, {}, INCH)
    assert "  rim: within, 0.0073 in ± 0.0003 in, limit 0.0110 in" in result_lines(RESULT, INCH)


def test_barring_back_is_said_and_a_typed_sweep_has_no_end_of_its_own() -> None:
    back = RUNNING.model_copy(update={"back_deg": 12.3, "back_times": 1})
    assert "barred back 12°" in live_parts(back, {}, MM)
    assert "barred back 12°, 3 times" in live_parts(back.model_copy(update={"back_times": 3}), {}, MM)
    assert not any("back" in part for part in live_parts(RUNNING, {}, MM))
    typed = RUNNING.model_copy(update={"to_bar_deg": None, "gauge": "typed"})
    assert "covered 124° of 360°" in live_parts(typed, {"indicator-1": "absent"}, MM)


@pytest.mark.parametrize(
    ("check", "reason", "said"),
    [
        ("rim", "complete", "stop: rim sweep complete"),
        ("thickness", "complete", "stop: thickness sweep complete"),
        ("face", "cancelled", "face sweep cancelled, does not count"), ("rim", "ended", "rim sweep ended"),
        ("lifts", "complete", "stop: repeatability test complete"),
        ("rim", "full", "stop: the rim sweep holds no more readings"),
    ],
)  # fmt: skip
def test_when_to_stop_is_said(check: str, reason: str, said: str) -> None:
    watched = Watched()
    watched.event("sweep-begun", check=check)
    watched.event("sweep-ended", reason=reason)
    watched.event("closed")
    assert watched.lines == [said]


def test_nobody_is_told_to_stop_while_another_sweep_runs() -> None:
    watched = Watched()
    watched.event("sweep-begun", seq=5, check="rim")
    watched.event("sweep-begun", seq=6, check="face")
    watched.event("sweep-begun", seq=7, check="face", across="indicator-2")
    for seq, sweep in ((8, 5), (9, 6), (10, 7)):
        watched.event("sweep-ended", seq=seq, sweep=sweep, reason="complete")
    on = "rim sweep complete; bar on, the face sweep still runs"
    assert watched.lines == [on, "stop: face sweep complete"]


def test_what_runs_beside_is_shown() -> None:
    beside = BesidePart(check="face", gauge="indicator-2", max_deviation_mm=0.1, limit_mm=0.28)
    live = RUNNING.model_copy(update={"beside": (beside, beside.model_copy(update={"opposite": True}))})
    parts = live_parts(live, {}, UNITS["mm"])
    assert "face with indicator-2 so far 0.100 of 0.280 mm" in parts
    assert "opposite with indicator-2 so far 0.100 of 0.280 mm" in parts


def test_cautions_are_said_when_their_step_begins_and_between_sweeps_not_again() -> None:
    watched = Watched()
    opened = Live(inspection="i-1", cautions=("Wheels chocked.",))
    begun = RUNNING.model_copy(update={"cautions": ("Bar by hand.",)})
    other = opened.model_copy(update={"inspection": "i-2"})
    for live in (opened, opened, begun, begun, opened, begun, other):
        watched.live(live)
    watched.live(Live(cautions=("Take the barring tool off.",)))
    said = [
        "Wheels chocked.",
        "Bar by hand.",
        "Bar by hand.",
        "Wheels chocked.",
        "Take the barring tool off.",
    ]
    assert [line for line in watched.lines if "caution" in line] == [f"caution: {one}" for one in said]


def test_what_the_daemon_warns_of_is_said_once() -> None:
    watched = Watched()
    for warnings in ([], ["the disk is full"], ["the disk is full", "records cannot be kept"]):
        watched.screen.take(TOPICS.status, status_payload("online", warnings))
    watched.screen.take(TOPICS.status, status_payload("offline"))
    assert watched.lines == [
        "greywacke/bay-2: daemon online", "greywacke/bay-2: the disk is full",
        "greywacke/bay-2: records cannot be kept", "greywacke/bay-2: daemon offline",
    ]  # fmt: skip


def test_where_the_crank_does_not_turn_the_line_says_what_comes_next() -> None:
    step = "lift 2 of 3: lift the plunger and let it back"
    lifts = Live(check="lifts", value_mm=0.102, max_deviation_mm=0.002, next_step=step)
    assert live_parts(lifts, {}, MM) == ["lifts", step, "+0.102 mm", "spread so far 0.002 mm"]
    place = Live(check="thickness", gauge="typed", next_station_deg=90.0, next_radius="outer")
    assert live_parts(place, {"indicator-1": "absent"}, MM)[1] == "next: station 90° outer"
    assert live_parts(place, {}, MM)[3] == "spread so far – mm"


def test_what_a_repeatability_test_came_to_is_said_once() -> None:
    watched = Watched()
    for _ in range(2):
        watched.live(Live(repeatability_mm=0.0015))
    assert watched.lines == ["lifts: standard deviation 0.0015 mm"]
    assert idle_lines(Live(repeatability_mm=0.00254), INCH) == ["lifts: standard deviation 0.00010 in"]


def test_a_display_in_inches_says_its_sentences_in_inches() -> None:
    shown = Watched(unit="in")
    shown.live(RUNNING.model_copy(update={"warnings": ("4.60 of the 5 mm of travel are used",)}))
    rim = RIM.model_copy(update={"reason": "true TIR 0.186 mm is within the limit of 0.28 mm"})
    told = {"checks": RESULT.checks.model_copy(update={"rim": rim}), "reasons": (f"rim: {rim.reason}",)}
    shown.result(**told)
    said = "\n".join(shown.lines)
    assert "0.1811 of the 0.1969 in of travel are used" in said
    assert "rim: true TIR 0.0073 in is within the limit of 0.0110 in" in said


def test_why_a_check_is_invalid_is_said_where_another_one_decides_the_verdict() -> None:
    checks = Checks(
        visual=ObservedCheck(outcome="bad", reason="found bad: leak"),
        rim=SurfaceCheck(outcome="invalid", reason="only 5 readings", tir_mm=0.2, limit_mm=0.28),
        thickness=ThicknessCheck(
            outcome="within", reason="", spread_mm=0.2, true_spread_mm=0.19, u_expanded_mm=0.004,
            limit_mm=0.25, warnings=("drifted",),
        ),
    )  # fmt: skip
    assert of_checks(checks, "visual: found bad: leak") == [
        "  visual: bad",
        "  rim: invalid, limit 0.280 mm",
        "  thickness: within, 0.190 mm ± 0.004 mm, limit 0.250 mm",
        "  visual: found bad: leak",
        "  rim: only 5 readings",
        "  thickness: note: drifted",
    ]


def test_plain_output_is_one_line_a_second() -> None:
    watched = Watched()
    for n in range(41):
        watched.time_s = n * 0.05
        watched.live()
    assert len(watched.lines) == 1 + round(2.0 / PLAIN_PERIOD_S)


def test_what_was_looked_at_is_said_in_words_when_it_is_recorded_and_the_result_once_a_revision() -> None:
    watched = Watched()
    for revision in (3, 3, 4):
        watched.result(revision=revision)
    rest = ["  face is missing", "  next due: 14 840 h or 2027-03-02, whichever comes first"]
    assert watched.lines == [
        "inspection i-1 (revision 3, closed): measure again",
        "  visual: bad",
        "    good: Dry of engine oil",
        "    bad: leak: not so: No silicone fluid on the damper (at the joint)",
        "    good: Soaked the full time (45 min)",
        "    not looked at yet: hub",
        "  rim: within, 0.186 mm ± 0.008 mm, limit 0.280 mm",
        *rest,
        "inspection i-1 (revision 4, closed): measure again",
        "  visual: bad",
        "  rim: within, 0.186 mm ± 0.008 mm, limit 0.280 mm",
        *rest,
    ]
    assert decode(encode(RESULT)) == RESULT


def test_what_is_to_be_looked_at_is_told_once_while_it_is_open() -> None:
    items = (ItemPart(item="leak", seen="not seen", text="No silicone fluid on the damper"),)
    visual = ObservedCheck(outcome="missing", reason="not looked at yet", items=items)
    told = "    not looked at yet: leak: No silicone fluid on the damper"
    watched = Watched()
    for revision in (1, 2):
        watched.result(state="open", revision=revision, checks=Checks(visual=visual))
    assert watched.lines.count(told) == 1
    closed = Watched()
    closed.result(checks=Checks(visual=visual))
    assert told not in closed.lines


def test_of_several_checks_only_the_next_tells_what_is_to_be_looked_at() -> None:
    def looked(seen: Seen, item: str) -> ObservedCheck:
        outcome: ObservedOutcome = "good" if seen == "good" else "missing"
        reason = "all 1 item seen and good" if seen == "good" else "not looked at yet"
        return ObservedCheck(outcome=outcome, reason=reason, items=(ItemPart(item=item, seen=seen),))

    watched = Watched()
    both = Checks(visual=looked("not seen", "leak"), visual_bench=looked("not seen", "rim"))
    reasons = ("visual: not looked at yet", "visual-bench: not looked at yet")
    watched.result(state="open", revision=1, checks=both, verdict="incomplete", reasons=reasons)
    assert [line for line in watched.lines if "not looked at" in line] == ["    not looked at yet: leak"]
    then = both.model_copy(update={"visual": looked("good", "leak")})
    watched.result(state="open", revision=2, checks=then, verdict="incomplete", reasons=reasons[1:])
    assert [line.strip() for line in watched.lines if "not looked at" in line or "good: " in line] == [
        "not looked at yet: leak", "good: leak", "not looked at yet: rim",
    ]  # fmt: skip


def test_where_two_bays_are_watched_the_line_says_which() -> None:
    watched = Watched()
    watched.live(Live(), Topics("greywacke", "bay-1"))
    watched.live()
    assert watched.lines[-1].startswith("greywacke/bay-2 rim  angle")


@pytest.mark.parametrize(
    ("topic", "payload", "is_said"),
    [
        (TOPICS.live, b"\xff", True), (TOPICS.live, b"[1]", True), (TOPICS.live, b"", False),
        ("elsewhere", b"{}", False), (TOPICS.live, b'{"check":"rim","value_mm":"x"}', True),
        (TOPICS.result, b"{}", True), (TOPICS.status, b'{"state":"asleep"}', True),
        (TOPICS.reply("x"), b"{", False),
        (TOPICS.gauge_reading("indicator-1"), b"{", False),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said_once_and_does_no_harm(topic: str, payload: bytes, is_said: bool) -> None:
    watched = Watched(drawn_over=True, columns=200)
    for _ in range(2):
        watched.screen.take(topic, payload)
    said = (
        [f"{topic}: a message that this ringtrue cannot read; is the daemon a newer one?"] if is_said else []
    )
    assert watched.lines == said


def test_parts_are_packed_into_as_few_lines_as_hold_them() -> None:
    assert packed(["aaaa", "bbbb", "cc"], 10) == ["aaaa  bbbb", "cc"]
    assert packed(["aaaa bbbb cccc"], 10) == ["aaaa bbbb", "cccc"]


def test_raw_messages_are_lines_of_json(capsys: pytest.CaptureFixture[str]) -> None:
    print_raw(TOPICS.live, live_payload(RUNNING), True)
    print_raw("t", b"no json", False)
    first, second = map(json.loads, capsys.readouterr().out.splitlines())
    assert first == {
        "topic": TOPICS.live, "retained": True,
        "payload": RUNNING.model_dump()
        | {"places": [], "beside": [], "timers": [], "asked": [], "warnings": [], "cautions": []},
    }  # fmt: skip
    assert second == {"topic": "t", "retained": False, "payload": "no json"}
