"""What a trainee measured, recorded and decided, against the truth.

Truth is the simulator's: true figures of its geometry, and what was amiss when it was recorded.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from typing import Any

from config.method import CHECKS, Method
from contract.result import Check, ObservedCheck, Result, SurfaceCheck, ThicknessCheck
from ringtrue.practice import advice
from ringtrue.practice.diary import Diary
from ringtrue.practice.hints import FAULTS
from ringtrue.practice.score import Mark, marked
from ringtrue.practice.sight import Sight
from ringtrue.practice.workshop import Workshop

MEASURED = ("rim", "face", "thickness")


@dataclass(frozen=True, slots=True)
class Figure:
    """true_mm: of what then turned under the plunger. is_inside: whether the truth lies within what was
    measured, U wide; None where nothing was."""

    check: str
    limit_mm: float
    true_mm: float
    measured_mm: float | None
    u_mm: float | None
    is_inside: bool | None
    outcome: str


@dataclass(frozen=True, slots=True)
class Item:
    """true: `good` or `bad` as it was when it was recorded, or is; `not done`: a dwell or the like."""

    check: str
    item: str
    true: str
    recorded: str

    @property
    def is_right(self) -> bool:
        """Whether what was recorded is so."""
        return self.true == self.recorded


@dataclass(frozen=True, slots=True)
class Review:
    """exam: its number, of an exam. wanted: the right verdict; said: the trainee's. missed: what to look at
    next time; procedure: what was done as it should not be; undone: checks that were not done."""

    exam: int | None
    seed: int
    fault: str
    is_far: bool
    inspection: str | None
    wanted: str
    said: str
    why: tuple[str, ...]
    figures: tuple[Figure, ...]
    items: tuple[Item, ...]
    missed: tuple[str, ...]
    procedure: tuple[str, ...]
    undone: tuple[str, ...]
    hints: int
    seconds: float
    acts: tuple[str, ...]
    mark: Mark = field(init=False)

    def __post_init__(self) -> None:
        shares = (
            _share([figure.is_inside is True for figure in self.figures]),
            _share([item.is_right for item in self.items]),
        )
        object.__setattr__(
            self, "mark", marked(self.wanted, self.said, *shares, len(self.procedure), self.undone)
        )

    def as_data(self) -> dict[str, Any]:
        """As a document."""
        said = asdict(self)
        return {"schema": "ringtrue/practice/1", "what": FAULTS[self.fault], **said}


def reviewed(
    shop: Workshop,
    sight: Sight,
    diary: Diary,
    result: Result | None,
    method: Method,
    *,
    seed: int,
    exam: int | None,
    seconds: float,
) -> Review:
    """The whole of it. result: None where nothing was opened."""
    checks: dict[str, Check] = {} if result is None else result.checks.by_name()
    figures = tuple(_figures(shop, diary, checks))
    items = tuple(_items(sight, diary, checks, method))
    wanted = "replace" if shop.specimen.must_go(shop.limits) else "keep"
    is_given_up = result is None or result.state == "abandoned"
    said = "none" if result is None or is_given_up else result.decision or result.verdict
    return Review(
        exam=exam,
        seed=seed,
        fault=shop.specimen.fault,
        is_far=shop.specimen.is_far,
        inspection=None if result is None else result.inspection,
        wanted=wanted,
        said=said,
        why=tuple(_why(shop)),
        figures=figures,
        items=items,
        missed=tuple(_missed(shop, diary, checks, figures, items)),
        procedure=tuple(_procedure(diary, checks, said)),
        undone=tuple(name for name in CHECKS if name not in checks or checks[name].outcome == "missing"),
        hints=diary.hints,
        seconds=round(seconds, 1),
        acts=tuple(diary.acts),
    )


def _figures(shop: Workshop, diary: Diary, checks: dict[str, Check]) -> Iterator[Figure]:
    now = shop.specimen.figures(shop.limits.places, shop.mounting)
    for name in MEASURED:
        swept = diary.swept.get(name)
        true_mm: float = getattr(now, name)
        if swept is not None:
            true_mm = swept.damper.rim_tir_mm() if name == "rim" else swept.damper.face_tir_mm()
        check, measured = checks.get(name), None
        if isinstance(check, SurfaceCheck | ThicknessCheck) and check.outcome != "invalid":
            measured = check.true_tir_mm if isinstance(check, SurfaceCheck) else check.true_spread_mm
        u_mm = getattr(check, "u_expanded_mm", None) if measured is not None else None
        inside = None if measured is None or u_mm is None else abs(measured - true_mm) <= u_mm
        yield Figure(
            name, getattr(shop.limits, f"{name}_mm"), true_mm, measured, u_mm, inside,
            "missing" if check is None else check.outcome,
        )  # fmt: skip


def _items(sight: Sight, diary: Diary, checks: dict[str, Check], method: Method) -> Iterator[Item]:
    for name, rules in method.observed.items():
        check = checks.get(name)
        recorded = {part.item: part.seen for part in check.items} if isinstance(check, ObservedCheck) else {}
        for rule in rules.item:
            is_amiss = diary.truths.get((name, rule.id), sight.is_amiss(name, rule.id))
            seen = recorded.get(rule.id, "not seen")
            if seen == "not seen" and rule.if_bad == "invalid" and name != "visual":
                yield Item(name, rule.id, "not done", seen)
            else:
                yield Item(name, rule.id, "bad" if is_amiss else "good", seen)


def _why(shop: Workshop) -> Iterator[str]:
    """What makes the right verdict what it is."""
    true = shop.specimen.figures(shop.limits.places)
    for name in MEASURED:
        true_mm, limit_mm = getattr(true, name), getattr(shop.limits, f"{name}_mm")
        if true_mm > limit_mm:
            yield f"{name}: {true_mm:.3f} mm is over {limit_mm:g} mm"
    for check, items in shop.specimen.bad.items():
        for item in sorted(items):
            yield f"{check}: {item} is bad"


def _missed(
    shop: Workshop,
    diary: Diary,
    checks: dict[str, Check],
    figures: tuple[Figure, ...],
    items: tuple[Item, ...],
) -> Iterator[str]:
    for figure in figures:
        check, swept = checks.get(figure.check), diary.swept.get(figure.check)
        if isinstance(check, SurfaceCheck) and swept is not None:
            cause = advice.surface(figure.check, swept, check, shop.specimen.damper.end_float_mm)
            if cause is not None:
                yield cause
                continue
        if figure.true_mm > figure.limit_mm and figure.outcome != "over":
            yield advice.over(figure.check, figure.true_mm, figure.limit_mm, figure.outcome)
    if shop.mounting.is_loose:
        yield advice.LOOSE
    if shop.mounting.dirt_mm > 0.0:
        yield advice.DIRTY
    for item in items:
        if item.true == "bad" and item.recorded != "bad" and item.item != "bolts":
            was_shown = (item.check, item.item) in diary.shown
            yield advice.missed_item(item.check, item.item, was_shown=was_shown)
        if item.true == "good" and item.recorded == "bad":
            yield advice.wrongly_bad(item.check, item.item)


def _procedure(diary: Diary, checks: dict[str, Check], said: str) -> Iterator[str]:
    yield from diary.faults.values()
    for check_name, unseen in diary.unseen.items():
        yield f"{check_name}: recorded without a look that told it: {', '.join(dict.fromkeys(unseen))}"
    for name in ("rim", "face"):
        check = checks.get(name)
        if isinstance(check, SurfaceCheck) and (check.covered_deg or 360.0) < 360.0:
            yield f"{name}: the turn was not completed: {check.covered_deg:.0f}° were barred"
    bad = {name for name, check in checks.items() if check.outcome in ("over", "bad")}
    if said == "replace" and bad and bad <= {"rim", "face"} and not diary.is_mounting_cleaned:
        yield advice.CONDEMNED


def _share(rights: list[bool]) -> float:
    return sum(rights) / len(rights) if rights else 0.0
