"""A check of a result as a characteristic of QIF: defined, nominal, an item, measured."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from contract.gauge import GaugeFacts
from contract.result import Check, ObservedCheck, SurfaceCheck, ThicknessCheck
from records.exports.elements import attributes, counted, text

STATUS = {
    "within": "PASS",
    "good": "PASS",
    "over": "FAIL",
    "bad": "FAIL",
    "unclear": "INDETERMINATE",
    "invalid": "INDETERMINATE",
    "missing": "NOT_ANALYZED",
}
"""By a check's outcome: what is not known is never called a pass or a failure."""
ASPECTS = ("Definition", "Nominal", "Item")
"""In QIF a characteristic is defined, has a nominal, is an item of a drawing; then it is measured."""


class _Form(NamedTuple):
    """How QIF calls such a characteristic, and what is measured, where its own name does not say so."""

    element: str
    what: str | None


FORMS: dict[type[object], _Form] = {
    SurfaceCheck: _Form("CircularRunout", None),
    ThicknessCheck: _Form("UserDefinedLinear", "Spread of the casing's thickness, highest minus lowest"),
    ObservedCheck: _Form("UserDefinedAttribute", "What is looked at by eye"),
}


def add_check(
    measured: Element,
    aspects: Sequence[Element],
    name: str,
    check: Check,
    devices: dict[GaugeFacts, str],
    ids: Iterator[str],
) -> None:
    """Add one check to the list `measured`. aspects: the lists of ASPECTS. devices: each gauge's id."""
    form = FORMS[type(check)]
    made = [next(ids) for _ in ASPECTS]
    for listed, aspect, id_ in zip(aspects, ASPECTS, made, strict=True):
        part = SubElement(listed, f"{form.element}Characteristic{aspect}", {"id": id_})
        if aspect == "Definition":
            _define(part, name, check, form)
        elif aspect == "Nominal":
            text(part, "CharacteristicDefinitionId", made[0])
            text(part, "Name", name)
        else:
            text(part, "Name", name)
            text(part, "CharacteristicNominalId", made[1])
    _measure(measured, name, check, form, made[2], next(ids), devices)


def _define(part: Element, name: str, check: Check, form: _Form) -> None:
    text(part, "Name", name)
    if isinstance(check, SurfaceCheck):
        text(part, "ToleranceValue", _decimal(check.limit_mm))
    elif isinstance(check, ThicknessCheck):
        tolerance = SubElement(part, "Tolerance")
        text(tolerance, "MaxValue", _decimal(check.limit_mm))
        text(tolerance, "DefinedAsLimit", "true")
    if form.what is not None:
        text(part, "WhatToMeasure", form.what)


def _measure(
    measured: Element,
    name: str,
    check: Check,
    form: _Form,
    item: str,
    id_: str,
    devices: dict[GaugeFacts, str],
) -> None:
    part = SubElement(measured, f"{form.element}CharacteristicMeasurement", {"id": id_})
    attributes(part, {"check": name, **_facts(check)})
    text(SubElement(part, "Status"), "CharacteristicStatusEnum", STATUS[check.outcome])
    text(part, "CharacteristicItemId", item)
    if isinstance(check, ObservedCheck):
        text(part, "Value", check.outcome)
        return
    if check.gauge is not None:
        listed = SubElement(part, "MeasurementDeviceIds")
        text(listed, "Id", devices[check.gauge])
        counted(listed)
    value = check.true_tir_mm if isinstance(check, SurfaceCheck) else check.true_spread_mm
    if value is not None:
        said = text(part, "Value", _decimal(value))
        if check.budget:
            combined = math.hypot(*(line.u_mm for line in check.budget))
            said.attrib |= {"combinedUncertainty": _decimal(combined), "meanError": "0"}


def _facts(check: Check) -> dict[str, object]:
    """What is said of a check beyond its value."""
    facts: dict[str, object] = {"outcome": check.outcome, "reason": check.reason}
    warnings: dict[str, object] = {"warnings": "; ".join(check.warnings) or None}
    if isinstance(check, ObservedCheck):
        return facts | warnings | {f"item {one.item}": _seen(one.seen, one.note) for one in check.items}
    as_read = {"tir_mm": check.tir_mm} if isinstance(check, SurfaceCheck) else {"spread_mm": check.spread_mm}
    return (
        facts
        | as_read
        | {
            "u_expanded_mm": check.u_expanded_mm,
            "coverage": check.coverage,
            "p_over": check.p_over,
            "readings": check.readings,
        }
        | warnings
    )


def _seen(seen: str, note: str | None) -> str:
    return seen if note is None else f"{seen}: {note}"


def _decimal(value_mm: float) -> str:
    """As xs:decimal wants it: no exponent. Whole nanometres."""
    return f"{Decimal(repr(round(value_mm, 6))):f}"
