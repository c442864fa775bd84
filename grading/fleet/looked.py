"""One inspection as comparisons over the fleet see it: what was read, where, by what, under which method."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from contract.result import NextDue, Result
from contract.terms import Outcome, State, Verdict
from grading.programme.record import stands
from grading.programme.series import MEASURED, Visit, visit_of


@dataclass(frozen=True, slots=True)
class Named:
    """The method that an inspection was graded by."""

    id: str
    version: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Looked:
    """opened: RFC 3339, UTC. was_closed: also where it was given up since. ended: the verdict, or what its
    signer decided. visits: by check, of those that were measured. next_due: as this inspection says.
    uncounted: where it ended in a `keep` that does not stand, why."""

    inspection: str
    opened: str
    site: str
    bay: str
    damper: str
    state: State
    was_closed: bool
    ended: Verdict
    method: Named
    outcomes: Mapping[str, Outcome]
    visits: Mapping[str, Visit]
    next_due: NextDue | None
    uncounted: str | None = None

    @property
    def is_found(self) -> bool:
        """Whether what it came to counts: see `stands`."""
        return stands(self.state, self.ended, was_closed=self.was_closed)

    @property
    def is_given_up(self) -> bool:
        """Whether it was given up, before it was closed or after."""
        return self.state == "abandoned"


def looked_of(result: Result) -> Looked:
    """The same of a result document."""
    visits = {check: found for check in MEASURED if (found := visit_of(result, check)) is not None}
    return Looked(
        inspection=result.inspection,
        opened=result.opened,
        site=result.site,
        bay=result.bay,
        damper=result.damper.serial,
        state=result.state,
        was_closed=result.closed is not None,
        ended=result.decision or result.verdict,
        method=Named(result.method.id, result.method.version, result.method.sha256),
        outcomes={name: check.outcome for name, check in result.checks.by_name().items()},
        visits=visits,
        next_due=result.next_due,
    )
