"""What holds for every test: no task left behind, laws checked repeatably, heavy ones only when asked."""

from __future__ import annotations

import asyncio
import inspect
import os
import signal
from collections.abc import AsyncIterator, Iterator, Sequence
from typing import Any

import pytest
import structlog
from hypothesis import HealthCheck, settings

from tests.parts.postgres import Postgres, server

# Before anything imports numpy: one thread, as the command line has it; more only wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# A shell that starts the tests in the background has them ignore a terminal's interrupt, and all that they
# start inherits that: how our programs take one could not be told.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

TURNS_TO_END = 3
"""Loop turns a cancelled task is given to end before it counts as left behind."""

settings.register_profile(
    "suite", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("heavy", deadline=None, max_examples=2000, print_blob=True)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--heavy", action="store_true", help="run the heavy tests too, and try laws harder")
    parser.addoption("--machine", action="store_true", help="run those in an emulated machine too")
    parser.addoption("--machine-python", metavar="PATH", help="whose installed wheel runs in the machine")


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("heavy" if config.getoption("--heavy") else "suite")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Heavy tests, and those of the machine, are deselected, and counted as such, not skipped."""
    unasked = {name for name in ("heavy", "machine") if not config.getoption(f"--{name}")}
    left_out = [item for item in items if any(item.get_closest_marker(name) for name in unasked)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]


def pytest_deselected(items: Sequence[pytest.Item]) -> None:
    """In one of several processes: told to the one that prints the closing line."""
    for item in items[:1]:
        output = getattr(item.config, "workeroutput", None)
        if output is not None:
            output["deselected"] = output.get("deselected", 0) + len(items)


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Each of several processes deselects the same: the closing line counts them once."""
    stats = node.config.pluginmanager.getplugin("terminalreporter").stats
    if "deselected" not in stats and (number := getattr(node, "workeroutput", {}).get("deselected")):
        stats["deselected"] = [node] * number


@pytest.fixture(autouse=True)
def _log_as_before() -> Iterator[None]:
    """A command sets the log up for its whole process: the next test finds it as if nothing was called."""
    yield
    structlog.reset_defaults()


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """A PostgreSQL server that the tests of this process share, each with a database of its own; one that
    stops it starts it again."""
    with server() as running:
        yield running


@pytest.fixture(autouse=True)
def no_task_left_behind(request: pytest.FixtureRequest) -> None:
    """Asked for first, so it looks last, after every other fixture has tidied up."""
    if inspect.iscoroutinefunction(getattr(request, "function", None)):
        request.getfixturevalue("_watched_loop")


@pytest.fixture
async def _watched_loop() -> AsyncIterator[None]:
    yield
    for _ in range(TURNS_TO_END):
        await asyncio.sleep(0)
    left = sorted(repr(task) for task in asyncio.all_tasks() - {asyncio.current_task()})
    if left:
        pytest.fail("tasks left behind:\n" + "\n".join(left))
