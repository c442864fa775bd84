"""Which line a key stands on."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.lines import key_lines

KINDS = """\
top = 1

[table]
bare-key = "a # no comment"   # a comment with [brackets] = and "quotes"
"quoted key" = 'b'
dotted.a.b = 2
list = [
  1,  # one
  [2.5, 3],
  { in = 4, also = 2027-06-01T10:00:00Z },
]
text = \"\"\"
looks = "like a key"
\"\"\"
after = 'x'
inline = {p = 1, q = {r = 2}}

[[rows]]
id = "1"
[rows.sub]
k = 1
[[rows]]
id = "2"
  [[rows.deep]]
  d = 1
  [[rows.deep]]
  d = 2
"""


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_every_kind_of_key(newline: str) -> None:
    text = KINDS.replace("\n", newline)
    tomllib.loads(text)
    lines = key_lines(text)
    expected: dict[tuple[str | int, ...], int] = {
        ("top",): 1, ("table",): 3, ("table", "bare-key"): 4, ("table", "quoted key"): 5,
        ("table", "dotted", "a", "b"): 6, ("table", "list"): 7, ("table", "list", 0): 8,
        ("table", "list", 1, 1): 9, ("table", "list", 2, "in"): 10, ("table", "list", 2, "also"): 10,
        ("table", "text"): 12, ("table", "after"): 15, ("table", "inline", "q", "r"): 16,
        ("rows", 0): 18, ("rows", 0, "id"): 19, ("rows", 0, "sub", "k"): 21, ("rows", 1, "id"): 23,
        ("rows", 1, "deep", 0, "d"): 25, ("rows", 1, "deep", 1, "d"): 27,
    }  # fmt: skip
    assert {key: lines.get(key) for key in expected} == expected


def paths(node: Any, at: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return {at, *(path for key, value in items for path in paths(value, (*at, key)))}


def spelled(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return (
            '"'
            + "".join(f"\\u{ord(letter):04x}" if not letter.isalnum() else letter for letter in value)
            + '"'
        )
    if isinstance(value, list):
        return "[" + ",\n ".join(map(spelled, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{spelled(key)} = {spelled(part)}" for key, part in value.items()) + "}"
    return str(value)


KEYS = st.text(st.characters(codec="ascii", categories=("L", "N", "P")), min_size=1, max_size=5)
VALUES = st.recursive(
    st.integers(-9, 9) | st.booleans() | st.text("a#[]=.\"'é", max_size=4),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=6,
)


@given(st.dictionaries(KEYS, VALUES, min_size=1, max_size=4))
def test_every_key_of_any_document_is_found_on_a_line_of_its_own(document: dict[str, Any]) -> None:
    rows = [f"{spelled(key)} = {spelled(value)}" for key, value in document.items()]
    text = "\n".join(rows) + "\n"
    assert tomllib.loads(text) == document
    lines = key_lines(text)
    assert paths(document) - {()} == set(lines)
    row_starts = [1 + sum(row.count("\n") + 1 for row in rows[:n]) for n in range(len(rows))]
    assert [lines[(key,)] for key in document] == row_starts
