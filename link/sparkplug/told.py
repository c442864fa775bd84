"""What a bay says, as metrics: nobody is named in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from contract.result import Checks, ObservedCheck, Result, SurfaceCheck
from contract.states import GaugeStateMessage, StatusMessage
from link.sparkplug.payload import Metric, Type

MEASURED = ("rim", "face", "thickness")


def metrics_of(
    status: StatusMessage | None, gauges: Mapping[str, GaugeStateMessage], result: Result | None
) -> list[Metric]:
    """All that is known of a bay. The same metrics each time but for the gauges, which a bay may get more of;
    those of which nothing is known are null. Figures are those that are decided, in mm."""
    return [
        Metric("Bay/Running", Type.BOOLEAN, None if status is None else status.state == "online"),
        Metric("Bay/Warnings", Type.STRING, None if status is None else "; ".join(status.warnings)),
        *(
            Metric(f"Gauges/{gauge}/State", Type.STRING, state.state)
            for gauge, state in sorted(gauges.items())
        ),
        *_of_inspection(result),
        *_of_checks(None if result is None else result.checks),
    ]


def _of_inspection(result: Result | None) -> Iterator[Metric]:
    said: dict[str, str | None] = dict.fromkeys(
        ("Id", "State", "Verdict", "Decision", "Engine", "Damper", "Work order", "Opened", "Closed")
    )
    if result is not None:
        said = {
            "Id": result.inspection,
            "State": result.state,
            "Verdict": result.verdict,
            "Decision": result.decision,
            "Engine": result.engine.serial,
            "Damper": result.damper.serial,
            "Work order": result.work_order,
            "Opened": result.opened,
            "Closed": result.closed,
        }
    for name, value in said.items():
        yield Metric(f"Inspection/{name}", Type.STRING, value)
    yield Metric("Inspection/Revision", Type.INT64, None if result is None else result.revision)


def _of_checks(checks: Checks | None) -> Iterator[Metric]:
    found = {} if checks is None else checks.by_name()
    for key, field in Checks.model_fields.items():
        name = field.alias or key
        check = found.get(name)
        yield Metric(f"Checks/{name}/Outcome", Type.STRING, None if check is None else check.outcome)
        if name not in MEASURED:
            continue
        figure = expanded = limit = None
        if check is not None and not isinstance(check, ObservedCheck):
            figure = check.true_tir_mm if isinstance(check, SurfaceCheck) else check.true_spread_mm
            expanded, limit = check.u_expanded_mm, check.limit_mm
        for what, value in (("Figure", figure), ("Expanded uncertainty", expanded), ("Limit", limit)):
            yield Metric(f"Checks/{name}/{what}", Type.DOUBLE, value, "mm")
