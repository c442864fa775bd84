"""A bay with a register: the haul trucks of the invented quarry, as the examples have them."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

import ringtrue.commands.due
import ringtrue.commands.register
from records.store import Store
from ringtrue.cli import main
from tests.records.test_records_store import document
from tests.ringtrue.inspected_bay import CONFIG

EXAMPLES = Path(__file__).parents[2] / "examples/register"
TABLES = ("engines", "dampers", "fittings", "readings", "gauges")
TODAY = date(2026, 11, 26)
Run = Callable[..., tuple[int, str, str]]
"""Words of a command line → exit code, standard output, standard error."""


class Clock(datetime):
    """Noon of that day, whatever day it is."""

    @classmethod
    def now(cls, tz: Any = None) -> datetime:  # type: ignore[override]  # a stand-in that needs no more
        return datetime(TODAY.year, TODAY.month, TODAY.day, 12, tzinfo=tz or UTC)


def bay(folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """The current folder becomes a bay of that day; what is returned calls a command in it."""
    (folder / "ringtrue.toml").write_text(CONFIG)
    monkeypatch.chdir(folder)
    for module in (ringtrue.commands.due, ringtrue.commands.register):
        monkeypatch.setattr(module, "datetime", Clock)

    def run(*words: str) -> tuple[int, str, str]:
        code = main(words)
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def import_examples(run: Run) -> None:
    """The register of the examples."""
    for table in TABLES:
        assert run("register", "import", table, str(EXAMPLES / f"{table}.csv"))[0] == 0


def store(folder: Path, *documents: bytes) -> None:
    """Results on record."""
    with closing(Store(f"sqlite:///{folder}/var/records.db")) as records:
        for one in documents:
            records.put(one)


def result(engine: str, damper: str, day: date, verdict: str = "keep", **counters: float) -> bytes:
    """A signed inspection."""
    return document(
        f"{engine}-{day}", engine={"serial": engine, **counters}, damper={"serial": damper},
        opened=f"{day}T08:00:00.000Z", verdict=verdict, state="signed",
    )  # fmt: skip
