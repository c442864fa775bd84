"""The machine's tests: what they boot, and the wheel that runs in it."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from tests.machine.boot import Boot, prepared
from tests.machine.stage import Wheel

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def boot() -> Boot:
    return prepared()


@pytest.fixture(scope="session")
def wheel(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Wheel:
    """The one installed for the named interpreter, else one that is built here, beside our own packages."""
    given = request.config.getoption("--machine-python")
    if given:
        return Wheel(Path(given), None)
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (file,) = folder.glob("*.whl")
    with zipfile.ZipFile(file) as archive:
        archive.extractall(folder / "rooms")
    # Compiled here: an emulated processor takes a minute for it.
    subprocess.run([sys.executable, "-m", "compileall", "-q", str(folder / "rooms")], check=True)
    return Wheel(Path(sys.executable), folder / "rooms")


@pytest.fixture
def folder() -> Iterator[Path]:
    """Short, as sockets lie in it."""
    with TemporaryDirectory(prefix="rt-") as name:
        yield Path(name) / "vm"
