"""Which line of a TOML text each key stands on: the standard parser does not tell.

The text must have been accepted by `tomllib` already: this only finds, it does not judge.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

Path = tuple[str | int, ...]
"""Keys and list positions from the top of the document, as pydantic's `loc`."""

_TOKEN = re.compile(
    r"""(?P<blank>[ \t\r]+|\#[^\n]*)
      | (?P<newline>\n)
      | (?P<string>\"\"\"(?:\\.|[^\\])*?\"{3,5}|'''.*?'{3,5}|"(?:\\.|[^"\\\n])*"|'[^'\n]*')
      | (?P<open>\[|\{)
      | (?P<close>\]|\})
      | (?P<equals>=)
      | (?P<comma>,)
      | (?P<dot>\.)
      | (?P<bare>[^\s\[\]{}=,."'#]+)""",
    re.VERBOSE | re.DOTALL,
)
_ESCAPE = re.compile(r"\\(u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}|.)")
_SHORT = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}


class _Tokens:
    """The text's tokens with their lines, one ahead."""

    def __init__(self, text: str) -> None:
        self._stream = self._read(text)
        self.kind, self.text, self.line = next(self._stream)

    @staticmethod
    def _read(text: str) -> Iterator[tuple[str, str, int]]:
        line, at = 1, 0
        while at < len(text):
            found = _TOKEN.match(text, at)
            if found is None:  # nothing that a valid text holds; step over
                at += 1
                continue
            if found.lastgroup != "blank":
                yield found.lastgroup or "", found.group(), line
            line += found.group().count("\n")
            at = found.end()
        while True:
            yield "end", "", line

    def step(self) -> None:
        self.kind, self.text, self.line = next(self._stream)

    def skip_newlines(self) -> None:
        while self.kind == "newline":
            self.step()


def _plain(text: str) -> str:
    """A key as tomllib would give it."""
    if text.startswith('"'):
        return _ESCAPE.sub(
            lambda m: chr(int(m[1][1:], 16)) if m[1][0] in "uU" else _SHORT.get(m[1], m[1]), text[1:-1]
        )
    return text[1:-1] if text.startswith("'") else text


def key_lines(text: str) -> dict[Path, int]:
    """The 1-based line of each key, table and list element."""
    tokens = _Tokens(text.replace("\r\n", "\n"))
    lines: dict[Path, int] = {}
    lists: dict[Path, int] = {}
    table: Path = ()
    while tokens.kind != "end":
        tokens.skip_newlines()
        if tokens.kind == "end":
            break
        line = tokens.line
        if tokens.kind == "open":
            tokens.step()
            repeated = tokens.kind == "open"
            if repeated:
                tokens.step()
            table = _within(_key(tokens), lists)
            if repeated:
                lists[table] = lists.get(table, -1) + 1
                lines.setdefault(table, line)
                table = (*table, lists[table])
            lines.setdefault(table, line)
            while tokens.kind == "close":
                tokens.step()
        else:
            _pair(tokens, table, lines)
            while tokens.kind not in ("newline", "end"):
                tokens.step()
    return lines


def _within(keys: list[str], lists: dict[Path, int]) -> Path:
    """A header's keys as a path: a list of tables on the way means its latest element."""
    path: Path = ()
    for n, key in enumerate(keys):
        path = (*path, key)
        if path in lists and n < len(keys) - 1:
            path = (*path, lists[path])
    return path


def _key(tokens: _Tokens) -> list[str]:
    keys: list[str] = []
    while tokens.kind in ("bare", "string", "dot"):
        if tokens.kind != "dot":
            keys.append(_plain(tokens.text))
        tokens.step()
    return keys


def _pair(tokens: _Tokens, table: Path, lines: dict[Path, int]) -> None:
    line = tokens.line
    path = table
    for key in _key(tokens):
        path = (*path, key)
        lines.setdefault(path, line)
    if tokens.kind == "equals":
        tokens.step()
        _value(tokens, path, lines)
    elif tokens.kind not in ("newline", "end"):
        tokens.step()


def _value(tokens: _Tokens, path: Path, lines: dict[Path, int]) -> None:
    if tokens.text == "[":
        tokens.step()
        position = 0
        while True:
            tokens.skip_newlines()
            if tokens.kind in ("close", "end"):
                break
            if tokens.kind == "comma":
                tokens.step()
                continue
            lines.setdefault((*path, position), tokens.line)
            _value(tokens, (*path, position), lines)
            position += 1
        tokens.step()
    elif tokens.text == "{":
        tokens.step()
        while True:
            tokens.skip_newlines()
            if tokens.kind in ("close", "end"):
                break
            if tokens.kind == "comma":
                tokens.step()
                continue
            _pair(tokens, path, lines)
        tokens.step()
    else:  # a scalar: one string, or bare parts with dots (floats, times)
        while tokens.kind in ("bare", "dot", "string"):
            tokens.step()
