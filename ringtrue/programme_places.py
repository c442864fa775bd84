"""Where the commands of the programme find records and method: the configuration's, or others named."""

from __future__ import annotations

import argparse
import os
from contextlib import closing
from typing import TYPE_CHECKING

from config.errors import RingtrueError
from ringtrue.arguments import missing_file, named_method
from ringtrue.in_force import method_in_force
from ringtrue.records_options import add_records

if TYPE_CHECKING:
    from config.method import Method
    from config.settings import Settings
    from records.order import Order
    from records.register.engines import Inspections
    from records.register.merging import Book


class NoRegisterError(RingtrueError):
    """There are no records to look into."""


def add_places(parser: argparse.ArgumentParser, *, with_method: bool = True) -> None:
    """`--config`, `--records` and `--method`."""
    add_records(parser)
    if with_method:
        parser.add_argument(
            "--method", metavar="FILE", help="a method's file or shipped name instead of the configuration's"
        )


def records_url(args: argparse.Namespace, *, is_there: bool = True) -> str:
    """The database of records. Raises NoRegisterError where it must be there and is not."""
    url: str = args.records or _settings(args).records.url
    name = missing_file(url)
    if name is not None and is_there:
        raise NoRegisterError(
            f"there are no records yet: {name} is not there; `ringtrue register import engines FILE` makes "
            "it, and where there should be some, --config or --records names another place"
        )
    return url


def method_of(args: argparse.Namespace) -> Method:
    """The method in force. Raises ConfigError, NotVouchedForError."""
    return named_method(args.method) if args.method else method_in_force(_settings(args))


def _settings(args: argparse.Namespace) -> Settings:
    from config.settings import read_settings

    return read_settings(args.config, os.environ)


def read_register(url: str) -> tuple[Book, Inspections]:
    """The register and the inspections on record; nothing is made or changed.

    Raises RecordsUnavailableError where it cannot be read.
    """
    from records.register.engines import inspections_of

    book, documents, order = read_all(url)
    return book, inspections_of(documents, order)


def read_all(url: str) -> tuple[Book, list[bytes], Order]:
    """The register, the latest revision of each result on record, and in which order they were opened; as
    `read_register`."""
    from records.order import order_of
    from records.register.register import Register
    from records.store import Store

    with closing(Register(url, create=False)) as register, closing(Store(url, create=False)) as store:
        return register.load(), list(store.latest()), order_of(store)


def read_book(url: str) -> Book:
    """The register alone."""
    from records.register.register import Register

    with closing(Register(url, create=False)) as register:
        return register.load()
