"""What the checks add up to. Outcomes only: a raw number never reaches a verdict."""

from __future__ import annotations

from collections.abc import Mapping

from contract.result import Check
from contract.terms import Outcome, Verdict

# The first group that holds any outcome names the verdict.
ORDER: tuple[tuple[Verdict, tuple[Outcome, ...]], ...] = (
    ("replace", ("over", "bad")),
    ("measure-again", ("unclear", "invalid")),
    ("incomplete", ("missing",)),
)


def verdict_of(outcomes: Mapping[str, Outcome]) -> Verdict:
    """The verdict from the outcome of every check that is required or was tried.

    `keep` needs at least one check, and all of them within or good.
    """
    for verdict, group in ORDER:
        if any(outcome in group for outcome in outcomes.values()):
            return verdict
    return "keep" if outcomes else "incomplete"


def reasons_of(verdict: Verdict, checks: Mapping[str, Check]) -> tuple[str, ...]:
    """One sentence for each check that makes the verdict what it is: `rim: …`."""
    groups = dict(ORDER)
    wanted = groups.get(verdict, ("within", "good"))
    found = tuple(f"{name}: {check.reason}" for name, check in checks.items() if check.outcome in wanted)
    return found or ("no check is required and none was made",)
