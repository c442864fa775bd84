"""What `ringtrue risk` says, line by line, for a person."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from config.method import Method
    from grading.decision.decision import Rule
    from grading.gauge.risk import Chances, GlobalRisks, Zones


def as_text(
    method: Method, check: str, limit: float, big_u: float, zones: Zones, rule: Rule, share: float,
    rows: list[Chances], worst: Chances, risks: GlobalRisks | None, looks: dict[str, Any] | None,
) -> list[str]:  # fmt: skip
    """The table, what holds exactly on the limit, and the risks over all parts, line by line."""
    lines = [
        f"{check}, limit {limit:g} mm; method {method.id} {method.version}, {rule.kind}",
        f"One figure is uncertain by {big_u:.4f} mm ({100 * method.decision.coverage:g} %).",
        f"Figures up to {zones.accept_mm:.4f} mm are within, from {zones.reject_mm:.4f} mm on over.",
        "",
        "true figure, mm  from the limit, mm    found within    left unclear      found over",
    ]
    lines += [
        f"{row.true_mm:15.4f}  {row.true_mm - limit:+18.4f} "
        f"{_percent(row.within):>15} {_percent(row.unclear):>15} {_percent(row.over):>15}"
        for row in rows
    ]
    bound = "" if rule.probability is None else f"; the method's bound is {_percent(1.0 - rule.probability)}"
    if bound and share:
        bound += f",\nof which {100 * share:g} % is kept for looking again"
    lines += [
        "",
        f"At most, exactly on the limit: {_percent(worst.within)} found within, "
        f"{_percent(worst.over)} found over{bound}.",
        "That is on average over gauges that keep their permissible error; one that always errs the same",
        "way does better on one side and worse on the other: correct it by its calibration.",
    ]
    if looks is not None:
        lines += [
            "",
            f"An unclear part measured up to {looks['looks']} times: exactly on the limit, "
            f"{_percent(looks['at_limit']['within'])} end within and "
            f"{_percent(looks['at_limit']['over'])} over (simulated).",
        ]
        lines.append("All looks together keep the bound: each later one may spend half as much as before.")
    if risks is not None:
        lines += [
            "",
            "Of all parts that the shop meets:",
            f"  {_percent(risks.nonconforming):>8} are truly over the limit",
            f"  {_percent(risks.kept_wrongly):>8} are over the limit and found within (consumer's risk)",
            f"  {_percent(risks.not_kept_wrongly):>8} are inside it and not found within (producer's risk),",
            f"  {_percent(risks.rejected_wrongly):>8} of all being found over outright, the others unclear",
            f"  {_percent(risks.unclear):>8} are left unclear in all",
        ]
    return lines


def _percent(share: float) -> str:
    """A share as a percentage that never rounds to never or always."""
    if 0.0 < share < 0.0005:
        return "< 0.1 %"
    return "> 99.9 %" if 0.9995 <= share < 1.0 else f"{100 * share:.1f} %"
