"""Payloads of Sparkplug B: the part of its protocol buffers (proto2) that an edge node needs.

Field numbers are those of Sparkplug specification 3.0, 6.4.2; whoever knows all of them reads these.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from google.protobuf import descriptor_pb2, descriptor_pool, message_factory

_FIELD = descriptor_pb2.FieldDescriptorProto
_TYPES = {
    "uint32": _FIELD.TYPE_UINT32,
    "uint64": _FIELD.TYPE_UINT64,
    "double": _FIELD.TYPE_DOUBLE,
    "bool": _FIELD.TYPE_BOOL,
    "string": _FIELD.TYPE_STRING,
}
_MESSAGES = {
    "PropertyValue": {"type": ("uint32", 1), "string_value": ("string", 8)},
    "PropertySet": {"keys": ("string*", 1), "values": ("PropertyValue*", 2)},
    "Metric": {
        "name": ("string", 1),
        "timestamp": ("uint64", 3),
        "datatype": ("uint32", 4),
        "is_null": ("bool", 7),
        "properties": ("PropertySet", 9),
        "long_value": ("uint64", 11),
        "double_value": ("double", 13),
        "boolean_value": ("bool", 14),
        "string_value": ("string", 15),
    },
    "Payload": {"timestamp": ("uint64", 1), "metrics": ("Metric*", 2), "seq": ("uint64", 3)},
}
"""Message → field → type and number; a star: any number of them."""


class Type(IntEnum):
    """Of a metric (6.4.16)."""

    INT64 = 4
    DOUBLE = 10
    BOOLEAN = 11
    STRING = 12


_VALUE = {
    Type.INT64: "long_value",
    Type.DOUBLE: "double_value",
    Type.BOOLEAN: "boolean_value",
    Type.STRING: "string_value",
}

Value = int | float | bool | str | None


@dataclass(frozen=True, slots=True)
class Metric:
    """One metric. value: None where there is none now. unit: of the engineering unit, where it has one."""

    name: str
    type: Type
    value: Value
    unit: str | None = None


def encoded(metrics: Iterable[Metric], time_ms: int, seq: int | None) -> bytes:
    """A payload. time_ms: since 1970, UTC. seq: None in a death certificate alone."""
    made = _PAYLOAD(timestamp=time_ms)
    if seq is not None:
        made.seq = seq
    for metric in metrics:
        one = made.metrics.add(name=metric.name, timestamp=time_ms, datatype=metric.type)
        if metric.value is None:
            one.is_null = True
        else:
            setattr(one, _VALUE[metric.type], metric.value)
        if metric.unit is not None:
            one.properties.keys.append("engUnit")
            one.properties.values.add(type=Type.STRING, string_value=metric.unit)
    return bytes(made.SerializeToString())


def asks_for(payload: bytes, name: str) -> bool:
    """Whether a command sets the metric of this name to true. One that is no payload asks for nothing."""
    try:
        found = _PAYLOAD.FromString(payload)
    except Exception:  # the library's errors have no common ground that is public
        return False
    return any(metric.name == name and metric.boolean_value for metric in found.metrics)


def _made() -> Any:
    file = descriptor_pb2.FileDescriptorProto(name="ringtrue/sparkplug.proto", package="ringtrue.sparkplug")
    for name, fields in _MESSAGES.items():
        message = file.message_type.add(name=name)
        for field, (kind, number) in fields.items():
            _add(message, field, kind, number)
    pool = descriptor_pool.DescriptorPool()
    pool.Add(file)
    return message_factory.GetMessageClass(pool.FindMessageTypeByName("ringtrue.sparkplug.Payload"))


def _add(message: Any, field: str, kind: str, number: int) -> None:
    bare = kind.rstrip("*")
    label = _FIELD.LABEL_REPEATED if kind.endswith("*") else _FIELD.LABEL_OPTIONAL
    made = message.field.add(name=field, number=number, label=label)
    if bare in _TYPES:
        made.type = _TYPES[bare]
    else:
        made.type, made.type_name = _FIELD.TYPE_MESSAGE, f".ringtrue.sparkplug.{bare}"


_PAYLOAD: Any = _made()


def changed(before: Sequence[Metric], now: Sequence[Metric]) -> list[Metric] | None:
    """What is another now; None where there are others than before, which only a birth may tell."""
    known = {metric.name: metric for metric in before}
    if {metric.name for metric in now} != set(known):
        return None
    return [metric for metric in now if metric != known[metric.name]]
