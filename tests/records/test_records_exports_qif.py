"""QIF is held to its published schema (QIF 3.0, ISO 23952:2020), by a general XML library."""

from __future__ import annotations

import json
import math
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contract.document import decode
from records.exports.qif import NAMESPACE, as_qif
from tests.records.qif_schema import faults
from tests.records.reported import bare, foreign, unsigned, whole

IN_QIF = {"q": NAMESPACE}


def changed(document: bytes, change: dict[str, Any], check: str | None = None) -> bytes:
    result = json.loads(document)
    (result if check is None else result["checks"][check]).update(change)
    return json.dumps(result).encode()


def of(*documents: bytes) -> ElementTree.Element:
    made = as_qif(decode(document) for document in documents)
    assert faults(made) == []
    return ElementTree.fromstring(made)


def measured(root: ElementTree.Element, name: str) -> ElementTree.Element:
    (found,) = [
        part
        for part in root.findall(".//q:CharacteristicMeasurements/*", IN_QIF)
        if part.find(f"q:Attributes/q:AttributeStr[@value='{name}']", IN_QIF) is not None
    ]
    return found


def said(part: ElementTree.Element, path: str) -> str | None:
    return part.findtext(path, namespaces=IN_QIF)


@pytest.mark.parametrize(
    "documents",
    [
        (),
        (whole(),),
        (bare(),),
        (foreign(),),
        (unsigned("closed"),),
        (whole(), bare(), unsigned("abandoned")),
    ],
    ids=["none", "whole", "without checks", "foreign letters", "unsigned", "three"],
)
def test_what_is_exported_is_valid(documents: tuple[bytes, ...]) -> None:
    root = of(*documents)
    assert len(root.findall(".//q:MeasurementResults", IN_QIF)) == len(documents)


@pytest.mark.parametrize(
    ("opened", "told"),
    [
        ("2026-11-02T06:00:00.000Z", "2026-11-02T06:00:00Z"),
        ("2026-11-02T06:00:00.250+00:00", "2026-11-02T06:00:00.250Z"),
        ("2026-11-02T08:30:00+02:30", "2026-11-02T06:00:00Z"),
        ("2026-11-02T23:30:00-07:00", "2026-11-03T06:30:00Z"),
        ("20261102T060000Z", "2026-11-02T06:00:00Z"),
        ("2026-11-02 06:00:00", "2026-11-02T06:00:00"),
        ("2026-11-02", "2026-11-02T00:00:00"),
        ("0001-01-01T00:00:00+02:00", None),
        ("2 November 2026, 6 o'clock", None),
    ],
)
def test_a_time_as_other_programs_write_it_is_told_in_utc(opened: str, told: str | None) -> None:
    root = of(changed(whole(), {"opened": opened, "closed": opened}))
    assert said(root, ".//q:InspectionStart") == said(root, ".//q:InspectionEnd") == told
    kept = root.findall(".//q:AttributeStr[@name='opened']", IN_QIF)
    assert [one.get("value") for one in kept] == ([opened] if told is None else [])


def test_a_calibration_s_day_that_is_none_is_left_out() -> None:
    document = json.loads(whole())
    gauge = document["checks"]["rim"]["gauge"] | {"calibration_due": "next summer"}
    root = of(changed(whole(), {"gauge": gauge}, "rim"))
    assert "next summer" not in [one.text for one in root.iter()]


def test_the_schema_sees_a_wrong_document() -> None:
    made = as_qif([decode(whole())]).replace(b"<InspectionStatusEnum>PASS", b"<InspectionStatusEnum>FINE")
    assert any("FINE" in fault for fault in faults(made))


def test_the_figure_that_is_decided_stands_with_its_limit_and_gauge() -> None:
    budget = [{"source": "a", "u_mm": 0.003}, {"source": "b", "u_mm": 0.004}]
    root = of(changed(whole(), {"budget": budget}, "rim"))
    rim = measured(root, "rim")
    value = rim.find("q:Value", IN_QIF)
    assert value is not None
    assert value.text == "0.186"
    # combined standard uncertainty (JCGM 100:2008, 5.1): the root of the sum of squares
    assert math.isclose(float(value.attrib["combinedUncertainty"]), 0.005)
    assert value.attrib["meanError"] == "0"
    assert said(rim, "q:Status/q:CharacteristicStatusEnum") == "PASS"
    device = root.find(f".//q:MeasurementDevice[@id='{said(rim, 'q:MeasurementDeviceIds/q:Id')}']", IN_QIF)
    assert device is not None
    assert said(device, "q:Name") == "indicator-1"
    item = root.find(f".//*[@id='{said(rim, 'q:CharacteristicItemId')}']", IN_QIF)
    assert item is not None
    nominal = root.find(f".//*[@id='{said(item, 'q:CharacteristicNominalId')}']", IN_QIF)
    assert nominal is not None
    definition = root.find(f".//*[@id='{said(nominal, 'q:CharacteristicDefinitionId')}']", IN_QIF)
    assert definition is not None
    assert said(definition, "q:ToleranceValue") == "0.28"


@pytest.mark.parametrize(
    ("outcome", "status"),
    [
        ("within", "PASS"),
        ("over", "FAIL"),
        ("unclear", "INDETERMINATE"),
        ("invalid", "INDETERMINATE"),
        ("missing", "NOT_ANALYZED"),
    ],
)
def test_only_within_passes(outcome: str, status: str) -> None:
    rim = measured(of(changed(whole(), {"outcome": outcome}, "rim")), "rim")
    assert said(rim, "q:Status/q:CharacteristicStatusEnum") == status


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({}, "PASS"),
        ({"verdict": "replace"}, "FAIL"),
        ({"verdict": "replace", "decision": "keep"}, "FAIL"),
        ({"decision": "replace"}, "FAIL"),
        ({"decision": "measure-again"}, "UNKNOWN"),
        ({"verdict": "measure-again"}, "UNKNOWN"),
        ({"verdict": "incomplete"}, "NOT_CALCULATED"),
        ({"state": "open"}, "NOT_CALCULATED"),
        ({"state": "abandoned"}, "NOT_CALCULATED"),
    ],
)
def test_an_inspection_passes_only_where_it_is_ended_and_nobody_says_otherwise(
    change: dict[str, Any], status: str
) -> None:
    root = of(changed(whole(), change))
    assert said(root, ".//q:InspectionStatus/q:InspectionStatusEnum") == status


def test_the_same_revision_has_the_same_id_and_the_next_another() -> None:
    ids = [
        said(of(document), ".//q:ThisResultsInstanceQPId")
        for document in (whole(), whole(), changed(whole(), {"revision": 7}))
    ]
    assert ids[0] == ids[1] != ids[2]


@given(st.text(max_size=40))
def test_whatever_somebody_wrote_the_document_stays_valid(note: str) -> None:
    of(changed(whole(), {"work_order": note, "reasons": [note]}))


def test_an_item_named_with_what_xml_cannot_hold_is_shown_as_such() -> None:
    items = [{"item": "it\x01em", "text": "", "seen": "good"}]
    root = of(changed(whole(), {"items": items}, "visual"))
    assert root.find(".//q:AttributeStr[@name='item it\ufffdem']", IN_QIF) is not None
