"""Which page is shown: what the bay's state asks for, and where the person looks."""

from __future__ import annotations

from dataclasses import replace

from contract.kinds import KINDS
from contract.result import ObservedCheck, Result, SurfaceCheck
from contract.terms import TYPED
from display.told import told
from display.walk.page import Choice, Page, Values, go
from display.walk.pages.beginning import begin
from display.walk.pages.ending import over, sign
from display.walk.pages.looking import current, look
from display.walk.pages.opening import join, leave, scope, start, waiting
from display.walk.pages.outcome import asked, close, grading, lifts_done, outcome, overview
from display.walk.pages.running import running
from display.walk.place import Place
from display.walk.view import View, checks_of, next_check


def page_of(view: View, place: Place, typed: Values, signer: str = "") -> Page:
    """The page, with all cautions of the step and what is wrong with the bay. signer: who may sign."""
    page = _page(view, place, typed, signer)
    warnings = tuple(f"! {told(warning, view.words.language)}" for warning in view.warnings)
    name = view.now.inspection
    title = page.title if name is None or name in page.title else f"{name}: {page.title}"
    return replace(page, title=title, cautions=view.now.cautions, rows=(*warnings, *page.rows))


def moved(view: View, place: Place) -> Place:
    """The place, once the bay has gone on: whoever begins something takes every screen there."""
    live = view.now
    if live.inspection is None or live.inspection != place.inspection:
        return place
    if live.check is None:
        return place if place.check or place.stage else _at_first(view, place)
    stage = place.stage if place.stage in ("correct", "zero") and live.gauge == TYPED else ""
    return replace(place, check=live.check, stage=stage, again=(), gauge="", opposite="", turns=1)


def _at_first(view: View, place: Place) -> Place:
    """Where there is something to do; and there it stays when that is done, to say what came of it."""
    result = view.result_of(place.inspection)
    first = None if result is None else next_check(result)
    return place if result is None else replace(place, check=first, stage="" if first else "list")


def _page(view: View, place: Place, typed: Values, signer: str) -> Page:
    say = view.words.say
    if view.live is None:
        return waiting(view, say("Waiting for the bay: {why}.", why=say(view.away or "")))
    inspection = view.live.inspection
    if inspection is None:
        return _none_open(view, place, typed, signer)
    result = view.result_of(inspection)
    if result is None:
        return waiting(view, say("The bay is opening {name}.", name=inspection))
    if place.inspection != inspection:
        return join(view, result)
    if view.live.check is not None:
        return running(view, place)
    return _unread(view, place, say("read this first")) or _open(view, place, result, typed)


def _none_open(view: View, place: Place, typed: Values, signer: str) -> Page:
    result, say = view.result, view.words.say
    if result is not None and result.inspection != place.passed:
        if result.state == "open":
            return waiting(view, say("The bay is closing {name}.", name=result.inspection))
        if result.state == "closed":
            return _unread(view, place, say("before the lock comes off")) or sign(view, place, result, signer)
        if result.inspection == place.inspection:
            return over(view, result)
    return scope(view, place, typed) if place.stage == "scope" else start(view, place)


def _unread(view: View, place: Place, title: str) -> Page | None:
    """Cautions that were not read yet stand alone; after that they stay on top of each page."""
    cautions = view.now.cautions
    if place.read >= set(cautions):
        return None
    read = replace(place, read=place.read | set(cautions))
    on = Choice("enter", view.words.say("read: go on"), go(read), main=True)
    return Page("cautions", title, choices=(on, leave(view)))


def _open(view: View, place: Place, result: Result, typed: Values) -> Page:
    if place.stage == "list":
        return overview(view, place, result)
    if place.stage == "close":
        return close(view, place, result)
    checks = checks_of(result)
    name = place.check
    if name is None or (name not in checks and name != "lifts"):
        return overview(view, place, result)
    if view.grading is not None:
        return grading(view, place, view.grading)
    if name == "lifts":
        ended = view.ended is not None and view.ended.check == "lifts" and view.ended.reason != "cancelled"
        return lifts_done(view, place) if ended and place.stage == "" else begin(view, place, name)
    check = checks[name]
    if name not in KINDS:
        return outcome(view, place, result, name, check)
    if isinstance(check, ObservedCheck):
        left = check.outcome == "bad" and current(place, check) is not None  # what is left is looked at too
        if check.outcome == "missing" or left or place.again:
            return look(view, place, name, check, typed)
    elif check.outcome == "missing" or place.stage in ("begin", "dial"):
        return begin(view, place, name)
    elif isinstance(check, SurfaceCheck) and check.asks is not None:
        return asked(view, place, name, check.asks)
    return outcome(view, place, result, name, check)
