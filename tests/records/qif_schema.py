"""The published schema of QIF 3.0, as `data/qif` keeps it (its licence beside it)."""

from __future__ import annotations

import tarfile
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from lxml import etree

ARCHIVE = Path(__file__).parent / "data/qif/qif-3.0-xsd.tar.xz"


@cache
def schema() -> etree.XMLSchema:
    """Unpacked and read once: it takes a third of a second."""
    with TemporaryDirectory() as folder:
        with tarfile.open(ARCHIVE) as archive:
            archive.extractall(folder, filter="data")
        return etree.XMLSchema(etree.parse(Path(folder, "QIFApplications/QIFDocument.xsd")))


def faults(document: bytes) -> list[str]:
    """What the schema says of it: nothing where it is valid."""
    schema().validate(etree.fromstring(document))
    return [str(fault) for fault in schema().error_log]
