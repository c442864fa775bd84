"""The record writer put together: settings, source, database."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from config.stream import StreamSettings
from config.writer import MqttSource, WriterRecords, WriterSettings, read_writer
from contract.topics import Topics
from link.address import Session, address_of, first_line
from link.shared import SharedReader, Wanted
from records.fleet.arriving import BATCH_MAX, ENOUGH, GATHER_S, Source
from records.fleet.bays import Bays
from records.fleet.database import Fleet
from records.fleet.fetching import Fetching
from records.fleet.filing import Filing
from records.fleet.latest import latest_documents, superseded, unproven
from records.fleet.letting_go import LettingGo
from records.fleet.ordered import order_of_fleet
from records.fleet.writing import Writer
from records.order import Order

_ALL = Topics("+", "+")


def fleet_of(records: WriterRecords) -> Fleet:
    """The database. Raises ConfigError where its password cannot be read."""
    password = records.password.get_secret_value() if records.password is not None else None
    if records.password_file is not None:
        password = first_line(records.password_file, "records.password_file")
    return Fleet(records.url, password)


@contextmanager
def fleet_documents(file: Path) -> Iterator[tuple[Iterable[bytes], list[str], Order]]:
    """Of the database of a record writer whose configuration this is: the latest revision of each inspection
    that its bay's chain vouches for, in words what is left out, and the order that the chains tell. Raises
    ConfigError, RecordsUnavailableError."""
    with closing(fleet_of(read_writer(file, os.environ).records)) as fleet:
        told = []
        if number := unproven(fleet):
            which = "1 result without its" if number == 1 else f"{number} results without their"
            told.append(f"{which} record in the chain (ringtrue writer --status)")
        if number := superseded(fleet):
            which = "1 inspection" if number == 1 else f"{number} inspections"
            told.append(f"the keep of {which}, whose later result is missing (ringtrue writer --status)")
        yield latest_documents(fleet), told, order_of_fleet(fleet)


def source_of(source: MqttSource | StreamSettings) -> Source:
    """Where messages come from. Raises ConfigError where a file of its settings cannot be used."""
    if isinstance(source, StreamSettings):
        from link.stream import StreamReader  # a library that no other source needs

        return StreamReader(source, ENOUGH, BATCH_MAX, GATHER_S)
    wanted = Wanted(
        group=source.group,
        shared=(_ALL.inspection_result("+"), _ALL.chain, _ALL.checkpoint),
        kept=(_ALL.checkpoint,),
        enough=ENOUGH,
        batch_max=BATCH_MAX,
        gather_s=GATHER_S,
    )
    client = source.client or f"writer-{socket.gethostname()}"
    # A batch that is filed, and the next.
    session = Session(client, source.session_h * 3600, 2 * BATCH_MAX)
    return SharedReader(address_of(source, "source"), session, wanted)


def writer_of(settings: WriterSettings, fleet: Fleet) -> Writer:
    """All of it. Raises ConfigError."""
    source = source_of(settings.source)
    kept = settings.refused
    looks = Fetching(fleet, source).look, LettingGo(fleet, kept.most, kept.most_mb * 1_000_000).look
    return Writer(source, Filing(fleet, Bays(settings.bays)), looks)
