"""What other programs read: its description held to OpenAPI 3.1 by a public validator, its answers to its own
description."""

from __future__ import annotations

import json
import shutil
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from icalendar import Calendar
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from config.settings import read_settings
from display.web.openapi import described
from display.web.reads import read_routes
from records.store import Store
from ringtrue.showing import Showing
from tests.display.quarry import quarry
from tests.display.site import CREDENTIAL, site
from tests.display.test_display_reads import Pages, the_one_line
from tests.parts.issuing import IssuingBay, put_on_record

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("quarry")
    quarry(folder)
    return folder


@pytest.fixture
def pages(made: Path) -> Pages:
    return Pages(made)


def on_record(folder: Path) -> list[bytes]:
    with closing(Store(f"sqlite:///{folder}/var/records.db")) as store:
        return list(store.latest())


def fits(answer: Any, path: str) -> bool:
    """Whether an answer is as the description says."""
    document = described()
    schema = document["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    Draft202012Validator({**schema, "components": document["components"]}).validate(answer)
    return True


def test_the_description_is_valid() -> None:
    assert list(OpenAPIV31SpecValidator(described()).iter_errors()) == []


def test_all_are_told_a_few_at_a_time(pages: Pages, made: Path) -> None:
    told: list[Any] = []
    path = "/api/1/inspections?limit=4"
    while True:
        answer = pages.get(path).json()
        assert fits(answer, "/api/1/inspections")
        told += answer["inspections"]
        if answer["next"] is None:
            break
        assert len(answer["inspections"]) == 4
        path = f"/api/1/inspections?limit=4&after={quote(answer['next'])}"
    assert told == [json.loads(document) for document in on_record(made)]


def test_only_those_asked_for(pages: Pages, made: Path) -> None:
    answer = pages.get("/api/1/inspections?damper=GQ-D-0815").json()
    assert answer["inspections"]
    assert {one["damper"]["serial"] for one in answer["inspections"]} == {"GQ-D-0815"}
    assert pages.get("/api/1/inspections?engine=nobody").json() == {
        "inspections": [],
        "next": None,
        "contradicted": {},
    }
    assert pages.get("/api/1/inspections?since=2099-01-01").json()["inspections"] == []


def test_one_is_told_byte_for_byte(pages: Pages, made: Path) -> None:
    document = on_record(made)[0]
    result = json.loads(document)
    inspection, revision = result["inspection"], result["revision"]
    for path in (f"{inspection}", f"{inspection}?revision={revision}"):
        answer = pages.get(f"/api/1/inspections/{path}")
        assert answer.content == document
        assert answer.headers["content-type"] == "application/json"
    assert fits(result, "/api/1/inspections/{inspection}")
    assert "not on record" in the_one_line(pages, f"/api/1/inspections/{inspection}?revision=999", 404)
    assert "not on record" in the_one_line(pages, "/api/1/inspections/none", 404)


def test_a_result_that_another_bay_contradicts_is_told_so_beside_it(made: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(made, tmp_path / "bay"))
    with closing(Store(f"sqlite:///{folder}/var/records.db")) as store:
        for bay in (IssuingBay("bay-4"), IssuingBay("bay-5")):
            put_on_record(store, *bay.issue("Größe 1"))
    pages = Pages(folder)
    answer = pages.get("/api/1/inspections?limit=1").json()
    assert fits(answer, "/api/1/inspections")
    assert "does not count" in answer["contradicted"]["Größe 1"]
    one = pages.get(f"/api/1/inspections/{quote('Größe 1')}")
    assert one.headers["Ringtrue-Contradicted"] == "greywacke/bay-4, greywacke/bay-5"
    other = pages.get(f"/api/1/inspections/{json.loads(on_record(made)[0])['inspection']}")
    assert "Ringtrue-Contradicted" not in other.headers


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("?limit=0", "1 to 500"),
        ("?limit=many", "1 to 500"),
        ("?limit=%C2%B2", "1 to 500"),
        ("?limit=" + "1" * 5000, "1 to 500"),
        ("?since=yesterday", "a time such as"),
        ("?since=0001-01-01T00:00%2B01:00", "a time such as"),
        ("?sinc=2026-11-01", "no such parameter"),
        ("/x?revision=-1", "a number"),
    ],
)
def test_a_wrong_question_is_answered_in_one_line(pages: Pages, asked: str, said: str) -> None:
    assert said in the_one_line(pages, f"/api/1/inspections{asked}", 400)


def test_what_is_due_is_a_calendar(pages: Pages) -> None:
    answer = pages.get("/api/1/due.ics")
    assert answer.headers["content-type"].startswith("text/calendar")
    assert Calendar.from_ical(answer.content).walk("VEVENT")


def test_records_that_are_away_are_said(made: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(made, tmp_path / "bay"))
    (folder / "var/records.db").unlink()
    assert "no records yet" in the_one_line(Pages(folder), "/api/1/inspections", 503)


async def test_a_program_enters_as_a_person_does(made: Path, tmp_path: Path) -> None:
    reads = read_routes(Showing(read_settings(made / "ringtrue.toml", {})))
    async with site(tmp_path, reads=reads) as bay:
        async with bay.browser() as stranger:
            assert (await stranger.get("/api/1/openapi.json")).json() == described()
            for path in ("/api/1/inspections", "/api/1/inspections/x", "/api/1/due.ics"):
                assert (await stranger.get(path)).status_code == 401
        # A file's line as a program sends it, with its end.
        async with bay.entered(password=f"{CREDENTIAL}\n") as program:
            assert (await program.get("/api/1/inspections")).json()["inspections"]
