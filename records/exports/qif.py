"""Results as a QIF 3.0 document (ANSI/DMSC QIF; ISO 23952:2020), for systems that keep what was measured.

Each inspection is a set of measurement results. The limit is that of the method in force, so each check has
a characteristic of its own: run-out is circular run-out, the spread of thickness a linear characteristic,
what is seen an attribute. What QIF has no place for stands in attributes, by the result document's names.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import count
from uuid import UUID, uuid5
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from contract.gauge import GaugeFacts
from contract.result import Result
from records.exports.characteristics import ASPECTS, add_check
from records.exports.elements import attributes, counted, moment, text

NAMESPACE = "http://qifstandards.org/xsd/qif3"
IDS_OF = UUID("8c1f3f0e-4f7e-4d7a-9a53-6d0a0b6a2a41")
"""Whence ids are made (RFC 9562, 5.5): the same revision has the same one in every export."""
NO_STATUS = "NOT_CALCULATED"
STATUS = {"keep": "PASS", "replace": "FAIL", "measure-again": "UNKNOWN"}
"""Of an inspection that is closed or signed, by its verdict."""


def as_qif(given: Iterable[Result]) -> bytes:
    """One QIF document, UTF-8, of all these results. Lengths in mm."""
    results = tuple(given)
    root = Element("QIFDocument", {"xmlns": NAMESPACE, "versionQIF": "3.0.0"})
    ids = map(str, count(1))
    text(root, "QPId", uuid5(IDS_OF, " ".join(map(_name, results))))
    text(SubElement(root, "Header"), "Description", "Inspections of viscous torsional vibration dampers")
    standard = _add_standard(root, next(ids))
    _add_units(root)
    devices = _add_devices(root, results, ids)
    if results:
        _add_results(root, results, standard, devices, ids)
    root.set("idMax", str(int(next(ids)) - 1))
    indent(root)
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode").encode() + b"\n"


def status(result: Result) -> str:
    """Of a whole inspection: PASS only where the verdict is keep, and its signer's own decision, where there
    is one, too."""
    if result.state not in ("closed", "signed"):
        return NO_STATUS
    worst = "replace" if "replace" in (result.verdict, result.decision) else result.verdict
    if worst == "keep" and result.decision not in (None, "keep"):
        worst = "measure-again"
    return STATUS.get(worst, NO_STATUS)


def _name(result: Result) -> str:
    return f"{result.site}/{result.bay}/{result.inspection}/{result.revision}"


def _add_standard(root: Element, id_: str) -> str:
    """What run-out means stands in it."""
    standards = SubElement(root, "StandardsDefinitions")
    standard = SubElement(standards, "Standard", {"id": id_})
    text(SubElement(standard, "Organization"), "StandardsOrganizationEnum", "ISO")
    text(standard, "Designator", "ISO 1101")
    text(standard, "Year", "2017")
    counted(standards)
    return id_


def _add_units(root: Element) -> None:
    unit = SubElement(SubElement(SubElement(root, "FileUnits"), "PrimaryUnits"), "LinearUnit")
    text(unit, "SIUnitName", "meter")
    text(unit, "UnitName", "mm")
    text(SubElement(unit, "UnitConversion"), "Factor", "0.001")


def _add_devices(root: Element, results: tuple[Result, ...], ids: Iterator[str]) -> dict[GaugeFacts, str]:
    """The gauges, each as it was at the time, and their ids."""
    checks = [check for result in results for check in result.checks.by_name().values()]
    gauges = dict.fromkeys(gauge for check in checks if (gauge := getattr(check, "gauge", None)) is not None)
    if not gauges:
        return {}
    listed = SubElement(SubElement(root, "MeasurementResources"), "MeasurementDevices")
    found = {}
    for gauge in gauges:
        found[gauge] = next(ids)
        device = SubElement(listed, "MeasurementDevice", {"id": found[gauge]})
        text(device, "Name", gauge.id)
        attributes(device, {"resolution_mm": gauge.resolution_mm, "mpe_mm": gauge.mpe_mm})
        day = None if gauge.calibration_due is None else moment(gauge.calibration_due)
        if day is not None:
            calibrations = SubElement(device, "Calibrations")
            text(SubElement(calibrations, "Calibration"), "ExpirationDate", day)
            counted(calibrations)
    counted(listed)
    return found


def _add_results(
    root: Element,
    results: tuple[Result, ...],
    standard: str,
    devices: dict[GaugeFacts, str],
    ids: Iterator[str],
) -> None:
    characteristics = Element("Characteristics")
    text(characteristics, "FormalStandardId", standard)
    aspects = [SubElement(characteristics, f"Characteristic{aspect}s") for aspect in ASPECTS]
    if any(result.checks.by_name() for result in results):
        root.append(characteristics)
    set_ = SubElement(SubElement(root, "Results"), "MeasurementResultsSet")
    for result in results:
        one = SubElement(set_, "MeasurementResults", {"id": next(ids)})
        attributes(one, _facts(result))
        _trace(SubElement(one, "InspectionTraceability"), result)
        text(one, "ThisResultsInstanceQPId", uuid5(IDS_OF, _name(result)))
        checks = result.checks.by_name()
        if checks:
            measured = SubElement(SubElement(one, "MeasuredCharacteristics"), "CharacteristicMeasurements")
            for name, check in checks.items():
                add_check(measured, aspects, name, check, devices, ids)
            counted(measured)
        text(SubElement(one, "InspectionStatus"), "InspectionStatusEnum", status(result))
    for listed in (*aspects, set_):
        counted(listed)


def _facts(result: Result) -> dict[str, object]:
    """What is said of an inspection."""
    return {
        "inspection": result.inspection,
        "revision": result.revision,
        "state": result.state,
        "engine": result.engine.serial,
        "distance_km": result.engine.distance_km,
        "hours_h": result.engine.hours_h,
        "damper": result.damper.serial,
        "method": f"{result.method.id} {result.method.version}",
        "method_sha256": result.method.sha256,
        "verdict": result.verdict,
        "decision": result.decision,
        "reasons": "; ".join(result.reasons) or None,
        "readings_sha256": result.readings_sha256,
        "opened": None if moment(result.opened) else result.opened,
        "closed": None if result.closed is None or moment(result.closed) else result.closed,
    }


def _trace(trace: Element, result: Result) -> None:
    text(SubElement(trace, "InspectingOrganization"), "Name", f"{result.site} {result.bay}")
    if result.work_order is not None:
        text(trace, "OrderNumber", result.work_order)
    text(trace, "ReportNumber", f"{result.inspection} revision {result.revision}")
    for name, said in (("InspectionStart", result.opened), ("InspectionEnd", result.closed)):
        if said is not None and (when := moment(said)) is not None:
            text(trace, name, when)
    if result.signed_by is not None:
        text(SubElement(trace, "ReportPreparer"), "Name", result.signed_by)
