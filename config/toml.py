"""TOML files into pydantic models, with every mistake reported at once by file, line and key.

The model decides; this module says where. A model with cross-references between its sections may
have a classmethod `cross_checks(data) -> list[Mistake]` over the raw document: it is called whether
or not the sections are valid by themselves, so that its mistakes are in the same report.
"""

from __future__ import annotations

import datetime
import difflib
import re
import tomllib
import types
import typing
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from config.errors import ConfigError, Problem
from config.lines import key_lines

M = TypeVar("M", bound=BaseModel)
Loc = tuple[str | int, ...]

ENV_PREFIX = "RINGTRUE_"
FOUND_MAX_CHARS = 60
"""Longest piece of a found value that an error line repeats; keeps it one line."""


class Mistake(NamedTuple):
    """One mistake of a cross check: where, what was found, what was expected."""

    loc: Loc
    found: str
    expected: str


def read_toml(path: Path, model: type[M], *, overrides: Mapping[str, str] = types.MappingProxyType({})) -> M:
    """The file as a `model`; paths within it may be validated against the context's `base` folder.

    overrides: an environment: each `RINGTRUE_SECTION__KEY` in it sets one key (a list's element by
    its position: `RINGTRUE_GAUGE__0__PORT`), written as TOML or as the bare text. Others are ignored.
    Raises ConfigError with all problems found.
    """
    name = str(path)
    try:
        text = path.read_bytes().decode().removeprefix("\ufeff")  # some editors begin every file with it
    except FileNotFoundError:
        raise ConfigError([Problem(name, None, "file", "no such file", "a TOML file")]) from None
    except UnicodeDecodeError as err:
        line = err.object[: err.start].count(b"\n") + 1
        raise ConfigError([Problem(name, line, "text", "bytes that are none", "UTF-8 text")]) from None
    except OSError as err:
        problem = Problem(name, None, "file", str(err.strerror or err), "a readable TOML file")
        raise ConfigError([problem]) from None
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        raise ConfigError([_syntax(name, text, str(err))]) from None
    except (ValueError, RecursionError):
        found = "a number of thousands of digits, or as many brackets within each other"
        raise ConfigError([Problem(name, None, "text", found, "what a person wrote")]) from None
    sources: dict[Loc, str] = {}
    problems: list[Problem] = []
    texts: dict[Loc, str] = {}
    for variable, value in sorted(overrides.items()):
        if not variable.startswith(ENV_PREFIX) or "__" not in variable:
            continue
        loc: Loc = tuple(
            int(k) if k.isdecimal() else k for k in variable[len(ENV_PREFIX) :].lower().split("__")
        )
        if _put(data, loc, _toml_value(value)):
            sources[loc], texts[loc] = variable, value
        else:
            problems.append(
                Problem("environment", None, variable, value, "the name of a key that can be set")
            )
    return _validate(name, text, data, model, sources, texts, problems, base=path.parent)


def _validate(
    name: str,
    text: str,
    data: dict[str, Any],
    model: type[M],
    sources: Mapping[Loc, str],
    texts: Mapping[Loc, str],
    problems: list[Problem],
    *,
    base: Path,
) -> M:
    context = {"base": base}
    try:
        checked = model.model_validate(data, context=context)
        errors: list[ErrorDetails] = []
    except ValidationError as err:
        errors = err.errors(include_url=False)
    # A variable's text such as `2` reads as a number first; where the key wants text, it is text.
    again = [
        loc for loc in texts if any(e["loc"][: len(loc)] == loc and e["type"] in _TEXT_WANTED for e in errors)
    ]
    for loc in again:
        _put(data, loc, texts[loc])
    if again:
        remaining = {loc: value for loc, value in texts.items() if loc not in again}
        return _validate(name, text, data, model, sources, remaining, problems, base=base)
    lines = key_lines(text) if errors or problems or hasattr(model, "cross_checks") else {}
    for error in errors:
        loc, found, expected = _explain(error, model)
        problems.append(_place(name, lines, sources, loc, found, expected))
    cross_checks = getattr(model, "cross_checks", None)
    if cross_checks is not None:
        problems += [_place(name, lines, sources, *mistake) for mistake in cross_checks(data)]
    if problems:
        problems = list(dict.fromkeys(problems))
        raise ConfigError(sorted(problems, key=lambda p: (p.file != name, p.line or 0)))
    return checked


_TEXT_WANTED = ("string_type", "path_type", "literal_error", "enum")


def _syntax(name: str, text: str, message: str) -> Problem:
    at = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$", message)
    line = int(at[1]) if at and at[1] else max(1, len(text.splitlines()))
    reason = message[: at.start()] if at else message
    rows = text.splitlines()
    source = rows[line - 1].strip() if line <= len(rows) else "the end"
    expected = "valid TOML"
    if comma := _COMMA.search(source):
        expected = f"a point before the decimals: {comma[1]}.{comma[2]}"
    elif reason.startswith(("Cannot overwrite", "Cannot declare")):
        expected = "each key and each table once: this one stands further up as well"
    return Problem(name, line, "syntax", f"{_short(source)} ({reason[:1].lower()}{reason[1:]})", expected)


_COMMA = re.compile(r"=\s*([-+]?\d+),(\d+)\s*(?:#.*)?$")
"""A number as it is written where decimals are parted by a comma."""


def _toml_value(text: str) -> Any:
    """What `text` is as a TOML value, else the text itself."""
    try:
        value = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):  # no TOML, or more than Python reads of it
        return text
    return value["value"] if list(value) == ["value"] else text


def _put(data: dict[str, Any], loc: Loc, value: Any) -> bool:
    """Set one key of the document; tables on the way are made. False where that cannot be."""
    node: Any = data
    for key, following in zip(loc, (*loc[1:], None), strict=True):
        if key == "" or isinstance(node, list) != isinstance(key, int):
            return False
        if isinstance(node, list) and isinstance(key, int):
            if key > len(node):
                return False
            if key == len(node):
                node.append({} if following is not None else value)
        elif not isinstance(node, dict):
            return False
        elif following is not None and key not in node:
            node[key] = [] if isinstance(following, int) else {}
        if following is None:
            node[key] = value
        else:
            node = node[key]
    return True


def _place(
    name: str, lines: Mapping[Loc, int], sources: Mapping[Loc, str], loc: Loc, found: str, expected: str
) -> Problem:
    for end in range(len(loc), 0, -1):
        if loc[:end] in sources:
            rest = _dotted(loc[end:])
            variable = sources[loc[:end]] + (f" ({rest})" if rest else "")
            return Problem("environment", None, variable, found, expected)
    for end in range(len(loc), 0, -1):
        if loc[:end] in lines:
            return Problem(name, lines[loc[:end]], _dotted(loc), found, expected)
        for source, variable in sources.items():  # a variable made this table
            if source[:end] == loc[:end]:
                rest = _dotted(loc[end:])
                return Problem(
                    "environment", None, variable + (f" ({rest})" if rest else ""), found, expected
                )
    return Problem(name, None, _dotted(loc) or "file", found, expected)


def _dotted(loc: Loc) -> str:
    """`gauge[0].usb.vendor`."""
    return "".join(f"[{key}]" if isinstance(key, int) else f".{key}" for key in loc).lstrip(".")


def _short(text: str) -> str:
    one_line = " ".join(text.split())
    return one_line if len(one_line) <= FOUND_MAX_CHARS else one_line[: FOUND_MAX_CHARS - 1] + "…"


def spelled(value: object) -> str:
    """A value as its file might spell it, short enough for one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _short(f'"{value}"')
    if isinstance(value, dict):
        return _short(f"a table ({', '.join(map(str, value)) or 'empty'})")
    if isinstance(value, list | tuple):
        return _short("[" + ", ".join(spelled(v) for v in value) + "]")
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return _short(hex(value) if isinstance(value, int) and value.bit_length() > 64 else str(value))


_WANTED = {
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "decimal_type": "a number",
    "decimal_parsing": "a number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "date_type": "a date such as 2027-06-01",
    "date_parsing": "a date such as 2027-06-01",
    "date_from_datetime_parsing": "a date such as 2027-06-01",
    "list_type": "a list in [ ]",
    "tuple_type": "a list in [ ]",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "dataclass_type": "a table",
    "path_type": "a path in quotes",
}


def _explain(error: ErrorDetails, model: type[BaseModel]) -> Mistake:
    """What pydantic says, in the words of someone with the file open in an editor."""
    kind, loc, value = error["type"], _without_tags(model, error["loc"]), error["input"]
    context = error.get("ctx", {})
    if kind == "missing" and loc == ("schema",):
        (said,) = (field for field in model.model_fields.values() if field.alias == "schema")
        return Mistake(loc, "nothing", f'schema = "{typing.get_args(said.annotation)[0]}"')
    if kind == "missing":
        return Mistake(loc, "nothing", "this key, which must be given")
    if kind == "extra_forbidden":
        known = _known_keys(model, error["loc"][:-1])
        near = difflib.get_close_matches(str(loc[-1]), known, n=1)
        # The key that was meant, or else all there are: some tables have two dozen.
        listed = near[0] if near else f"one of {', '.join(known)}" if known else "no such key here"
        return Mistake(loc, f"unknown key {loc[-1]}", listed)
    if "key" in context and kind == "mistake":
        key = (str(context["key"]),) if context["key"] else ()
        return Mistake((*loc, *key), str(context["found"]), str(context["expected"]))
    if kind.startswith("union_tag"):
        key, tags = (context["discriminator"].strip("'"),), context.get("expected_tags")
        if not tags:
            return Mistake((*loc, *key), "nothing", "this key, which must be given")
        return Mistake((*loc, *key), spelled(value[key[0]]), re.sub(r", (?=[^,]*$)", " or ", tags))
    expected = _WANTED.get(kind)
    if expected is None:
        expected = re.sub(r"^(Value error|Assertion failed), ", "", error["msg"])
        expected = re.sub(r"^(Input|String|List|Tuple|Value) should (be |have )?", "", expected)
        expected = re.sub(r" after validation, not \d+$", "", expected)
    return Mistake(loc, spelled(value), expected)


def _known_keys(model: type[BaseModel], loc: Loc) -> list[str]:
    """The keys that may stand at `loc`, as pydantic names it; empty where that depends on the content."""
    current: list[Any] = [model]
    for key in loc:
        tagged = [kind for kind in current if key in _tags(kind)]
        if len(current) > 1 and tagged:
            current = tagged
            continue
        current = current if isinstance(key, int) else _below(current, key)
    names = [name for kind in current for name in _fields(kind)]
    return list(dict.fromkeys(names))


def _without_tags(model: type[BaseModel], loc: Loc) -> Loc:
    """The place as the file has it: pydantic names the member of a union there too, by its `kind`."""
    kept: list[str | int] = []
    current: list[Any] = [model]
    for key in loc:
        tagged = [kind for kind in current if key in _tags(kind)]
        if len(current) > 1 and tagged:
            current = tagged
            continue
        kept.append(key)
        current = current if isinstance(key, int) else _below(current, key)
    return tuple(kept)


def _fields(kind: type[BaseModel]) -> dict[str, FieldInfo]:
    return {field.alias or name: field for name, field in kind.model_fields.items()}


def _below(kinds: list[Any], key: str) -> list[Any]:
    """The models that may stand under a key of one of these."""
    return [
        found for kind in kinds if key in _fields(kind) for found in _models(_fields(kind)[key].annotation)
    ]


def _tags(kind: type[BaseModel]) -> tuple[Any, ...]:
    return typing.get_args(kind.model_fields["kind"].annotation) if "kind" in kind.model_fields else ()


def _models(annotation: Any) -> list[Any]:
    """The models named anywhere in an annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in typing.get_args(annotation) for found in _models(part)]
