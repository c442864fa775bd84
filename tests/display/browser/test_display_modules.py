"""The modules that all pages share, in a real browser: lengths, geometry, trace, settings, tones, speech."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from contract.lengths import UNITS
from display.told import told
from display.words import LANGUAGES
from tests.display.browser.wall_stage import live, staged
from tests.display.test_display_told import SAID
from tests.display.told import samples

pytestmark = pytest.mark.slow

LENGTHS_MM = (
    0.0, -0.0, 0.0005, 0.0015, 0.0625, 0.1875, -0.0625, 0.4375, 0.28, 0.19, 0.27 - 0.08, -0.0004, 1e-9, 25.4,
    40.2765, 12.70635, 0.00127, 99999.9995, 0.5, 2.5e-4, 6.35e-3, 0.3125, 1.00635, -12.7,
)  # fmt: skip
"""Among them what lies exactly between two numbers of three decimals, and of four inches' decimals."""


@pytest.fixture(scope="module")
def origin() -> Iterator[str]:
    with staged() as stage:
        yield stage.url


@pytest.fixture(scope="module")
def page(chromium: Browser, origin: str) -> Iterator[Page]:
    with blank(chromium, origin) as made:
        yield made


@pytest.fixture
def fresh(chromium: Browser, origin: str) -> Iterator[Page]:
    """A page of its own, for what keeps something."""
    with blank(chromium, origin) as made:
        yield made


@contextmanager
def blank(chromium: Browser, origin: str) -> Iterator[Page]:
    context = chromium.new_context()
    made = context.new_page()
    made.goto(f"{origin}/blank")
    yield made
    context.close()


def run(page: Page, module: str, body: str, *given: Any) -> Any:
    """What a body of JavaScript makes of a module `m`."""
    return page.evaluate(
        f"async (given) => {{ const m = await import('/static/js/{module}.js'); {body} }}", list(given)
    )


@pytest.mark.parametrize("language", LANGUAGES)
def test_sentences_are_read_as_the_daemons_displays_read_them(fresh: Page, language: str) -> None:
    sentences = [*SAID, *samples(), "the moon is made of cheese", "__proto__: not measured yet", "(; ) x; y"]
    body = "await m.loadSaid(); return given[0].map(sentence => m.told(sentence).text)"
    fresh.evaluate("lang => localStorage.setItem('ringtrue', JSON.stringify({lang}))", language)
    fresh.reload()
    assert run(fresh, "told", body, sentences) == [told(sentence, language) for sentence in sentences]


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("more", [0, 1])
def test_lengths_are_written_digit_for_digit_as_the_daemons_displays_write_them(
    page: Page, unit: str, more: int
) -> None:
    drawn = random.Random(5)
    lengths = [
        *LENGTHS_MM,
        *(drawn.uniform(-1, 1) for _ in range(500)),
        *(n / 16000 for n in range(-400, 400)),
    ]
    body = """const unit = m.UNITS[given[1]];
    const both = mm => [m.number(unit, mm, {more: given[2]}), m.length(unit, mm, {sign: '+'})];
    return given[0].map(text => both(Number(text)))"""
    ours = UNITS[unit]
    wanted = [[ours.number(mm, more=more), ours.length(mm, sign="+")] for mm in lengths]
    # As text, since -0.0 is no JSON.
    assert run(page, "units", body, [f"{mm!r}" for mm in lengths], unit, more) == wanted


def test_a_length_that_is_none_is_a_dash(page: Page) -> None:
    assert run(page, "units", "return [m.number(m.UNITS.mm, null), m.length(m.UNITS.in, undefined)]") == [
        "–",
        "– in",
    ]


def test_crank_angles_rise_against_the_clock_from_the_top(page: Page) -> None:
    """As in the report's pictures (records/pictures/polar.py)."""
    spots = run(page, "geometry", "return [0, 90, 180, 270].map(deg => m.at(deg, 100))")
    rounded = [(round(spot["x"]), round(spot["y"])) for spot in spots]
    assert rounded == [(250, 150), (150, 250), (250, 350), (350, 250)]
    assert run(page, "geometry", "return m.turned(90)") == "rotate(-90.00 250 250)"


@pytest.mark.parametrize(("step_deg", "lines"), [(15, 1), (45, 1), (1, 2)])
def test_a_surface_read_at_stops_is_drawn_as_a_line_around(page: Page, step_deg: int, lines: int) -> None:
    """Around, not across: a chord between stops 45 degrees apart is drawn 11 of 150 too near the middle. Of
    a sweep that was read everywhere else, a hole of 40 degrees stays one."""
    angles = [deg for deg in range(0, 361, step_deg) if step_deg > 1 or not 100 < deg < 140]
    surface = {"angle_deg": angles, "value_mm": [0.1] * len(angles)}
    drawn = run(
        page,
        "overlay",
        """const unit = {perMm: 1, name: "mm"};
        const shown = {now: given[0], before: null, limitMm: 0.28, unit, label: ""};
        const path = m.overlay(shown).querySelector(".overlay-now");
        const radii = [];
        for (let at = 0; at < path.getTotalLength(); at += 1) {
          const { x, y } = path.getPointAtLength(at);
          radii.push(Math.hypot(x - 250, y - 250));
        }
        return [path.getAttribute("d").split("M").length - 1, path.getTotalLength(), Math.min(...radii)];""",
        surface,
    )
    assert drawn[0] == lines
    assert drawn[1] > 2 * math.pi * 150 * (0.98 if lines == 1 else 320 / 360)
    assert drawn[2] > 149


def test_the_limit_is_equally_wide_whatever_it_is_and_what_is_far_out_stays_in_the_picture(
    page: Page,
) -> None:
    body = """const scale = {midMm: 0.5, limitMm: given[0], midR: 138, halfR: 24, mostHalves: 2};
    return [0.5, 0.5 + given[0] / 2, 0.5 - given[0] / 2, 9, -9].map(mm => m.radiusOf(mm, scale))"""
    for limit in (0.28, 0.011):
        assert run(page, "geometry", body, limit) == pytest.approx([138, 162, 114, 186, 90])


def test_a_trace_takes_readings_by_the_degree_and_never_grows(page: Page) -> None:
    body = """let trace = null;
    const angle = n => (n * 7.3) % 360;
    for (let n = 0; n < 5000; n += 1) {
      trace = m.addReading(trace, {...given[0], angle_deg: angle(n), value_mm: n});
    }
    return [trace.bins.length, trace.changes, trace.bins[Math.floor(angle(4999))]]"""
    assert run(page, "trace", body, live("rim")) == [360, 5000, 4999]


def test_another_check_is_another_trace_and_what_is_no_turn_leaves_it(page: Page) -> None:
    body = """let trace = m.addReading(null, given[0]);
    const kept = m.addReading(trace, given[2]) === trace;
    trace = m.addReading(trace, given[1]);
    return [kept, trace.check, trace.bins.filter(value => value !== null)]"""
    assert run(page, "trace", body, live("rim"), live("face", value_mm=0.5), live("thickness")) == [
        True,
        "face",
        [0.5],
    ]


@pytest.mark.parametrize(
    ("filled", "join", "sectors"),
    [
        ([], 10, []),
        ([40], 10, [[40, 40]]),
        (range(101), 10, [[0, 100]]),
        ([*range(50), *range(100, 150)], 10, [[0, 49], [100, 149]]),
        ([*range(50), *range(300, 360)], 10, [[300, 409]]),
        (range(0, 360, 5), 10, [[0, 360]]),
        (range(0, 360, 45), 50, [[0, 360]]),
        ([0, 120], 50, [[0, 0], [120, 120]]),
    ],
)
def test_covered_sectors(page: Page, filled: Any, join: int, sectors: list[list[int]]) -> None:
    bins: list[float | None] = [None] * 360
    for bin_ in filled:
        bins[bin_] = 0.1
    assert run(page, "trace", "return m.sectors(...given)", bins, join) == sectors


def test_settings_are_kept_and_heard_and_what_is_not_ours_is_passed_over(fresh: Page, origin: str) -> None:
    body = """const heard = []; m.onChange(now => heard.push(now.unit)); m.set({unit: 'in', theme: 'dark'});
    return [m.get(), heard]"""
    settings, heard = run(fresh, "settings", body)
    assert (settings["unit"], heard) == ("in", ["in"])
    assert fresh.evaluate("document.documentElement.dataset.theme") == "dark"
    other = fresh.context.new_page()
    other.goto(f"{origin}/blank")
    assert run(other, "settings", "return m.get().unit") == "in"
    run(other, "settings", "m.set({unit: 'mm', lang: 'de'})")
    fresh.wait_for_function("document.documentElement.lang === 'de'")
    assert run(fresh, "settings", "return m.get().unit") == "mm"
    for rubbish in ("{", "7", "null", '{"unit": "furlong", "lang": "de"}'):
        other.evaluate("text => localStorage.setItem('ringtrue', text)", rubbish)
        other.reload()
        assert run(other, "settings", "return m.get().unit") == "mm"


STUB = """
const calls = [];
const since = at => +(at - 10).toFixed(3);
const context = {
  state: given[0], currentTime: 10, destination: {},
  resume() { context.state = 'running'; return Promise.resolve(); },
  createGain: () => ({
    gain: {setValueAtTime() {}, linearRampToValueAtTime() {}}, connect: to => to,
  }),
  createOscillator: () => ({
    frequency: {}, connect: to => to,
    start(at) { calls.push([this.frequency.value, since(at)]); },
    stop(at) { calls.at(-1).push(since(at)); },
  }),
};
const sound = m.createSound(() => context);
"""
SPEECH = """
const spoken = [];
const synth = {speak: one => spoken.push([one.text, one.lang]), cancel() { spoken.push('cancelled'); }};
const {createSpeech} = await import('/static/js/speech.js');
const speaker = createSpeech(synth, text => ({text}));
"""
TONES = ("mark", "turn", "stop", "warning", "over")


def test_tones_differ_in_pitch_and_in_rhythm(page: Page) -> None:
    body = STUB + "return given[1].map(name => { calls.length = 0; sound.play(name); return [...calls]; })"
    tones = dict(zip(TONES, run(page, "sound", body, "running", TONES), strict=True))
    assert all(tones.values())
    highest = [max(hz for hz, _, _ in notes) for notes in tones.values()]
    apart = sorted(highest)
    # A minor third apart at least (6:5).
    assert min(upper / lower for lower, upper in itertools.pairwise(apart)) >= 1.18
    rhythms = {tuple((at, end) for _, at, end in notes) for notes in tones.values()}
    assert len(rhythms) == len(TONES)
    assert len({len(notes) for notes in tones.values()}) == len(TONES)


def test_nothing_sounds_before_a_touch_and_nothing_comes_late(fresh: Page) -> None:
    body = "sound.play('stop'); return [sound.isWaiting(), calls.length]"
    assert run(fresh, "sound", STUB + body, "suspended") == [True, 0]
    body = """const told = []; sound.onState(() => told.push(1)); dispatchEvent(new Event('pointerdown'));
    await null; await null; sound.play('mark'); return [sound.isWaiting(), calls.length, told.length > 0]"""
    assert run(fresh, "sound", STUB + body, "suspended") == [False, 1, True]


def test_one_switch_turns_tones_and_speech_off(fresh: Page) -> None:
    body = """const {set} = await import('/static/js/settings.js');
    set({sound: true, lang: 'de'});
    speaker.say('eins'); speaker.say('one', 'en'); sound.play('mark');
    set({sound: false});
    speaker.say('zwei'); sound.play('mark');
    return [spoken, calls.length, sound.isWaiting()]"""
    told = run(fresh, "sound", STUB + SPEECH + body, "running")
    assert told == [[["eins", "de-DE"], ["one", "en-GB"]], 1, False]


def test_speech_that_is_behind_drops_what_is_no_news_any_more(fresh: Page) -> None:
    body = """for (const text of 'abcde') speaker.say(text);
    return spoken.map(one => typeof one === 'string' ? one : one[0])"""
    assert run(fresh, "speech", SPEECH + body) == ["a", "b", "c", "cancelled", "d", "e"]


HEARD = {
    "inspection": "one", "check": "rim", "isAway": False, "isTurn": True, "isAbove": False, "isMarked": False,
    "marks": "3", "covered": 350.0, "warnings": "", "gaugeAway": None, "revision": 1, "ofResult": "one",
    "isClosed": False, "outcomes": "", "rung": "", "long": "",
}  # fmt: skip


@pytest.mark.parametrize(
    ("before", "now", "tone"),
    [
        ({}, {}, None),
        ({}, {"covered": 360.2}, "turn"),
        ({}, {"isAbove": True}, "over"),
        ({"isAbove": True}, {"isAbove": True}, None),
        ({"isAbove": True, "check": "rim"}, {"isAbove": True, "check": "face"}, "over"),
        ({}, {"isAbove": True, "warnings": "gauge moved"}, "over"),
        ({}, {"warnings": "gauge moved"}, "warning"),
        ({"warnings": "gauge moved"}, {}, None),
        ({}, {"gaugeAway": "indicator-1"}, "warning"),
        ({}, {"isAway": True, "check": None, "inspection": None}, "warning"),
        ({"covered": 364.9}, {"check": None, "isTurn": False, "covered": 0.0}, "stop"),
        ({"isMarked": True}, {"isMarked": True, "marks": "4"}, "mark"),
        ({"isMarked": False}, {"marks": "4"}, None),
        ({"check": None}, {"check": None, "rung": "soak"}, "turn"),
        ({"check": None}, {"check": None, "long": "soak"}, "warning"),
    ],
)
def test_which_change_is_which_tone(
    page: Page, before: dict[str, Any], now: dict[str, Any], tone: str | None
) -> None:
    assert run(page, "cues", "return m.toneOf(...given)", HEARD | before, HEARD | now) == tone


def test_what_was_so_when_the_page_came_is_no_news(page: Page) -> None:
    assert run(page, "cues", "return m.toneOf(null, given[0])", HEARD | {"isAbove": True}) is None
