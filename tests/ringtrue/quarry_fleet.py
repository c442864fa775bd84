"""Records of several bays of an invented quarry, of which one reads high and one stands alone."""

from __future__ import annotations

from collections.abc import Iterator

from contract.document import encode
from contract.gauge import GaugeFacts
from contract.result import MethodPart, Result
from contract.terms import MeasuredOutcome
from records.store import Store
from tests.grading.services import rim, service

HIGH_MM = 0.03


def keep_fleet(url: str) -> None:
    """As a bay's records."""
    store = Store(url)
    for one in results():
        store.put(encode(one))
    store.close()


def results() -> Iterator[Result]:
    """Ten dampers over four years at three bays in turn, each grown a little; two at a bay of their own."""
    for n in range(12):
        for year in range(4):
            bay = "bay-9" if n >= 10 else f"bay-{(n + year) % 3 + 1}"
            slip = 0.002 * ((5 * n + 3 * year) % 4 - 1.5)
            growth = 0.05 if n == 3 else 0.008
            figure = 0.09 + growth * year + slip + (HIGH_MM if bay == "bay-2" else 0.0)
            outcome: MeasuredOutcome = "within" if figure < 0.26 else "unclear"
            one = service(
                f"q-{n}-{year}",
                f"{2022 + year}-0{1 + n % 9}-11",
                hours_h=3_000.0 * year + 100.0 * n,
                engine=f"GQ-E-{2200 + n}",
                damper=f"GQ-D-{800 + n}",
                rim=rim(figure, outcome),
                verdict="keep" if outcome == "within" else "measure-again",
            )
            gauge = GaugeFacts(id=f"indicator-{bay[-1]}", resolution_mm=0.001, mpe_mm=0.004)
            # This one has a rim.
            checks = one.checks.model_copy(update={"rim": one.checks.rim.model_copy(update={"gauge": gauge})})  # type: ignore[union-attr]
            version = "1" if year < 2 else "2"
            method = MethodPart(id="quarry", version=version, sha256=version * 64)
            yield one.model_copy(update={"bay": bay, "checks": checks, "method": method})
