"""The end of a practice on paper: the table, the verdict, what was missed."""

from __future__ import annotations

from ringtrue.practice.hints import DEGREES, FAULTS
from ringtrue.practice.review import Figure, Review


def lines(review: Review) -> list[str]:
    """For a terminal of 80 columns; sentences begin with `- ` and are to be wrapped."""
    degree = DEGREES[review.fault][review.is_far]
    said = ["", f"It was: {review.fault} ({degree}): {FAULTS[review.fault]}.", ""]
    said.append(_row("mm", "true", "measured", "limit", "truth inside", "outcome"))
    said += [_figure(figure) for figure in review.figures]
    wrong = [item for item in review.items if not item.is_right]
    said += ["", f"items as they are: {len(review.items) - len(wrong)} of {len(review.items)}"]
    by_check: dict[tuple[str, str], list[str]] = {}
    for item in wrong:
        is_left = item.recorded == "not seen"
        told = "not recorded" if is_left else f"true {item.true}, recorded {item.recorded}"
        by_check.setdefault((item.check, told), []).append(item.item)
    said += [f"- {check}: {told}: {', '.join(items)}" for (check, told), items in by_check.items()]
    said += ["", f"verdict: {review.said}; right is {review.wanted}: {_judged(review)}"]
    said += [f"- {why}" for why in review.why]
    for title, sentences in (("to look at next time", review.missed), ("procedure", review.procedure)):
        if sentences:
            said += ["", f"{title}:", *(f"- {sentence}" for sentence in sentences)]
    mark = review.mark
    failed = f": {mark.failed_by}" if mark.failed_by else ""
    minutes, seconds = divmod(round(review.seconds), 60)
    said += ["", f"{mark.points} of 100 points{failed}; {minutes} min {seconds} s"]
    if review.exam is not None:
        said.append(f"exam {review.exam}: {'passed' if mark.is_passed else 'not passed'}")
    return said


def _judged(review: Review) -> str:
    if review.said == review.wanted:
        return "right"
    return "WRONG" if review.said in ("keep", "replace") else "not decided"


def _figure(figure: Figure) -> str:
    measured = "–" if figure.measured_mm is None else f"{figure.measured_mm:.3f}"
    if figure.u_mm is not None:
        measured += f" ± {figure.u_mm:.3f}"
    inside = {True: "yes", False: "NO", None: "–"}[figure.is_inside]
    return _row(
        figure.check, f"{figure.true_mm:.3f}", measured, f"{figure.limit_mm:.3f}", inside, figure.outcome
    )


def _row(name: str, true: str, measured: str, limit: str, inside: str, outcome: str) -> str:
    return f"{name:<11}{true:>7}{measured:>17}{limit:>9}{inside:>15}   {outcome}".rstrip()
