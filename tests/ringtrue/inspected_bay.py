"""A bay's folder with one inspection, journalled and recorded, as a daemon leaves it."""

from __future__ import annotations

import asyncio
import math
import tomllib
from pathlib import Path
from typing import Any

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import fold
from acquire.journal.events import AngleStated, Closed, Observation, Opened, Sample, SweepBegun, SweepEnded
from acquire.journal.writer import Journal
from config.files import shipped
from config.method import Method
from contract.document import encode
from contract.gauge import GaugeFacts
from contract.header import DamperPart, EnginePart, Header
from contract.item import Item
from contract.terms import Surface
from contract.units import UDEG_PER_DEG, Unit
from drivers.reading import Reading
from grading.assess import assess
from records.store import Store

ID = "truck-14-november"
CONFIG = """
[bay]
site = "greywacke"
name = "bay-2"
[method]
file = "example"
[angle]
source = "marks"
marks_deg = [0]
"""
ENGINE = EnginePart(serial="GQ-E-2207")
READINGS = 120
STEP_NS = 20_000_000


def inspect(folder: Path, engine: EnginePart = ENGINE, swept: tuple[Surface, ...] = ("rim",)) -> Path:
    """One closed inspection in this folder: a rim of 0.19 mm, two recorded results. swept: each alike."""
    (folder / "ringtrue.toml").write_text(CONFIG)
    asyncio.run(_inspect(folder, engine, swept))
    return folder


async def _inspect(folder: Path, engine: EnginePart, swept: tuple[Surface, ...]) -> None:
    (folder / "var").mkdir(exist_ok=True)
    method = Method.model_validate(tomllib.loads(shipped("methods", "example").read_text()))
    journal = Journal(folder / "var" / "journal.db")
    common: dict[str, Any] = {"inspection": ID, "time_ns": 0, "operator": "R. Example"}
    journal.append(
        Opened(
            **common,
            header=Header(
                site="greywacke",
                bay="bay-2",
                scope="on-engine",
                engine=engine,
                damper=DamperPart(serial="GQ-D-0815"),
                opened="2026-11-02T06:00:00.000Z",
            ),
            method=method.as_data(),
            method_sha256=method.sha256(),
            software="ringtrue 0",
        )
    )
    for turn, check in enumerate(swept):
        _sweep(journal, check, turn, common)
    items = tuple(Item(item=item.id, seen="good") for item in method.observed["visual"].item)
    journal.append(Observation(**common, check="visual", items=items))
    journal.append(Closed(**{**common, "time_ns": READINGS * STEP_NS * len(swept)}))
    await journal.flushed()
    store = Store(f"sqlite:///{folder}/var/records.db")
    events = journal.read(ID)
    assert sum(isinstance(event, Sample) for event in events) == 2 * READINGS * len(swept)
    for revision in (2, 3 + len(swept)):
        document = encode(assess(to_evidence(fold(events, revision=revision)), method))
        journal.put_result(ID, revision, document, f"2026-11-02T06:0{revision}:00.000Z", [])
        store.put(document)
    await journal.flushed()
    journal.close()
    store.close()


def _sweep(journal: Journal, check: Surface, turn: int, common: dict[str, Any]) -> None:
    begin_ns = turn * READINGS * STEP_NS
    (begun,) = journal.append(
        SweepBegun(
            **{**common, "time_ns": begin_ns},
            check=check,
            gauge=GaugeFacts(id="indicator-1", resolution_mm=0.001, mpe_mm=0.004),
            angle=AngleStated(source="encoder", gauge="encoder-1", step=100_000),
        )
    )
    for number in range(READINGS):
        angle = 370 * number / (READINGS - 1)
        height = round(95 * math.cos(math.radians(angle - 40))) * 1_000
        for gauge, value, unit in (
            ("encoder-1", round(angle * 10) * UDEG_PER_DEG // 10, Unit.UDEG),
            ("indicator-1", height, Unit.NM),
        ):
            time_ns = begin_ns + number * STEP_NS
            journal.append_sample(begun.seq, Reading(gauge, number, time_ns, value, unit))
    ended_ns = begin_ns + READINGS * STEP_NS
    journal.append(SweepEnded(**{**common, "time_ns": ended_ns}, reason="complete"))
