"""What a report must hold besides the figures: earlier inspections, cautions, method, gauges, signature."""

from __future__ import annotations

from collections.abc import Container, Sequence
from hashlib import sha256

from config.cautions import USUAL, Step
from config.method import Method
from contract.corrections import in_words
from contract.gauge import GaugeFacts
from contract.lengths import LengthUnit
from contract.result import ObservedCheck, Result, SurfaceCheck, ThicknessCheck
from contract.terms import TYPED
from grading.programme.past import is_found
from records.pictures.turn import EXAMPLE
from records.report.figures import short_name
from records.report.head import HEADLINES, grouped, moment
from records.report.page import Blanks, Block, Cell, Facts, Lines, Section, Table

HISTORY_MAX = 8
"""Earlier inspections that are told, the latest."""
MEASURED = ("rim", "face", "thickness")
MANUAL = "The engine maker's manual, local codes and licensed practice come first."


def history(
    earlier: Sequence[Result], contested: Container[str], uncounted: Container[str], unit: LengthUnit
) -> Section | None:
    """A row for each earlier inspection of this damper, in this order, the latest first. contested: ids of
    those whose results contradict each other; uncounted: of those whose `keep` does not stand."""
    if not earlier:
        return None
    rows = tuple(
        _past(one, unit, is_contested=one.inspection in contested, is_uncounted=one.inspection in uncounted)
        for one in earlier[:HISTORY_MAX]
    )
    columns = ("Opened", "Inspection", "Hours", "km", *map(short_name, MEASURED), "Verdict")
    table = Table(
        f"Earlier inspections of this damper, lengths in {unit.name}", columns, rows,
        (1.15, 2.3, 0.8, 0.95, 1.5, 1.5, 1.5, 1.4), small=True,
    )  # fmt: skip
    blocks: list[Block] = [table]
    if len(earlier) > HISTORY_MAX:
        blocks.append(Lines((f"And {len(earlier) - HISTORY_MAX} older ones on record.",), small=True))
    return Section(f"Earlier inspections of this damper, {unit.name}", tuple(blocks))


def _past(result: Result, unit: LengthUnit, *, is_contested: bool, is_uncounted: bool) -> tuple[Cell, ...]:
    checks, engine = result.checks, result.engine
    figures = (_short(getattr(checks, name), unit) for name in MEASURED)
    verdict = HEADLINES[result.verdict].lower()
    if is_contested:
        verdict = "contradicted, no verdict"
    elif result.state == "abandoned":
        verdict = f"{verdict}, given up" if is_found(result) else "abandoned, no verdict"
    elif result.state != "signed":
        verdict += ", not signed"
    elif result.decision is not None and result.decision != result.verdict:
        verdict += f", signed as {HEADLINES[result.decision].lower()}"
    if is_uncounted and not is_contested:
        verdict += ", does not count"
    told = (
        result.opened[:10],
        result.inspection,
        "–" if engine.hours_h is None else grouped(engine.hours_h),
        "–" if engine.distance_km is None else grouped(engine.distance_km),
        *figures,
        verdict,
    )
    return tuple(map(Cell, told))


def _short(check: SurfaceCheck | ThicknessCheck | None, unit: LengthUnit) -> str:
    best = None if check is None else _best(check)
    if check is None or best is None or check.u_expanded_mm is None or check.outcome == "invalid":
        return "–" if check is None else check.outcome
    return f"{unit.number(best)} ± {unit.number(check.u_expanded_mm)}"


def _best(check: SurfaceCheck | ThicknessCheck) -> float | None:
    return check.true_tir_mm if isinstance(check, SurfaceCheck) else check.true_spread_mm


def cautions(result: Result, method: Method | None) -> Section:
    """Of the work that was done and of taking the damper off. method: where it is at hand, its own."""
    steps: list[Step] = ["on-engine"] if result.scope != "bench" else []
    steps += ["bench", *result.checks.by_name()]  # type: ignore[list-item]  # names of checks are steps
    steps += ["unlock"] if result.scope != "bench" else []
    told = [line for step in steps for line in (method.cautions_at(step) if method else USUAL.get(step, ()))]
    return Section("Cautions", (Lines((*dict.fromkeys(told), MANUAL), small=True),))


def papers(result: Result, document: bytes, unit: LengthUnit) -> Section:
    """By what it was judged, with what it was read, and what proves that this is the document."""
    method = f"{result.method.id}, version {result.method.version}"
    if result.method.id == EXAMPLE:
        method += ": example limits, the engine maker's manual rules"
    facts = Facts(
        (
            ("Method", method),
            ("Method, SHA-256", result.method.sha256),
            ("Readings, SHA-256", result.readings_sha256),
            ("Document, SHA-256", sha256(document).hexdigest()),
            ("Document", f"{result.schema_}, revision {result.revision}, {len(document)} bytes, attached"),
            ("Computed by", result.software),
        )
    )
    gauges = _gauges(result, unit)
    return Section("Method, gauges, proof", (facts, gauges) if gauges else (facts,))


def _gauges(result: Result, unit: LengthUnit) -> Table | None:
    rows = []
    for name, check in result.checks.by_name().items():
        if not isinstance(check, ObservedCheck) and check.gauge is not None:
            rows.append((Cell(short_name(name)), *_gauge(check.gauge, result.opened[:10], unit)))
    columns = ("Check", "Gauge", "Calibration due", "Resolution", "Permissible error", "Repeatability")
    caption = "Gauges: permissible error of the difference of any two readings; repeatability as lifts showed"
    return Table(caption, columns, tuple(rows), (1.0, 2.0, 2.0, 1.3, 1.5, 1.5), small=True) if rows else None


def _gauge(gauge: GaugeFacts, on: str, unit: LengthUnit) -> tuple[Cell, ...]:
    due = gauge.calibration_due
    is_late = due is not None and due < on
    repeats = "not tested"
    if gauge.repeatability_mm is not None:
        repeats = f"{_fine(gauge.repeatability_mm, unit)}, {gauge.repeatability_dof or 0} d.o.f."
    return (
        Cell("a dial read by eye, typed in" if gauge.id == TYPED else gauge.id),
        Cell(f"{due}: OVERDUE on the day" if is_late else due or "not stated", strong=is_late),
        Cell(_fine(gauge.resolution_mm, unit)),
        Cell(_fine(gauge.mpe_mm, unit)),
        Cell(repeats),
    )


def _fine(mm: float, unit: LengthUnit) -> str:
    """A small length with all its digits: a gauge's step in inches is no round one."""
    return f"{mm * unit.per_mm:.6f}".rstrip("0").rstrip(".") + f" {unit.name}"


def signature(result: Result, latest: int) -> Section:
    """Who signed and when, or room to sign by hand: only the highest revision known, `latest`."""
    if result.revision < latest and result.state != "signed":
        blocks: tuple[Block, ...] = (Lines((f"Not signed, and not to be: revision {latest} replaces it.",)),)
    elif result.state == "signed":
        when = "" if result.signed is None else moment(result.signed)
        pairs = [("Signed by", result.signed_by or "–"), ("On", when or "–")]
        if result.decision is not None:
            pairs.append(("Decision", f"{result.decision}; the verdict: {result.verdict}".replace("-", " ")))
        if result.remark:
            pairs.append(("Remark", result.remark))
        pairs += [("Corrected", f"{moment(one.when)}, {in_words(one)}") for one in result.corrections or ()]
        blocks = (Facts(tuple(pairs)),)
    elif result.state == "closed":
        not_yet = "Not signed at the bay. By hand, by a qualified person:"
        blocks = (Lines((not_yet,)), Blanks(("Name", "Signature", "Date")))
    else:
        blocks = (Lines((f"Not signed: the inspection is {result.state}, and there is nothing to sign.",)),)
    return Section("Signature", blocks, is_foot=True)
