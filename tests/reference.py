"""docs/configuration.md, made from the models and what stands beneath each of their keys.

    .venv-test/bin/python -m tests.reference          # writes it anew

`tests/config/test_config_reference.py` fails where the page and the models differ.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import Any, Literal

import annotated_types
from pydantic import BaseModel, SecretStr
from pydantic.fields import FieldInfo

from config.meanings import meanings, unit_of
from config.method import Method
from config.profile import GaugeProfile
from config.settings import Settings
from config.toml import ENV_PREFIX
from config.writer import WriterSettings

PAGE = Path(__file__).parents[1] / "docs/configuration.md"
HEAD = """\
# Every key

Made from the models by `python -m tests.reference`; a test fails where they differ.
`ringtrue check FILE` says what is wrong with a file, by line and key.

- [The bay's configuration](#the-bays-configuration)
- [A record writer's configuration](#a-record-writers-configuration)
- [A gauge profile](#a-gauge-profile)
- [A method](#a-method)
"""
FILES: tuple[tuple[str, str, type[BaseModel]], ...] = (
    (
        "The bay's configuration",
        "`ringtrue.toml`. Paths are taken from the file's own folder. Each key can be set from the "
        "environment instead, under the name given; of a list the first element is 0, the second 1.",
        Settings,
    ),
    (
        "A record writer's configuration",
        "`writer.toml`; [fleet/writer.md](fleet/writer.md) shows one. Paths and environment as in the bay's.",
        WriterSettings,
    ),
    (
        "A gauge profile",
        "`config/gauges/*.toml` ship. Text stands for bytes one to one, so that `\\u0002` is the byte 0x02.",
        GaugeProfile,
    ),
    (
        "A method",
        "`config/methods/example.toml` ships, each value marked with where it comes from. Put your manual's "
        "figures into a copy beside the bay's configuration, and give it an `id` and a `version` of your "
        "own, by which records tell whose limits they were. What has a default may be left out.",
        Method,
    ),
)
KINDS = {
    str: "text", SecretStr: "text", float: "number", int: "whole number", bool: "true or false",
    Path: "path",
}  # fmt: skip


def page() -> str:
    """The whole page."""
    parts = [HEAD]
    for title, opening, model in FILES:
        parts.append(f"## {title}\n\n{opening}\n")
        parts += tables(model, "", model in (Settings, WriterSettings), {})
    return "\n".join(parts)


def tables(
    model: type[BaseModel], path: str, by_environment: bool, shown: dict[type[BaseModel], str]
) -> Iterator[str]:
    """One table of keys for the model, then those of the tables within it that were not shown before."""
    said, rows, within = meanings(model), [], []
    for name, info in model.model_fields.items():
        key = info.alias or name
        inner = models_in(info.annotation)
        if inner:
            is_list = typing.get_origin(bare(info.annotation)) is tuple
            step = f"{key}[]" if is_list else key
            by = "check" if key == "observed" else key
            step = f"{key}.<{by}>" if typing.get_origin(bare(info.annotation)) is dict else step
            before = next((shown[one] for one in inner if one in shown), None)
            kind = f"tables `[[{key}]]`" if is_list else "table"
            kind += f", keys as in `{before}`" if before else ""
            for one in inner:
                if one not in shown:
                    shown[one] = f"{path}.{step}" if path else step
                    within.append((one, shown[one]))
        else:
            kind = kind_of(info.annotation, tuple(info.metadata))
        cells = [f"`{key}`", kind, unit_of(key), default_of(info, inner), said[name]]
        if by_environment:
            variable = f"{path}.{key}".lstrip(".").replace("[]", ".0").replace(".", "__").upper()
            cells.insert(4, f"`{ENV_PREFIX}{variable}`" if path and not inner else "")
        rows.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    columns = ["key", "type", "unit", "default", *(["environment"] if by_environment else []), "meaning"]
    manner = model.model_fields.get("kind")
    of_kind = "" if manner is None else f" of kind {kind_of(manner.annotation)}"
    title = f"### `{path}`{of_kind}\n\n" if path else ""
    opening = " ".join((model.__doc__ or "").split())
    head = f"| {' | '.join(columns)} |\n|{'---|' * len(columns)}\n"
    yield title + (f"{opening}\n\n" if path else "") + head + "\n".join(rows) + "\n"
    for one, at in within:
        yield from tables(one, at, by_environment, shown)


def bare(annotation: Any) -> Any:
    """Without `Annotated` and `| None`."""
    if typing.get_origin(annotation) is typing.Annotated:
        return bare(typing.get_args(annotation)[0])
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        options = [part for part in typing.get_args(annotation) if part is not types.NoneType]
        return bare(options[0]) if len(options) == 1 else annotation
    return annotation


def models_in(annotation: Any) -> list[type[BaseModel]]:
    """The models named in an annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in typing.get_args(annotation) for found in models_in(part)]


def kind_of(annotation: Any, metadata: tuple[Any, ...] = ()) -> str:
    """A type in words, with its bounds."""
    origin, parts = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return kind_of(parts[0], (*metadata, *parts[1:]))
    if origin in (typing.Union, types.UnionType):
        return kind_of(next(part for part in parts if part is not types.NoneType), metadata)
    if origin is Literal:
        return " or ".join(f"`{part}`" for part in parts)
    if origin is tuple:
        return f"list of {kind_of(parts[0])}"
    if origin is dict:
        return f"table of {kind_of(parts[1])} by {kind_of(parts[0])}"
    if isinstance(annotation, type) and issubclass(annotation, StrEnum):
        return " or ".join(f"`{part.value}`" for part in annotation)
    kind = KINDS.get(annotation, getattr(annotation, "__name__", "").lower().replace("decimal", "number"))
    return " ".join([kind, ", ".join(bounds(metadata))]).strip()


def bounds(metadata: tuple[Any, ...]) -> Iterator[str]:
    """`> 0`, `≤ 1` …, of numbers."""
    for one in metadata:
        within = one.metadata if isinstance(one, FieldInfo) else [one]
        for bound in within:
            for kind, sign in (
                (annotated_types.Gt, "gt >"), (annotated_types.Ge, "ge ≥"),
                (annotated_types.Lt, "lt <"), (annotated_types.Le, "le ≤"),
            ):  # fmt: skip
                if isinstance(bound, kind):
                    name, shown = sign.split()
                    edge = getattr(bound, name)
                    yield f"{shown} {edge if isinstance(edge, int) else format(edge, 'g')}"


def default_of(info: FieldInfo, inner: list[type[BaseModel]]) -> str:
    """As a file would spell it."""
    if info.is_required():
        return "**required**"
    value = info.default
    if value is None or inner or info.default_factory is not None:
        return ""
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, tuple):
        return f"`[{', '.join(map(str, value))}]`"
    return f'`"{value}"`' if isinstance(value, (str, Path)) else f"`{value}`"


if __name__ == "__main__":
    PAGE.write_text(page())
