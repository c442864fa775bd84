"""The folder in which a demonstration or a practice lives: its configuration, ports, journal, records."""

from __future__ import annotations

import fcntl
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from config.bay import BayFiles, read_bay
from config.errors import RingtrueError

INDICATOR, ENCODER, MICROMETER = "indicator-1", "encoder-1", "micrometer-1"

# The first line of the configuration: without it a file is somebody's own and is not touched.
MARK = "# Written anew by every `ringtrue {command}` in this folder: change a copy, not this file."

CONFIG = """\
{mark}
[bay]
site = "greywacke"
name = "bay-2"

[mqtt]
url = "built-in"
port = 0                      # any free one

{pages}[method]
file = "example"

[[gauge]]
id = "{indicator}"
profile = "line-mm"
port = {indicator_port}
resolution_mm = 0.001
mpe_mm = 0.004
calibration_due = 2027-06-01

[[gauge]]
id = "{encoder}"
profile = "encoder-degrees"
port = {encoder_port}

[angle]
source = "encoder"
gauge = "{encoder}"
"""
# Added where there are pages for a browser.
PAGES = """\
[display]
listen = "127.0.0.1:{port}"

"""
# The port that is told in docs; where it is taken, any free one.
PAGES_PORT = 8080
# Added where a casing is measured too.
KEYED = """
[[gauge]]
id = "{micrometer}"
profile = "line-key-mm"
port = {micrometer_port}
resolution_mm = 0.001
mpe_mm = 0.002
calibration_due = 2027-06-01
"""


class DemoError(RingtrueError):
    """The demonstration cannot go on."""


class DemoFolder:
    """One folder; `prepare()` it first. command: whose it is. has_micrometer, has_pages: whether its bay has
    them."""

    def __init__(
        self, folder: Path, command: str = "demo", *, has_micrometer: bool = False, has_pages: bool = False
    ) -> None:
        self.folder = folder
        self._pages_port = free_port(PAGES_PORT) if has_pages else None
        self._command = command
        self._has_micrometer = has_micrometer
        self.config = folder / "bay.toml"
        self.log = folder / "var" / "daemon.log"
        self.pictures = folder / "pictures"
        self._ports = folder.absolute() / "ports"

    @property
    def wall(self) -> str | None:
        """Where the wall is to be seen; None where there are no pages."""
        return None if self._pages_port is None else f"http://127.0.0.1:{self._pages_port}/wall"

    def port(self, gauge: str) -> Path:
        """Where a gauge's port is to be found."""
        return self._ports / gauge

    def prepare(self) -> BayFiles:
        """Make what is missing; the bay as configured. Raises DemoError where the folder cannot be used."""
        try:
            mark = MARK.format(command=self._command)
            if self.config.exists() and not self.config.read_text().startswith(mark):
                raise DemoError(
                    f"{self.config} is not the {self._command}'s own file: choose another folder with "
                    "--folder"
                )
            for folder in (self.folder, self.log.parent, self.pictures, self._ports):
                folder.mkdir(parents=True, exist_ok=True)
            text = (CONFIG + KEYED if self._has_micrometer else CONFIG).format(
                mark=mark,
                pages="" if self._pages_port is None else PAGES.format(port=self._pages_port),
                indicator=INDICATOR,
                encoder=ENCODER,
                indicator_port=_toml(self.port(INDICATOR)),
                encoder_port=_toml(self.port(ENCODER)),
                micrometer=MICROMETER,
                micrometer_port=_toml(self.port(MICROMETER)),
            )
            fresh = self.config.with_name(".bay.toml.new")
            fresh.write_text(text)
            fresh.replace(self.config)
        except (OSError, UnicodeError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise DemoError(
                f"{self.folder} cannot be written ({reason}): choose another folder with --folder"
            ) from None
        return read_bay(self.config, os.environ)

    @contextmanager
    def alone(self) -> Iterator[None]:
        """While no other of its kind uses the folder. Raises DemoError where one does."""
        with (self.log.parent / f"{self._command}.lock").open("a") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                raise DemoError(
                    f"another {self._command} runs in {self.folder}: wait for it, or choose another with "
                    "--folder"
                ) from None
            yield


def free_port(wanted: int) -> int:
    """The one that is wanted where nobody listens there, else any free one of this machine."""
    for port in (wanted, 0):
        with socket.socket() as tried, suppress(OSError):
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            tried.bind(("127.0.0.1", port))
            return int(tried.getsockname()[1])
    return wanted


def _toml(path: Path) -> str:
    """A path as a TOML string."""
    return '"' + "".join(_escaped(letter) for letter in str(path)) + '"'


def _escaped(letter: str) -> str:
    return f"\\U{ord(letter):08x}" if letter in '"\\' or not letter.isprintable() else letter
