"""The wall page in a real browser: what it shows of a bay, and what it must not show."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.display.browser.wall_stage import CAUTIONS, Stage, gauge, live, opened, result, rim

pytestmark = pytest.mark.slow


def test_figure_limit_place_and_way_to_go(page: Page, stage: Stage) -> None:
    rim(stage)
    opened(page, stage)
    expect(page.locator(".figure-digits")).to_have_text("0.162")
    expect(page.locator(".scale-words")).to_have_text("limit 0.280 mm")
    expect(page.locator(".bar-on")).to_have_text("bar 245° more")  # rounded up: nobody stops too soon
    expect(page.locator(".dial-deg")).to_have_text("120°")
    expect(page.locator(".above")).to_be_hidden()
    for caution in CAUTIONS:
        expect(page.locator(".large .cautions")).to_contain_text(caution)
    expect(page.locator(".large .cautions ul")).to_have_attribute("lang", "en")


def test_the_pointer_goes_with_the_crank_against_the_clock(page: Page, stage: Stage) -> None:
    rim(stage, angle_deg=90.0)
    opened(page, stage)
    tip, dial = page.locator(".dial-tip"), page.locator(".dial-track")

    def side() -> tuple[int, int]:
        one, whole = tip.bounding_box(), dial.bounding_box()
        assert one is not None
        assert whole is not None
        right = one["x"] + one["width"] / 2 - whole["x"] - whole["width"] / 2
        down = one["y"] + one["height"] / 2 - whole["y"] - whole["height"] / 2
        return round(right / whole["width"] * 2), round(down / whole["height"] * 2)

    assert side() == (-1, 0)
    for angle, there in ((180.0, (0, 1)), (270.0, (1, 0)), (359.9, (0, -1))):
        stage.bay(live=live("rim", angle_deg=angle))
        expect(page.locator(".dial-deg")).to_have_text(f"{int(angle)}°")
        assert side() == there


def test_however_many_warnings_there_are_the_limit_s_band_and_how_far_to_bar_are_seen_whole(
    page: Page, stage: Stage
) -> None:
    page.set_viewport_size({"width": 1280, "height": 800})
    warnings = ["indicator-1: readings were lost on the line; check cable and plug"] * 6
    rim(stage, max_deviation_mm=0.399, to_bar_deg=133.0, warnings=warnings, cautions=["Hands clear."] * 3)
    opened(page, stage)
    expect(page.locator(".bar-on")).to_have_text("bar 133° more")
    left = page.locator(".large-left").bounding_box()
    assert left is not None
    for part in (".figure-digits", ".above", ".bar-on"):
        seen = page.locator(part).first.bounding_box()
        assert seen is not None
        assert left["y"] <= seen["y"] + 1, part
        assert seen["y"] + seen["height"] <= left["y"] + left["height"] + 1, part
        assert seen["height"] > 12, part


def test_at_marks_the_next_one_is_said_and_shown(page: Page, stage: Stage) -> None:
    rim(stage, angle_source="marks", next_mark_deg=240.0, to_bar_deg=None)
    opened(page, stage)
    expect(page.locator(".bar-on")).to_have_text("bar on to 240°")
    expect(page.locator(".dial-stop")).to_be_visible()
    expect(page.locator(".dial-stop-text")).to_have_text("stop at 240°")


@pytest.mark.parametrize(("opposite", "name"), [(False, "face wobble"), (True, "opposite")])
def test_two_that_run_abreast_have_a_dial_each(page: Page, stage: Stage, opposite: bool, name: str) -> None:
    """The second gauge of a face stands half a turn on; of one that is away no figure is shown."""
    second = {
        "check": "face", "gauge": "indicator-2", "opposite": opposite, "value_mm": 0.11, "min_mm": -0.2,
        "max_mm": 0.11, "max_deviation_mm": 0.31, "covered_deg": 120.0, "limit_mm": 0.28, "readings": 400,
    }  # fmt: skip
    there = {"indicator-1": gauge(), "indicator-2": gauge(), "encoder-1": gauge(measures="angle")}
    rim(stage, beside=[second], angle_deg=90.0)
    stage.bay(gauges=there)
    opened(page, stage)
    dials = page.locator(".dial")
    expect(dials).to_have_count(2)
    expect(dials.nth(0).locator(".dial-caption")).to_have_text("rim run-out, indicator-1: 0.162 mm")
    caption = dials.nth(1).locator(".dial-caption")
    expect(caption).to_have_text(f"{name}, indicator-2: 0.310 mm")
    assert dials.nth(1).get_attribute("data-above") is not None
    for n in (0, 1):
        expect(dials.nth(n).locator(".dial-deg")).to_have_text("90°")
    turned = dials.nth(1).locator(".dial-needle").get_attribute("transform")
    assert (turned == dials.nth(0).locator(".dial-needle").get_attribute("transform")) is not opposite
    stage.bay(gauges=there | {"indicator-2": gauge("silent", "nothing read")})
    expect(caption).to_have_text(f"{name}, indicator-2: –")
    expect(dials.nth(1).locator(".dial-now")).to_be_hidden()
    rim(stage)
    expect(dials).to_have_count(1)
    expect(page.locator(".dial-caption")).to_contain_text("seen from the front")


@pytest.mark.parametrize("state", ["silent", "absent"])
def test_a_gauge_that_is_not_connected_shows_no_number(page: Page, stage: Stage, state: str) -> None:
    rim(stage, max_deviation_mm=0.5)
    stage.bay(
        gauges={"indicator-1": gauge(state, "nothing read for 0.6 s"), "encoder-1": gauge(measures="angle")}
    )
    opened(page, stage)
    expect(page.locator(".figure-digits")).to_have_text("–")
    expect(page.locator(".warnings")).to_contain_text(f"indicator-1 is {state}: nothing read for 0.6 s")
    expect(page.locator(".bar-on")).to_have_text("stop barring")
    expect(page.locator(".figure-beside")).not_to_contain_text("now")
    expect(page.locator(".dial-now")).to_be_hidden()
    expect(page.locator(".above")).to_be_hidden()


def test_an_encoder_that_is_not_connected_shows_no_angle(page: Page, stage: Stage) -> None:
    rim(stage)
    stage.bay(gauges={"indicator-1": gauge(), "encoder-1": gauge("silent", "no pulse", measures="angle")})
    opened(page, stage)
    expect(page.locator(".warnings")).to_contain_text("encoder-1 is silent")
    expect(page.locator(".bar-on")).to_have_text("stop barring")
    expect(page.locator(".dial-needle")).to_be_hidden()
    expect(page.locator(".dial-deg")).to_have_text("")


def test_a_wall_that_is_one_too_many_says_why(page: Page, stage: Stage) -> None:
    """In the language of the page; and it is shown as soon as there is room."""
    stage.refuses = "40 walls are open from this address already: close one."
    told = page.context.new_page()  # a request that is refused is told on the console
    told.add_init_script("localStorage.setItem('ringtrue', JSON.stringify({lang: 'de'}))")
    told.goto(f"{stage.url}/wall")
    expect(told.locator("body")).to_contain_text("Von dieser Adresse sind schon 40 Wandtafeln offen")
    expect(told.locator("body")).to_contain_text("NICHTS ZU HÖREN")
    stage.refuses = ""
    rim(stage)
    expect(told.locator(".figure-digits")).to_have_text("0.162")


@pytest.mark.parametrize("what", ["bay", "broker"])
def test_what_is_away_says_so_large_and_shows_no_figure(page: Page, stage: Stage, what: str) -> None:
    rim(stage)
    opened(page, stage)
    expect(page.locator(".figure-digits")).to_be_visible()
    if what == "bay":
        stage.bay(away="the bay's daemon is not running")
    else:
        stage.tell("broker", {"away": "the broker does not answer"})
    expect(page.locator(".large .away h1")).to_have_text(f"{what.upper()} AWAY")
    for gone in (".figure", ".dial", ".between", ".reasons-column"):
        expect(page.locator(gone)).to_be_hidden()
    if what == "bay":
        stage.bay(away=None)
    else:
        stage.tell("broker", {"away": None})
    expect(page.locator(".figure-digits")).to_have_text("0.162")


def test_after_five_seconds_without_a_word_no_figure_passes_for_live(page: Page, stage: Stage) -> None:
    page.clock.install()
    rim(stage)
    opened(page, stage)
    page.clock.run_for(4000)
    expect(page.locator(".figure-digits")).to_have_text("0.162")
    page.clock.run_for(2000)
    expect(page.locator(".large .away h1")).to_have_text("NOTHING HEARD")
    expect(page.locator(".figure")).to_be_hidden()
    stage.tell("alive", {})
    for _ in range(100):
        page.clock.run_for(50)
        if page.locator(".figure-digits").is_visible():
            break
    expect(page.locator(".figure-digits")).to_have_text("0.162")


def test_what_was_heard_before_the_stream_broke_is_not_mixed_with_what_comes_after(
    page: Page, stage: Stage
) -> None:
    page.goto(f"{stage.url}/blank")
    heard = page.evaluate(
        """async () => {
        const { connect } = await import('/static/js/stream.js');
        const source = new EventTarget();
        const { bays } = connect('none', { open: () => source });
        const say = told => source.dispatchEvent(new MessageEvent('bay', { data: JSON.stringify(told) }));
        say({ bay: 'a', away: 'gone', live: { check: null } });
        say({ bay: 'b', live: { check: null } });
        source.dispatchEvent(new Event('open'));
        say({ bay: 'a', live: { check: 'thickness' } });
        return ['a', 'b'].map(bay => [bays.get(bay).isHeard, bays.get(bay).away]);
        }"""
    )
    assert heard == [[True, None], [False, None]]


def test_between_checks_the_verdict_so_far_and_every_check(page: Page, stage: Stage) -> None:
    why = "true TIR 0.326 mm is above the limit"
    face = {
        "outcome": "over",
        "reason": why,
        "limit_mm": 0.28,
        "true_tir_mm": 0.326,
        "warnings": ["note this"],
    }
    checks = result()["checks"] | {"face": face}
    stage.bay(live=live(), result=result(checks=checks, verdict="replace", reasons=[f"face: {why}"]))
    opened(page, stage)
    expect(page.locator(".verdict-word")).to_have_text("REPLACE")
    expect(page.locator(".verdict-label")).to_have_text("Verdict so far, not closed yet")
    rows = page.locator(".checks li")
    expect(rows).to_have_count(3)
    expect(rows.nth(1)).to_contain_text("rim run-outwithin0.173 ± 0.004 mmlimit 0.280")
    expect(rows.nth(2)).to_contain_text("OVER")
    for outcome, kind in ((0, "good"), (1, "good"), (2, "bad")):  # by shape as well as by word
        expect(rows.nth(outcome).locator("svg")).to_have_class(f"shape {kind}")
    expect(page.locator(".reasons li").first).to_have_text(
        "face wobble: true TIR 0.326 mm is above the limit"
    )
    expect(page.locator(".reasons")).to_contain_text("note this")


def test_a_result_of_the_inspection_before_is_never_taken_for_the_one_that_is_open(
    page: Page, stage: Stage
) -> None:
    stage.bay(live=live(inspection="truck-15-november"), result=result(verdict="keep", state="signed"))
    opened(page, stage)
    expect(page.locator(".verdict-word")).to_have_text("NOTHING DONE YET")
    expect(page.locator(".checks li")).to_have_count(0)
    expect(page.locator("body")).not_to_contain_text("KEEP")


@pytest.mark.parametrize("name", ["R. Example", None])
def test_what_a_signer_decided_otherwise_stands_first(page: Page, stage: Stage, name: str | None) -> None:
    who = {} if name is None else {"signed_by": name}
    said = result(verdict="keep", state="signed", decision="replace", reasons=[], **who)
    stage.bay(live=live(inspection=None), result=said)
    opened(page, stage)
    expect(page.locator(".verdict-word")).to_have_text("REPLACE")
    expect(page.locator(".verdict-label")).to_contain_text(
        "Signed, against the verdict KEEP" if name is None else f"Signed by {name}, against the verdict KEEP"
    )


def test_when_a_sweep_ends_it_says_stop_until_the_result_is_there(page: Page, stage: Stage) -> None:
    rim(stage)
    opened(page, stage)
    expect(page.locator(".figure")).to_be_visible()
    stage.bay(live=live())
    expect(page.locator(".verdict-word")).to_have_text("STOP")
    expect(page.locator(".checks")).not_to_contain_text("within")  # nor the figures of the sweep before
    stage.bay(result=result(revision=4))
    expect(page.locator(".verdict-word")).to_have_text("INCOMPLETE")


def test_a_sweep_that_was_cancelled_is_not_waited_for(page: Page, stage: Stage) -> None:
    page.clock.install()
    rim(stage)
    opened(page, stage)
    expect(page.locator(".figure")).to_be_visible()
    stage.bay(live=live())
    expect(page.locator(".verdict-word")).to_have_text("STOP")  # it has heard that nothing runs any more
    for _ in range(100):
        page.clock.run_for(100)
        stage.tell("alive", {})
    expect(page.locator(".verdict-word")).to_have_text("INCOMPLETE")


def test_thickness_fills_its_map(page: Page, stage: Stage) -> None:
    places = [
        {"station_deg": 0.0, "radius": "outer", "value_mm": 40.276, "readings": 1},
        {"station_deg": 0.0, "radius": "inner", "value_mm": 40.28, "readings": 1},
    ]
    figures: dict[str, Any] = {"max_deviation_mm": 0.004, "limit_mm": 0.25, "gauge": "indicator-1"}
    stage.bay(live=live("thickness", **figures, places=places, next_station_deg=90.0, next_radius="outer"))
    opened(page, stage)
    expect(page.locator(".map-place")).to_have_count(8)
    expect(page.locator(".map-place[data-empty]")).to_have_count(6)
    expect(page.locator(".map-place").nth(0)).to_contain_text("40.276lowest")
    expect(page.locator(".map-place").nth(1)).to_contain_text("40.280highest")
    expect(page.locator(".map-place[data-next]")).to_contain_text("next")
    expect(page.locator(".bar-on")).to_have_text("next: 90° outer")
    stage.bay(live=live("thickness", **figures, places=places, next_station_deg=0.0, next_radius="zero"))
    expect(page.locator(".bar-on")).to_have_text("next: zero, closed or on its standard")
    expect(page.locator(".map-zero[data-next]")).to_be_visible()


def test_dwells_are_timed_large_and_say_when_they_may_end(page: Page, stage: Stage) -> None:
    dwell = {"check": "warm-leak", "item": "soak", "text": "Held warm", "elapsed_s": 725, "least_min": 5.0}
    other = {
        "check": "penetrant",
        "item": "developer-dwell",
        "elapsed_s": 1801,
        "least_min": 10.0,
        "most_min": 30.0,
    }
    stage.bay(live=live(timers=[dwell, other]), result=result())
    opened(page, stage)
    timers = page.locator(".timer")
    expect(timers.nth(0)).to_contain_text("12:05")
    expect(timers.nth(0)).to_contain_text("MAY END NOW")
    expect(timers.nth(1)).to_contain_text("TOO LONG")


def test_the_bay_that_is_asked_for_is_named_also_where_it_was_never_heard(page: Page, stage: Stage) -> None:
    rim(stage)
    opened(page, stage, "?bay=quarry/bay-77")
    expect(page.locator(".wall-title")).to_have_text("quarry/bay-77")
    expect(page.locator(".large .away h1")).to_have_text("BAY NOT HEARD")
    expect(page.locator("body")).not_to_contain_text("0.162")


def test_the_dial_says_whether_nought_is_the_timing_mark_and_where_an_encoders_crank_is_to_stop(
    page: Page, stage: Stage
) -> None:
    rim(stage, angle_zero="encoder")
    opened(page, stage)
    dial = page.locator("svg", has=page.locator(".dial-track"))
    expect(dial).to_contain_text("0° of the encoder")
    stage.bay(live=live("rim", angle_zero="timing-mark", next_mark_deg=240.0))
    expect(dial).to_contain_text("0° timing mark")
    expect(page.locator(".dial-stop-text")).to_have_text("stop at 240°")
