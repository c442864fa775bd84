"""The next step, for whoever asks in practice; an exam has none."""

from __future__ import annotations

from collections.abc import Iterator

from contract.live import Live
from contract.result import ObservedCheck, Result
from ringtrue.practice.diary import Diary
from ringtrue.practice.workshop import Workshop

FAULTS: dict[str, str] = {
    "none": "nothing is amiss with this one",
    "eccentric": "the rim is off its axis",
    "tilted": "the face does not stand square to the axis",
    "swollen": "the casing has swollen",
    "dented": "the rim has a dent",
    "leaking": "it leaks silicone",
    "cracked": "it has a crack",
    "end-float": "the crank moves far in its end float, and the face reads as if it wobbled",
    "slipping-base": "the indicator's base slips within the sweep",
    "plunger-off": "the plunger does not touch all the way round, or at all",
    "bolts-loose": "the damper hangs on loose bolts",
    "dirty-mounting": "dirt lies between the mounting faces",
}
"""What each fault is, in a sentence's part."""

_BY_LIMIT, _BY_EYE, _BY_SIZE = (
    ("just over the limit", "far over the limit"),
    ("hidden", "plain to see"),
    ("by a little", "by much"),
)
DEGREES: dict[str, tuple[str, str]] = {
    "none": ("near the limits", "far below the limits"),
    "eccentric": _BY_LIMIT,
    "tilted": _BY_LIMIT,
    "swollen": _BY_LIMIT,
    "dented": ("shallow", "deep"),
    "leaking": _BY_EYE,
    "cracked": _BY_EYE,
    "end-float": _BY_SIZE,
    "slipping-base": _BY_SIZE,
    "plunger-off": ("in some arc", "everywhere"),
    "bolts-loose": _BY_LIMIT,
    "dirty-mounting": _BY_LIMIT,
}
"""How near and how far each is drawn."""

_SURFACE = {
    "rim": "set rim, look dial and base, begin rim, bar",
    "face": "hold, set face, look dial and base, begin face, bar: one indicator cannot tell float from "
    "wobble",
}


def next_step(shop: Workshop, diary: Diary, live: Live | None, result: Result | None) -> str:
    """What a careful technician does now."""
    if live is not None and live.check is not None:
        return (
            "micrometer all" if live.check == "thickness" else "bar, until the bay ends the sweep; or cancel"
        )
    return next(_steps(shop, diary, result))


def _steps(shop: Workshop, diary: Diary, result: Result | None) -> Iterator[str]:
    if not diary.is_locked_out:
        yield "lockout, before anybody bars"
    if result is None or result.state in ("signed", "abandoned"):
        yield "open"
    assert result is not None
    if result.state == "closed":
        yield "sign NAME"
    checks = result.checks.by_name()
    outcomes = {name: check.outcome for name, check in checks.items()}
    for name in ("visual", "rim", "face", "visual-bench", "thickness", "penetrant", "warm-leak"):
        if name not in outcomes or outcomes[name] in ("within", "good", "bad"):
            continue
        if name in _SURFACE:
            yield _surface(name, outcomes[name], shop, diary)
        elif isinstance(checks[name], ObservedCheck):
            yield _by_eye(name, outcomes[name], shop)
        elif not shop.bench.is_bare:
            yield f"{_off(shop)}wipe, begin thickness, micrometer all"
        else:
            yield "begin thickness, micrometer all; once more where the bay asks for it"
    yield "close"


def _surface(name: str, outcome: str, shop: Workshop, diary: Diary) -> str:
    if outcome == "over" and not diary.is_mounting_cleaned:
        return f"the {name} is over: clean and tighten the mounting first, abandon, open, and measure anew"
    if outcome in ("invalid", "unclear"):
        return f"the {name} is {outcome}: result says why; {_SURFACE[name]}"
    if outcome == "over":
        return "close"
    return _SURFACE[name] if shop.is_on_engine else f"fit, {_SURFACE[name]}"


def _off(shop: Workshop) -> str:
    return "off, " if shop.is_on_engine else ""


def _by_eye(name: str, outcome: str, shop: Workshop) -> str:
    if outcome == "invalid":
        return f"{name}: mend what result names, and do the whole of it again"
    return {
        "visual": "look, then record each item: record leak good; record visual rest good",
        "visual-bench": f"{_off(shop)}look, then record each item",
        "penetrant": f"{_off(shop)}wipe, penetrant, wait 20, rinse, developer, wait 15, look, then record "
        "each item",
        "warm-leak": f"{_off(shop)}warm 90, wait 60, look, then record each item",
    }[name]
