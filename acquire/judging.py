"""Grading, with a memory: each sweep is looked at once, however often its inspection is graded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from config.method import Method

if TYPE_CHECKING:
    from config.runout import SurfaceRules
    from contract.result import Result
    from grading.evidence import Inspection, Sweep
    from grading.kinds.byitself import ByItself


class Judging:
    """Gives what `assess` gives. Remembers what single sweeps of the last inspection came to until that is
    signed, after which nothing is measured. From any thread.
    """

    def __init__(self) -> None:
        self._known: dict[bytes, ByItself] = {}

    def __call__(self, evidence: Inspection, method: Method) -> Result:
        """The result. Raises ValueError as `assess` does."""
        from grading.assess import assess  # heavy: see acquire.bay.evidence
        from grading.kinds.byitself import ByItself, fingerprint

        before, now = self._known, {}

        def look(sweep: Sweep, rules: SurfaceRules) -> ByItself:
            key = fingerprint(sweep, rules)
            now[key] = before.get(key) or ByItself(sweep, rules)
            return now[key]

        result = assess(evidence, method, look)
        self._known = {} if evidence.state == "signed" else now
        return result
