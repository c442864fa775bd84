"""`ringtrue risk`: how often a method and a gauge keep what should go, and the other way round."""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from config.errors import ConfigError, Problem
from ringtrue.arguments import UsageError, count, length_mm
from ringtrue.risk_words import as_text

if TYPE_CHECKING:
    from config.method import Method
    from grading.decision.decision import Rule
    from grading.gauge.risk import Chances, ErrorModel, GlobalRisks, Prior, Zones

EXAMPLE = """\
A figure (run-out, spread) is taken as one reading less another. Without --resolution-mm and --mpe-mm
the method's own values for a typed dial count.

exit: 0 done; 2 usage; 3 a file cannot be used.

examples:
  ringtrue risk --check rim --resolution-mm 0.001 --mpe-mm 0.004 -o risk.svg
  ringtrue risk --config ringtrue.toml --gauge indicator-1 --prior-mean-mm 0.18 --prior-sd-mm 0.04
  ringtrue export --format csv > shop.csv && ringtrue risk --records shop.csv
"""
# Rows of the table to either side of the limit, and points of the picture.
ROWS, POINTS = 5, 161


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "risk",
        help="how often a method and a gauge decide wrongly near the limit",
        description="Chances of each outcome for parts near the limit, and risks over all of a shop's parts.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    option = parser.add_argument
    option(
        "--method", default="example", metavar="FILE", help="a method's file or shipped name (%(default)s)"
    )
    option("--check", choices=("rim", "face", "thickness"), default="rim", help="whose limit (%(default)s)")
    option(
        "--config",
        type=Path,
        metavar="FILE",
        help="a bay's configuration: its method, and with --gauge a gauge",
    )
    option("--gauge", metavar="ID", help="one gauge of that configuration")
    option("--resolution-mm", type=length_mm, metavar="MM", help="one step of the gauge's display")
    option(
        "--mpe-mm", type=length_mm, metavar="MM", help="the gauge's maximum permissible error of a difference"
    )
    option(
        "--repeatability-mm",
        type=length_mm,
        default=0.0,
        metavar="MM",
        help="standard deviation of repeated lifts",
    )
    option(
        "--u-random-mm",
        type=length_mm,
        metavar="MM",
        help="random part of one figure, from a result's budget, instead of step and repeatability",
    )
    option("--repeats", type=count, default=1, metavar="N", help="measurements averaged into one figure (1)")
    option(
        "--looks",
        type=count,
        default=1,
        metavar="N",
        help="how often an unclear part may be measured at all (1); the table is of the first look",
    )
    option("--x-mm", type=length_mm, nargs="+", metavar="MM", help="distances from the limit for the table")
    option(
        "--prior-mean-mm", type=length_mm, metavar="MM", help="mean of the true figures that the shop meets"
    )
    option("--prior-sd-mm", type=length_mm, metavar="MM", help="their standard deviation (normal)")
    option(
        "--records",
        type=Path,
        metavar="FILE",
        help="the shop's records instead, as `export --format csv` gives",
    )
    option("-o", "--output", type=Path, metavar="FILE.svg", help="draw a picture into this file")
    option("--json", action="store_true", help="print the figures as JSON")


def run(args: argparse.Namespace) -> int:
    """Do it."""
    from grading.decision.decision import after_looks
    from grading.gauge.risk import ErrorModel, chances, decision_zones, gauge_errors, global_risks

    method, resolution_mm, mpe_mm = _gauge(args)
    stated, limit = _rule(method), method.limit_mm(args.check)
    share = method.decision.repeat_share
    rule = after_looks(stated, 1, share)
    assert limit is not None
    try:
        errors = gauge_errors(resolution_mm, mpe_mm, args.repeatability_mm, args.repeats)
        if args.u_random_mm is not None:
            errors = ErrorModel(args.u_random_mm / math.sqrt(args.repeats), mpe_mm)
    except ValueError as error:
        raise UsageError(
            "gauge", "no uncertainty at all", f"a step, an error or a spread above zero ({error})"
        ) from None
    coverage = method.decision.coverage
    zones = decision_zones(errors, limit, rule, coverage)
    big_u = errors.expanded_mm(coverage)
    distances = sorted(args.x_mm or [_rounded(big_u / 2.0) * i for i in range(ROWS)])
    trues = sorted({limit + sign * x for x in distances for sign in (-1.0, 1.0)})
    rows = [chances(true, errors, zones) for true in trues]
    worst = chances(limit, errors, zones)
    prior = _prior(args, limit)
    risks = global_risks(prior, errors, zones, limit) if prior is not None else None
    looks = _looks(args.looks, errors, limit, stated, share, coverage) if args.looks > 1 else None
    if args.output is not None:
        reach = 1.15 * max(distances[-1], 2.5 * big_u)
        curve = [
            chances(limit + reach * (2.0 * i / (POINTS - 1) - 1.0), errors, zones) for i in range(POINTS)
        ]
        _draw(args, method, curve, limit, big_u)
    if args.json:
        print(json.dumps(_data(method, args.check, limit, big_u, zones, stated, share, rows, risks, looks)))
    else:
        said = as_text(method, args.check, limit, big_u, zones, stated, share, rows, worst, risks, looks)
        print("\n".join(said))
    if args.output is not None:  # beside JSON it must not stand in what a program reads
        print(f"picture: {args.output}", file=sys.stderr if args.json else sys.stdout)
    return 0


def _gauge(args: argparse.Namespace) -> tuple[Method, float, float]:
    """The method, and the step and permissible error of the gauge, mm."""
    from config.files import resolve
    from config.method import Method
    from config.settings import read_settings
    from config.toml import read_toml
    from ringtrue.in_force import method_in_force

    resolution, mpe = args.resolution_mm, args.mpe_mm
    if args.config is not None:
        settings = read_settings(args.config, os.environ)
        method = method_in_force(settings)
        known = {gauge.id: gauge for gauge in settings.gauge if gauge.resolution_mm is not None}
        if args.gauge is not None and args.gauge not in known:
            raise UsageError(
                "--gauge", args.gauge, f"a gauge of {args.config} ({', '.join(known) or 'it has none'})"
            )
        if args.gauge is not None:
            gauge = known[args.gauge]
            resolution = gauge.resolution_mm if resolution is None else resolution
            mpe = gauge.mpe_mm if mpe is None else mpe
    elif args.gauge is not None:
        raise UsageError("--gauge", args.gauge, "--config FILE beside it")
    else:
        try:
            method = read_toml(resolve(args.method, "methods", Path()), Method)
        except FileNotFoundError as error:
            raise UsageError("--method", args.method, f"a file or a shipped name ({error})") from None
    return (
        method,
        method.typed.resolution_mm if resolution is None else resolution,
        method.typed.mpe_mm if mpe is None else mpe,
    )


def _rule(method: Method) -> Rule:
    from grading.decision.decision import Rule

    decision = method.decision
    return Rule(decision.rule, decision.guard_r, decision.probability)


def _prior(args: argparse.Namespace, limit: float) -> Prior | None:
    from grading.gauge.risk import normal_prior

    given = (args.prior_mean_mm is not None, args.prior_sd_mm is not None)
    if args.records is not None:
        if any(given):
            raise UsageError("--records", str(args.records), "either it or --prior-mean-mm and --prior-sd-mm")
        return read_records(args.records, args.check)
    if not any(given):
        return None
    if not all(given) or args.prior_sd_mm == 0.0:
        raise UsageError("prior", "a part of it", "both --prior-mean-mm and --prior-sd-mm, above zero")
    return normal_prior(args.prior_mean_mm, args.prior_sd_mm, (limit,))


def read_records(path: Path, check: str) -> Prior:
    """What a shop's own records of one check say of the true figures it meets.

    path: CSV with columns check, true_tir_mm or true_spread_mm, u_expanded_mm, coverage, as `export`
    writes it; rows without a figure are passed over. Raises ConfigError
    or ReadingsError.
    """
    import numpy as np

    from grading.gauge.risk import records_prior
    from grading.statistics.distributions import normal_quantile
    from ringtrue.tables import read_rows

    column = "true_spread_mm" if check == "thickness" else "true_tir_mm"
    figures, variances, problems = [], [], []
    for row in read_rows(path, ("check", column, "u_expanded_mm", "coverage"), others=True):
        if row.cells["check"] != check or not row.cells[column]:
            continue
        try:
            y, big_u, coverage = (float(row.cells[c]) for c in (column, "u_expanded_mm", "coverage"))
            variances.append((big_u / normal_quantile(0.5 * (1.0 + coverage))) ** 2)
            figures.append(y)
        except ValueError:
            found = ",".join(row.cells[c] for c in (column, "u_expanded_mm", "coverage"))
            problems.append(
                Problem(str(path), row.line, column, found, "a figure, its uncertainty, its coverage")
            )
    if problems:
        raise ConfigError(problems)
    try:
        return records_prior(np.array(figures), math.sqrt(math.fsum(variances) / max(1, len(variances))))
    except ValueError as error:
        wanted = f"records of {check} to learn the parts from ({error})"
        raise ConfigError([Problem(str(path), None, column, f"{len(figures)} figures", wanted)]) from None


def _looks(
    looks: int, errors: ErrorModel, limit: float, rule: Rule, share: float, coverage: float
) -> dict[str, Any]:
    """Shares of outcomes for parts exactly on the limit when unclear ones are measured again."""
    from grading.gauge.risk import simulate

    shares = simulate(
        limit, errors, limit, rule,
        trials=20_000, seed=1, looks=looks, repeat_share=share, coverage=coverage,
    )  # fmt: skip
    return {"looks": looks, "at_limit": dict(shares)}


def _draw(args: argparse.Namespace, method: Method, curve: list[Chances], limit: float, big_u: float) -> None:
    from records.pictures.risk import risk_svg

    title = f"{args.check}: how often a part is found within, unclear or over"
    subtitle = f"method {method.id} {method.version}, {method.decision.rule}, U = {big_u:.4f} mm"
    args.output.write_text(risk_svg(curve, limit, title, subtitle), encoding="utf-8")


def _data(
    method: Method, check: str, limit: float, big_u: float, zones: Zones, rule: Rule, share: float,
    rows: list[Chances], risks: GlobalRisks | None, looks: dict[str, Any] | None,
) -> dict[str, Any]:  # fmt: skip
    from dataclasses import asdict

    return {
        "check": check,
        "limit_mm": limit,
        "method": {"id": method.id, "version": method.version},
        "rule": asdict(rule),
        "repeat_share": share,
        "coverage": method.decision.coverage,
        "u_expanded_mm": big_u,
        "accept_mm": zones.accept_mm,
        "reject_mm": zones.reject_mm,
        "chances": [asdict(row) for row in rows],
        "looks": looks,
        "all_parts": asdict(risks) if risks is not None else None,
    }


def _rounded(length: float) -> float:
    """The next of 1, 2, 2.5 or 5 times a power of ten at or above a length, for a table's steps."""
    unit = 10.0 ** math.floor(math.log10(length))
    return next((f * unit for f in (1.0, 2.0, 2.5, 5.0) if f * unit >= length * 0.999), 10.0 * unit)
