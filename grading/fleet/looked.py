"""One inspection as comparisons over the fleet see it: what was read, where, by what, under which method."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from contract.result import NextDue, Result
from contract.terms import Outcome, State, Verdict
from grading.programme.series import MEASURED, Visit, visits_of


@dataclass(frozen=True, slots=True)
class Named:
    """The method that an inspection was graded by."""

    id: str
    version: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Looked:
    """opened: RFC 3339, UTC. ended: the verdict, or what its signer decided. visits: by check, of those that
    were measured. next_due: as this inspection says."""

    inspection: str
    opened: str
    site: str
    bay: str
    damper: str
    state: State
    ended: Verdict
    method: Named
    outcomes: Mapping[str, Outcome]
    visits: Mapping[str, Visit]
    next_due: NextDue | None

    @property
    def is_done(self) -> bool:
        """Closed or signed."""
        return self.state in ("closed", "signed")


def looked_of(result: Result) -> Looked:
    """The same of a result document."""
    visits = {check: found[0] for check in MEASURED if (found := visits_of([result], check))}
    return Looked(
        inspection=result.inspection,
        opened=result.opened,
        site=result.site,
        bay=result.bay,
        damper=result.damper.serial,
        state=result.state,
        ended=result.decision or result.verdict,
        method=Named(result.method.id, result.method.version, result.method.sha256),
        outcomes={name: check.outcome for name, check in result.checks.by_name().items()},
        visits=visits,
        next_due=result.next_due,
    )
