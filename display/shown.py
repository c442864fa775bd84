"""What a display in the terminal says: messages of the contract as lines for a technician."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import ceil, floor

from contract.corrections import in_words
from contract.lengths import LengthUnit
from contract.live import BesidePart, Live, TimerPart
from contract.methods import MethodMessage
from contract.result import Check, ItemPart, NextDue, ObservedCheck, Result, SurfaceCheck, ThicknessCheck
from contract.terms import TYPED, PublicState
from contract.words import count_of, due_parts, due_words, item_words
from display.words import ENGLISH, Words

# Barred back by less is a hand that rests.
BACK_SHOWN_DEG = 1.0
# Reasons of a check with which nobody has begun.
UNTOUCHED = ("not looked at yet", "not measured yet")


def live_parts(live: Live, gauges: Mapping[str, PublicState], unit: LengthUnit) -> list[str]:
    """The figures of what runs, each whole; a gauge that is not connected shows no number."""
    away = {gauge: state for gauge, state in gauges.items() if state != "connected"}
    if live.gauge == TYPED:
        away = {}
    value = None if live.gauge in away else live.value_mm
    running = "run-out" if live.check in ("rim", "face") else "spread"
    so_far = f"{running} so far {unit.number(live.max_deviation_mm)}"
    so_far += f" of {unit.length(live.limit_mm)}" if live.limit_mm is not None else f" {unit.name}"
    return [
        str(live.check),
        *(f"{gauge} {state}" for gauge, state in sorted(away.items())),
        *_place(live),
        "no value" if value is None else unit.length(value, sign="+"),
        so_far,
        *(_beside(beside, unit) for beside in live.beside),
        *barring_words(live),
        *(["gauges connected"] if gauges and not away else []),
    ]


def method_line(method: MethodMessage) -> str:
    """Which method is in force, where an office hands them out."""
    now = method.in_force
    if method.withheld is not None:
        return "no method is in force: no inspection can be opened"
    said = f"by method {now.id} {now.version}"
    if method.waiting is not None:
        return f"{said}; {method.waiting.id} {method.waiting.version} waits until this inspection is over"
    return said if now.since is None else f"{said}, since {now.since[:10]}"


def method_words(method: MethodMessage | None, result: Result | None, words: Words) -> list[str]:
    """The same as a row, with who signed it, or none. result: of the inspection that is open, whose method is
    told where no office hands any out."""
    say = words.say
    if method is None:
        return [] if result is None else [_by(f"{result.method.id} {result.method.version}", None, words)]
    if method.withheld is not None:
        return [say("No method is in force: no inspection can be opened")]
    now, waiting = method.in_force, method.waiting
    said = [_by(f"{now.id} {now.version}", now.since, words)]
    if now.number is not None:
        said.append(say("signed by its office: issue {number}", number=now.number))
    if waiting is not None:
        named = f"{waiting.id} {waiting.version}"
        said.append(say("{method} waits until this inspection is over", method=named))
    return [" · ".join(said)]


def _by(named: str, since: str | None, words: Words) -> str:
    if since is None:
        return words.say("By method {method}", method=named)
    return words.say("By method {method}, since {day}", method=named, day=since[:10])


def _beside(beside: BesidePart, unit: LengthUnit) -> str:
    """What runs beside it, so far."""
    name = "opposite" if beside.opposite else beside.check
    limit = "" if beside.limit_mm is None else f" of {unit.length(beside.limit_mm)}"
    return (
        f"{name} with {beside.gauge} so far {unit.number(beside.max_deviation_mm)}{limit or ' ' + unit.name}"
    )


def _place(live: Live) -> Iterator[str]:
    """Where the crank stands; or what to do next, where it does not turn."""
    if live.check == "lifts":
        if live.next_step:
            yield live.next_step
    elif live.next_station_deg is not None:
        where = f"station {live.next_station_deg:g}° {live.next_radius}"
        yield "next: zero, closed or on its standard" if live.next_radius == "zero" else f"next: {where}"
    elif live.check != "thickness":
        of = " of the encoder" if live.angle_zero == "encoder" else ""
        yield f"angle {'    –' if live.angle_deg is None else format(live.angle_deg, '5.1f')}°{of}"
        if live.next_mark_deg is not None:
            yield f"next stop at {live.next_mark_deg % 360:g}°"


def barring_words(live: Live, words: Words = ENGLISH) -> Iterator[str]:
    """How far the crank has come, how far to bar yet, and whether it went back."""
    say = words.say
    if live.covered_deg is not None:
        # Rounded so that nobody stops too soon.
        deg = floor(live.covered_deg)
        if live.to_bar_deg is None:
            yield say("covered {deg}° of 360°", deg=deg)
        else:
            yield say("covered {deg}°, bar {more}° more", deg=deg, more=ceil(live.to_bar_deg))
    if live.back_deg is not None and live.back_deg >= BACK_SHOWN_DEG:
        back = f"{live.back_deg:.0f}"
        if (live.back_times or 0) > 1:
            yield say("barred back {deg}°, {times} times", deg=back, times=live.back_times)
        else:
            yield say("barred back {deg}°", deg=back)


def ended_line(check: str, reason: str) -> str:
    """That a sweep is over, and what to do."""
    what = "repeatability test" if check == "lifts" else f"{check} sweep".removeprefix("sweep ")
    said = {
        "complete": f"stop: {what} complete",
        "full": f"stop: the {what} holds no more readings",
        "cancelled": f"{what} cancelled, does not count",
    }
    return said.get(reason, f"{what} ended")


def idle_lines(live: Live, unit: LengthUnit) -> list[str]:
    """What is to be said while nothing runs: what a repeatability test came to, and what is wrong."""
    lines = list(live.warnings)
    if live.repeatability_mm is not None:
        lines.append(f"lifts: standard deviation {unit.length(live.repeatability_mm, more=1)}")
    return lines


def timer_line(timer: TimerPart) -> str:
    """How long a dwell lasts by now, and how long it must."""
    minutes, seconds = divmod(timer.elapsed_s, 60)
    bounds = []
    if timer.least_min is not None:
        bounds.append(f"at least {timer.least_min:g} min")
    if timer.most_min is not None:
        bounds.append(f"at most {timer.most_min:g} min")
    ended = " ended, record it" if timer.ended else ""
    return f"{timer.item} {minutes}:{seconds:02d}{ended}" + (f" ({', '.join(bounds)})" if bounds else "")


def rung_line(timer: TimerPart) -> str | None:
    """What is said of a dwell once: that it lasted long enough, or too long. None while it must go on."""
    told = rung_words(timer)
    return None if told is None else f"{timer.item}: {told}"


def rung_words(timer: TimerPart, words: Words = ENGLISH) -> str | None:
    """The same without its item."""
    minutes = timer.elapsed_s / 60
    if timer.most_min is not None and minutes > timer.most_min:
        most = f"{timer.most_min:g}"
        return words.say("over {most} min, too long: end it, and do the check again", most=most)
    if timer.ended or timer.least_min is None or minutes < timer.least_min:
        return None
    return words.say("{least} min reached, it may end now", least=f"{timer.least_min:g}")


def result_lines(result: Result, unit: LengthUnit, items_of: frozenset[str] = frozenset()) -> list[str]:
    """A result as a technician reads it: verdict, checks, reasons, next date.

    items_of: the checks by eye of which each item is told.
    """
    head = f"inspection {result.inspection} (revision {result.revision}, {result.state})"
    lines = [f"{head}: {result.verdict.replace('-', ' ')}"]
    if result.decision is not None:
        lines.append(
            f"  signed by {result.signed_by}, against the verdict: {result.decision.replace('-', ' ')}"
        )
    if result.remark is not None:
        lines.append(f"  remark of {result.signed_by}: {result.remark}")
    lines += [f"  corrected by {in_words(one)}" for one in result.corrections or ()]
    checks = result.checks.by_name()
    for name, check in checks.items():
        lines.append(f"  {name}: {outcome_words(check, unit)}")
        if isinstance(check, ObservedCheck) and name in items_of:
            lines += [f"    {_item(item)}" for item in check.items]
    # That nobody has begun with a check is said by its outcome.
    begun = {f"{name}: {check.reason}" for name, check in checks.items() if check.reason in UNTOUCHED}
    reasons = [reason for reason in result.reasons if reason not in begun]
    for name, check in checks.items():  # they are no reason where another check decides
        told = any(reason.startswith(f"{name}:") for reason in reasons)
        if check.outcome in ("invalid", "unclear") and not told:
            reasons.append(f"{name}: {check.reason}")
        reasons += [f"{name}: note: {warning}" for warning in check.warnings]
        if isinstance(check, SurfaceCheck) and check.excluded:
            reasons.append(f"{name}: not in the uncertainty: {'; '.join(check.excluded)}")
    lines += [f"  {reason}" for reason in reasons]
    if result.next_due is not None:
        lines.append(f"  next due: {due_words(result.next_due)}")
    return lines


def outcome_words(check: Check, unit: LengthUnit, words: Words = ENGLISH) -> str:
    """What a check came to, with its figure and limit."""
    text = words.say(check.outcome)
    if isinstance(check, ObservedCheck):
        return text
    if check.outcome != "invalid":  # what is not judged is no figure
        if isinstance(check, ThicknessCheck):
            best, raw = check.true_spread_mm, check.spread_mm
        else:
            best, raw = check.true_tir_mm, check.tir_mm
        figure = raw if best is None else best
        if figure is not None:
            text += f", {unit.length(figure)}"
            if check.u_expanded_mm is not None:
                text += f" ± {unit.length(check.u_expanded_mm)}"
    return words.say("{outcome}, limit {limit}", outcome=text, limit=unit.length(check.limit_mm))


def due_in_words(due: NextDue, words: Words) -> str:
    """When it is due, by what comes first."""
    parts = words.say(" or ").join(due_parts(due))
    return parts if len(due_parts(due)) < 2 else words.say("{due}, whichever comes first", due=parts)


def _item(item: ItemPart) -> str:
    if item.seen == "not seen":
        told = [item.item, *([item.text] if item.text else []), *([item.note] if item.note else [])]
        return "not looked at yet: " + ": ".join(told)
    figures = []
    if item.time_min is not None:
        figures.append(f"{item.time_min:g} min")
    if item.temperature_c is not None:
        figures.append(f"{item.temperature_c:g} °C")
    if item.photos:
        figures.append(count_of(len(item.photos), "photo"))
    said = ", ".join([*figures, *([item.note] if item.note else [])])
    return f"{item.seen}: {item_words(item)}" + (f" ({said})" if said else "")
