from __future__ import annotations

import csv
import io
import json

from hypothesis import given
from hypothesis import strategies as st

from records.exports.texts import as_csv, as_json

RESULT = {
    "schema": "ringtrue/result/1",
    "inspection": "GQ-1",
    "revision": 3,
    "state": "signed",
    "site": "greywacke",
    "bay": "bay-2",
    "engine": {"serial": "GQ-E-2207"},
    "damper": {"serial": "GQ-D-0815", "construction": "rolled"},
    "opened": "2026-11-02T06:00:00.000Z",
    "closed": "2026-11-02T06:40:00.000Z",
    "method": {"id": "example", "version": "1", "sha256": "00"},
    "verdict": "replace",
    "reasons": ["rim: well, within"],
    "checks": {
        "rim": {
            "outcome": "within",
            "limit_mm": 0.28,
            "tir_mm": 0.19,
            "gauge": {"id": "indicator-1"},
            "reason": "well, within",
        },
        "visual": {"outcome": "good", "items": []},
    },
}


def rows(*results: object) -> list[dict[str, str]]:
    text = "".join(as_csv(json.dumps(result).encode() for result in results))
    return list(csv.DictReader(io.StringIO(text)))


def test_json_is_one_array_of_the_unchanged_documents_one_a_line() -> None:
    documents = [b'{"a": 1.10}', '{"b":"ä"}'.encode()]
    text = "".join(as_json(documents))
    assert text == '[\n{"a": 1.10},\n{"b":"ä"}\n]\n'
    assert json.loads(text) == [{"a": 1.1}, {"b": "ä"}]


def test_json_of_nothing_is_an_empty_array() -> None:
    assert json.loads("".join(as_json([]))) == []


def test_csv_has_one_row_per_check_with_the_inspection_repeated() -> None:
    rim, visual = rows(RESULT)
    assert (rim["check"], rim["outcome"], rim["limit_mm"], rim["tir_mm"]) == ("rim", "within", "0.28", "0.19")
    assert (rim["gauge"], visual["gauge"], visual["tir_mm"]) == ("indicator-1", "", "")
    assert {row["verdict"] for row in (rim, visual)} == {"replace"}
    assert (rim["reason"], visual["reason"]) == ("well, within", "")
    assert (rim["engine"], rim["damper"], rim["method"]) == ("GQ-E-2207", "GQ-D-0815", "example")


def test_csv_says_where_the_signer_decided_otherwise_and_what_speaks_against_a_check() -> None:
    """A keep that its signer let go stood there as a keep."""
    # Of a plain dict mypy knows no members; where one lacks, the test fails.
    rim = RESULT["checks"]["rim"] | {"warnings": ["sweep 1 does not count", "it was due"]}  # type: ignore[index]
    said = RESULT | {"verdict": "keep", "decision": "replace", "checks": {"rim": rim, "visual": {}}}
    first, second = rows(said)
    assert {(row["verdict"], row["decision"]) for row in (first, second)} == {("keep", "replace")}
    assert (first["warnings"], second["warnings"]) == ("sweep 1 does not count; it was due", "")
    assert {row["decision"] for row in rows(RESULT)} == {""}


def test_csv_of_nothing_is_a_header() -> None:
    assert "".join(as_csv([])).startswith("inspection,revision,")
    assert rows() == []


@given(st.text())
def test_no_text_becomes_a_formula_and_none_breaks_a_row(serial: str) -> None:
    text = "".join(as_csv([json.dumps(RESULT | {"engine": {"serial": serial}}).encode()]))
    assert len(text.splitlines()) == 3
    (rim, _) = csv.DictReader(io.StringIO(text))
    assert not rim["engine"].lstrip().startswith(("=", "+", "@"))
    if serial.isprintable():
        assert rim["engine"].removeprefix("'") == serial.removeprefix("'")
