"""Elements of XML as QIF likes them: texts, named attributes, lists that say how many they hold."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from xml.etree.ElementTree import Element, SubElement

NOT_IN_XML = dict.fromkeys([*range(9), 11, 12, *range(14, 32), *range(0xD800, 0xE000), 0xFFFE, 0xFFFF], "�")
"""What XML 1.0 (2.2) cannot hold, whatever somebody typed."""


def text(parent: Element, name: str, said: object) -> Element:
    """A child that holds a text."""
    child = SubElement(parent, name)
    child.text = clean(said)
    return child


def clean(said: object) -> str:
    """As XML can hold it."""
    return str(said).translate(NOT_IN_XML)


def moment(said: str) -> str | None:
    """A time as xs:dateTime has it, in UTC; one without a zone keeps having none; None where it is no time:
    documents of other programs say times in more ways than ours."""
    try:
        found = datetime.fromisoformat(said)
        if found.tzinfo is not None:
            found = found.astimezone(UTC)
    except (ValueError, OverflowError):
        return None
    spelled = found.isoformat(timespec="milliseconds" if found.microsecond else "seconds")
    return spelled.replace("+00:00", "Z")


def counted(parent: Element) -> None:
    """Say how many children there are, as each list in QIF must."""
    parent.set("n", str(len(parent)))


def attributes(parent: Element, named: Mapping[str, object]) -> None:
    """Attributes by name: numbers as doubles, all else as text; what is None is left out, and an empty list
    with it."""
    known = {name: value for name, value in named.items() if value is not None}
    if not known:
        return
    listed = SubElement(parent, "Attributes")
    for called, value in known.items():
        name = clean(called)
        if isinstance(value, int | float):
            SubElement(listed, "AttributeD1", {"name": name, "value": repr(float(value))})
        else:
            SubElement(listed, "AttributeStr", {"name": name, "value": clean(value)})
    counted(listed)
