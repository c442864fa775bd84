"""Decisions in one sentence that a technician reads: figure, uncertainty, limit, rule."""

from __future__ import annotations

from config.method import Decision
from contract.words import count_of
from grading.decision.decision import Decided, Measured, Rule, after_looks, decide, is_open_below

# What each answer needs, by rule.
PROOF = {
    "simple-acceptance": "simple acceptance",
    "guarded-acceptance": "guarded acceptance",
    "guarded-rejection": "guarded rejection",
    "guarded-both": "guarded acceptance and rejection",
}

REMEDY = (
    "clean and check the mounting, refit, and measure again before condemning the damper; refitted some bolt "
    "holes further on, `ringtrue separate` tells its run-out from the mounting's"
)
"""What comes before a condemnation: dirt, burrs, loose bolts and a flange out of true read like a bad damper.
"""

LONG_WAY_UP = (
    "what makes it over is little read, and may be a slip of one reading: look at the highest and the lowest "
    "place, read denser there, and take the sweep again"
)


def over_unsure(measured: Measured, limit_mm: float, rule: Rule, coverage: float) -> str | None:
    """What speaks against a figure that is over by its chance, or None. coverage: of its interval."""
    return LONG_WAY_UP if is_open_below(measured, limit_mm, rule, coverage) else None


def rule_name(decision: Decision) -> str:
    """`guarded acceptance and rejection, 95 % sure` or `…, guard band 1 U`."""
    name = PROOF[decision.rule]
    if decision.probability is not None:
        return f"{name}, {decision.probability * 100:g} % sure"
    if decision.guard_r is not None:
        return f"{name}, guard band {decision.guard_r:g} U"
    return name


def chance(p: float) -> str:
    """A probability in per cent, never rounded to a certainty."""
    if p < 0.001:
        return "below 0.1 %"
    if p > 0.999:
        return "above 99.9 %"
    return f"{p * 100:.1f} %"


def asked_now(decision: Decision, looks: int) -> str:
    """`; look 2 asks for 99 %`: what of its bound the rule spends at this look; empty without looks."""
    if looks < 1 or decision.rule == "simple-acceptance":
        return ""
    now = after_looks(
        Rule(decision.rule, decision.guard_r, decision.probability), looks, decision.repeat_share
    )
    share = f"{now.probability * 100:.4g} %" if now.probability is not None else f"{now.guard_r:.3g} U"
    return f"; look {looks} asks for {share}"


def decided(
    figure: str,
    outcome: Decided,
    measured: Measured,
    limit_mm: float,
    decision: Decision,
    verb: str = "is",
    looks: int = 0,
) -> str:
    """`true TIR 0.186 mm ± 0.008 mm (95 %) is within the limit of 0.28 mm …` looks: at the check so far,
    where looking again spends the rule's bound; 0 where it does not."""
    rule = Rule(decision.rule, decision.guard_r, decision.probability)
    now = after_looks(rule, looks, decision.repeat_share) if looks else rule
    # What speaks against a figure that the rule alone would decide is not the limit: it is said behind this.
    is_near = decide(measured, limit_mm, now) == "unclear"
    unclear = "too near to call" if is_near else "not sure enough to hold"
    words = {
        "within": f"{verb} within the limit of",
        "over": f"{verb} over the limit of",
        "unclear": f"{verb} {unclear} against the limit of",
    }[outcome]
    p = measured.p_over if measured.p_over is not None else 0.0
    return (
        f"{figure} {measured.y_mm:.3f} mm ± {measured.u_expanded_mm:.3f} mm "
        f"({decision.coverage * 100:g} %) {words} {limit_mm:g} mm "
        f"(chance of being over: {chance(p)}; rule: {rule_name(decision)}{asked_now(decision, looks)})"
    )


def more_repeats(more: int | None, what: str) -> str:
    """What an unclear outcome asks for."""
    if more is None:
        return "more repeats with this gauge will not settle it; measure with a better one"
    return f"{count_of(more, f'more {what}')} should tell, if the figure stays where it is"
