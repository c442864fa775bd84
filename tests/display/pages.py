"""Every page of the walk, as a bay may ask for it. What comes from a bay has no letter here, so that each
letter on a page is the walk's own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from contract.lengths import UNITS
from contract.live import AskedPart, BesidePart, Live, TimerPart
from contract.methods import MethodMessage
from contract.result import Result
from contract.states import GaugeStateMessage
from display.walk.course import page_of
from display.walk.page import Page
from display.walk.place import Place, Stage
from display.walk.view import Ended, View
from display.words import Words
from records.photos import KeptPhoto

NAME = "14"
ITEMS = [
    {"item": "1", "seen": "not seen", "text": "¶"},
    {"item": "2", "seen": "good", "text": "¶", "note": "¶"},
]
PICTURED = {"item": "3", "seen": "bad", "text": "¶", "photos": [{"file": "1"}]}
MEASURED = {
    "outcome": "over", "reason": "¶", "limit_mm": 0.28, "true_tir_mm": 0.31, "u_expanded_mm": 0.02,
    "warnings": ["¶"], "attempts": [{"number": 1, "counted": False}, {"number": 2, "counted": True}],
}  # fmt: skip
CHECKS: dict[str, dict[str, Any]] = {
    "visual": {"outcome": "good", "reason": "¶", "items": [ITEMS[1]]},
    "rim": MEASURED,
    "face": {"outcome": "missing", "reason": "¶", "limit_mm": 0.28},
    "visual-bench": {"outcome": "missing", "reason": "¶", "items": [PICTURED, *ITEMS]},
    "thickness": {"outcome": "unclear", "reason": "¶", "limit_mm": 0.25, "spread_mm": 0.24},
    "penetrant": {"outcome": "missing", "reason": "¶", "items": [{**ITEMS[0], "item": "penetrant-dwell"}]},
    "warm-leak": {"outcome": "invalid", "reason": "¶", "items": ITEMS},
    "suitability": {"outcome": "bad", "reason": "¶"},
}
PLAIN = Place(inspection=NAME)
ISSUED = {"id": "1", "version": "2", "sha256": "0" * 64, "number": 7, "since": "2026-11-02T06:00:00Z"}
METHODS = [
    MethodMessage.model_validate({"in_force": ISSUED, **more})
    for more in ({}, {"waiting": {**ISSUED, "version": "3"}}, {"withheld": "¶"})
]
STAGES: tuple[Stage, ...] = ("", "correct", "zero")


def result(**more: Any) -> Result:
    said = {
        "inspection": NAME, "revision": 3, "state": "open", "site": "1", "bay": "2", "scope": "both",
        "engine": {"serial": "1"}, "damper": {"serial": "2"}, "opened": "2026-03-02T06:00:00Z",
        "work_order": "17", "method": {"id": "1", "version": "1", "sha256": "0"}, "checks": CHECKS,
        "verdict": "replace", "reasons": ["¶"], "software": "1", "readings_sha256": "0",
        "next_due": {"hours_h": 14840, "distance_km": 200000, "date": "2027-11-02"},
    }  # fmt: skip
    return Result.model_validate({**said, **more})


def views(words: Words, unit: str = "mm") -> Iterator[tuple[View, Place]]:
    """What a bay may say, and where a person may look."""
    base = View("1/2", words=words, unit=UNITS[unit], keep=lambda _: KeptPhoto(Path("1"), is_new=False))
    yield replace(base, away="connecting"), Place()
    yield replace(base, live=Live()), Place()
    for method in METHODS:
        yield replace(base, live=Live(), method=method), Place()
    yield replace(base, live=Live(), result=result(state="signed")), Place()
    yield replace(base, live=Live()), Place(stage="scope")
    yield replace(base, live=Live(inspection=NAME)), Place()
    yield replace(base, live=Live(), result=result()), Place()
    yield from _ended(base)
    there = replace(base, live=Live(inspection=NAME, warnings=("¶",)), result=result(), warnings=("¶",))
    yield there, Place()
    yield replace(there, live=Live(inspection=NAME, cautions=("¶",))), PLAIN
    yield there, replace(PLAIN, stage="list")
    yield there, replace(PLAIN, stage="close")
    done = {"visual": CHECKS["visual"]}
    yield replace(there, result=result(checks=done)), replace(PLAIN, stage="list")
    yield replace(there, result=result(checks=done)), replace(PLAIN, check="visual")
    for check in CHECKS:
        yield there, replace(PLAIN, check=check)
    asked = {"mark_deg": 120, "stops": [{"at_s": 43, "lasted_s": 6.5}, {"at_s": 75, "lasted_s": 200}]}
    checks = {"rim": {"outcome": "invalid", "reason": "¶", "limit_mm": 0.28, "asks": asked}}
    yield replace(there, result=result(checks=checks)), replace(PLAIN, check="rim")
    yield from _before(there)
    yield from _looked_at(there)
    for live in _running():
        heard: tuple[dict[str, GaugeStateMessage], ...] = (
            {},
            {"7": gauge("silent")},
            {"7": gauge("connected")},
            {"7": gauge("connected"), "8": gauge("connected")},
            {"7": gauge("connected"), "8": gauge("silent")},
        )
        for gauges in heard:
            for stage in STAGES:
                yield replace(there, live=live, gauges=gauges), replace(PLAIN, stage=stage)
        yield replace(there, live=live, away="¶"), PLAIN


def _ended(base: View) -> Iterator[tuple[View, Place]]:
    for by in (None, "¶"):
        closed = replace(base, live=Live(), result=result(state="closed"), ended_by=by)
        yield closed, PLAIN
        yield closed, replace(PLAIN, stage="decide")
        yield closed, replace(PLAIN, stage="remark", decision="keep")
        yield replace(closed, result=result(state="abandoned")), PLAIN
    yield replace(closed, live=Live(cautions=("¶",))), PLAIN
    signed = result(state="signed", signed_by="¶", decision="keep", remark="¶")
    yield replace(closed, result=signed), PLAIN


def _before(there: View) -> Iterator[tuple[View, Place]]:
    gauges = {"7": gauge("connected"), "8": gauge("absent")}
    two = {"7": gauge("connected"), "8": gauge("connected")}
    for turns in (1, 2):
        yield replace(there, gauges=two), replace(PLAIN, check="face", stage="begin", turns=turns)
    yield there, replace(PLAIN, check="face", stage="dial", gauge="7", opposite="8")
    for check in ("rim", "face", "thickness", "lifts"):
        yield replace(there, gauges=gauges), replace(PLAIN, check=check, stage="begin")
        yield there, replace(PLAIN, check=check, stage="dial", gauge="typed")
        ended = Ended(check, "complete", None, 3)
        yield replace(there, ended=ended), replace(PLAIN, check=check)
        for by in (None, "¶"):
            cancelled = replace(there, ended=Ended(check, "cancelled", by, 3))
            yield cancelled, replace(PLAIN, check=check, stage="begin")
    over = Live(inspection=NAME, repeatability_mm=0.001, warnings=("¶",))
    yield replace(there, live=over, ended=Ended("lifts", "complete", None, 2)), replace(PLAIN, check="lifts")


def _looked_at(there: View) -> Iterator[tuple[View, Place]]:
    for check in ("visual", "visual-bench", "penetrant", "warm-leak"):
        items = tuple(item["item"] for item in CHECKS[check]["items"])
        for item in items:
            place = replace(PLAIN, check=check, again=(item,))
            yield there, place
            yield there, replace(place, stage="photo")
            for seen in ("", "bad"):
                yield there, replace(place, stage="note", seen=seen)
    for name in ("penetrant-dwell", "1"):
        check = "penetrant" if name != "1" else "warm-leak"
        place = replace(PLAIN, check=check, again=(name,))
        for bounds in ({}, {"least": 5.0, "most": 60.0}):
            heat = AskedPart(check=check, item=name, figure="temperature_c", **bounds)
            yield replace(there, live=Live(inspection=NAME, asked=(heat,))), place
            dwell = AskedPart(check=check, item=name, figure="time_min", **bounds)
            yield replace(there, live=Live(inspection=NAME, asked=(dwell,))), replace(place, stage="minutes")
            yield replace(there, live=Live(inspection=NAME, asked=(dwell,))), place
            minutes = {f"{key}_min": value for key, value in bounds.items()}
            for elapsed, ended in ((60, False), (400, False), (4000, False), (400, True)):
                timer = TimerPart(check=check, item=name, elapsed_s=elapsed, ended=ended, **minutes)
                yield replace(there, live=Live(inspection=NAME, asked=(dwell,), timers=(timer,))), place
    yield there, replace(PLAIN, check="visual-bench", later=tuple(str(n) for n in (1, 2, 3)))


def _running() -> Iterator[Live]:
    base = Live(inspection=NAME, gauge="7", value_mm=0.1, readings=1, warnings=("¶",), max_deviation_mm=0.3)
    for gauge_id in ("7", "typed"):
        for check in ("rim", "face"):
            turn = base.model_copy(update={"check": check, "gauge": gauge_id, "covered_deg": 90.0})
            yield turn
            more = {"limit_mm": 0.28, "to_bar_deg": 12.5, "back_deg": 3.0, "back_times": 2, "angle_deg": 4.0}
            yield turn.model_copy(update=more)
            for opposite in (False, True):
                beside = BesidePart(
                    check="rim" if check == "face" and not opposite else "face", gauge="8", opposite=opposite,
                    max_deviation_mm=0.29, limit_mm=0.28,
                )  # fmt: skip
                yield turn.model_copy(update={**more, "beside": (beside,)})
            yield turn.model_copy(update={"angle_source": "marks", "back_deg": 3.0, "back_times": 1})
            yield turn.model_copy(update={"angle_source": "marks", "next_mark_deg": 120.0})
            yield turn.model_copy(update={"angle_source": "dwells", "next_mark_deg": 360.0})
        for radius in ("outer", "inner", "zero"):
            at = {"check": "thickness", "limit_mm": 0.25, "next_station_deg": 90.0, "next_radius": radius}
            yield base.model_copy(update={**at, "gauge": gauge_id})
        yield base.model_copy(update={"check": "thickness", "gauge": gauge_id})
        lifting = {"check": "lifts", "gauge": gauge_id, "lifts": 1, "lifts_wanted": 3, "next_step": "¶"}
        yield base.model_copy(update=lifting)


def gauge(state: str) -> GaugeStateMessage:
    return GaugeStateMessage.model_validate({"state": state, "reason": "¶", "since": "2026-03-02T06:00:00Z"})


def pages(words: Words, unit: str = "mm") -> Iterator[Page]:
    """All of them, in this order."""
    for view, place in views(words, unit):
        yield page_of(view, place, {"open.engine": "1", "open.damper": "2"}, "¶")
