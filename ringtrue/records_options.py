"""The records that a command reads, as the configuration or the command line names them."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from config.errors import RingtrueError
from ringtrue.arguments import add_config, missing_file

if TYPE_CHECKING:
    from records.store import Store


class NoRecordsError(RingtrueError):
    """There is nothing on record yet."""


def add_records(parser: argparse.ArgumentParser) -> None:
    """`--config` and `--records`."""
    add_config(parser)
    parser.add_argument(
        "--records",
        metavar="URL",
        help="a database instead of the configuration's, e.g. sqlite:///var/records.db",
    )


def add_writer(parser: argparse.ArgumentParser, what: str) -> None:
    """`--writer`."""
    parser.add_argument("--writer", type=Path, metavar="FILE", help=what)


def open_records(args: argparse.Namespace) -> Store:
    """The store, for reading. Raises NoRecordsError where its file is not there yet."""
    from config.settings import read_settings
    from records.store import Store

    url = args.records or read_settings(args.config, os.environ).records.url
    _refuse_none_yet(args.command, url)
    return Store(url, create=False)


def _refuse_none_yet(command: str, url: str) -> None:
    """Say so where the file of records is not there: it is made with the first result."""
    name = missing_file(url)
    if name is not None:
        raise NoRecordsError(
            f"{command}: there are no records yet: {name} is made when the daemon keeps its first result; "
            "where there should be some, --config or --records names another place"
        )
