"""What inspections came to under each method, and whether a change of method shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from grading.fleet.looked import Looked, Named
from grading.statistics.shares import Share, difference, share_of

Ending = Literal["keep", "replace", "measure-again", "incomplete", "unclear", "invalid"]
"""How an inspection ended: the verdict, or its signer's decision; and that a check of it was unclear, or
invalid.
"""
ENDINGS: tuple[Ending, ...] = get_args(Ending)
COVERAGE = 0.95
"""Of all differences from one method to the next taken together: six of each are looked at at once."""


@dataclass(frozen=True, slots=True)
class UnderMethod:
    """inspections: that were closed under it, opened between first and last (RFC 3339). endings: how many
    ended so, with their share. checks: by check how many of each outcome. bays: where. differs: of each
    ending how its share differs from the method before, the later less the earlier, with intervals that all
    hold together (Bonferroni); empty for the first."""

    method: Named
    first: str
    last: str
    inspections: int
    bays: tuple[str, ...]
    endings: dict[Ending, tuple[int, Share]]
    checks: dict[str, dict[str, int]]
    differs: dict[Ending, Share]


def by_method(looked: Iterable[Looked]) -> list[UnderMethod]:
    """Of each method, in the order in which they were first opened with. Only what was closed has ended;
    given up since, a `replace` or `measure-again` has all the same."""
    groups: dict[Named, list[Looked]] = {}
    for one in sorted((one for one in looked if one.is_found), key=lambda one: one.opened):
        groups.setdefault(one.method, []).append(one)
    found: list[UnderMethod] = []
    coverage = 1.0 - (1.0 - COVERAGE) / max(1, len(ENDINGS) * (len(groups) - 1))
    for method, those in groups.items():
        found.append(_under(method, those, found[-1] if found else None, coverage))
    return found


def _under(
    method: Named, those: Sequence[Looked], before: UnderMethod | None, coverage: float
) -> UnderMethod:
    checks: dict[str, Counter[str]] = {}
    for one in those:
        for check, outcome in one.outcomes.items():
            checks.setdefault(check, Counter())[outcome] += 1
    total = len(those)
    counts = {ending: sum(_ended(one, ending) for one in those) for ending in ENDINGS}
    differs: dict[Ending, Share] = {}
    if before is not None:
        for ending in ENDINGS:
            differs[ending] = difference(
                (before.endings[ending][0], before.inspections), (counts[ending], total), coverage
            )
    return UnderMethod(
        method=method,
        first=those[0].opened,
        last=those[-1].opened,
        inspections=total,
        bays=tuple(sorted({f"{one.site}/{one.bay}" for one in those})),
        endings={ending: (count, share_of(count, total)) for ending, count in counts.items()},
        checks={check: dict(found) for check, found in checks.items()},
        differs=differs,
    )


def _ended(one: Looked, ending: Ending) -> bool:
    return ending == one.ended or ending in one.outcomes.values()
