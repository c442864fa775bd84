"""Reading TOML: every mistake at once, each with its place."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import pytest
from pydantic import BaseModel, ConfigDict, Field

from config.errors import ConfigError, Problem
from config.toml import Mistake, read_toml


class Inner(BaseModel):
    model_config = ConfigDict(extra="forbid")
    size: float = Field(gt=0)
    tag: str = ""


class Outer(BaseModel):
    model_config = ConfigDict(extra="forbid")
    name: str
    count: int = 1
    inner: Inner | None = None
    part: list[Inner] = []

    @classmethod
    def cross_checks(cls, data: dict[str, object]) -> list[Mistake]:
        return [Mistake(("count",), "7", "another count")] if data.get("count") == 7 else []


def problems(text: str | bytes, folder: Path, **environ: str) -> list[Problem]:
    file = folder / "a.toml"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(ConfigError) as caught:
        read_toml(file, Outer, overrides=environ)
    assert all(p.file in (str(file), "environment") for p in caught.value.problems)
    return caught.value.problems


def places(found: list[Problem]) -> list[tuple[int | None, str]]:
    return [(problem.line, problem.key) for problem in found]


def test_a_good_file_is_read(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    file.write_text('name = "n"\n[inner]\nsize = 1\n')
    assert read_toml(file, Outer) == Outer(name="n", inner=Inner(size=1))


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    file.write_text('\ufeffname = "n"\n')
    assert read_toml(file, Outer).name == "n"


def test_every_mistake_is_named_at_once_with_its_line(tmp_path: Path) -> None:
    text = '# a comment\ncount = "x"\nnmae = "n"\n\n[inner]\ntag = 3\nsize = 0\n\n'
    text += '[[part]]\nsize = 1\n[[part]]\ntag = "t"\n'
    found = problems(text, tmp_path)
    assert places(found) == [
        (None, "name"), (2, "count"), (3, "nmae"), (6, "inner.tag"), (7, "inner.size"), (11, "part[1].size"),
    ]  # fmt: skip
    assert str(found[1]) == f'{tmp_path}/a.toml:2: count: expected a whole number, found "x"'
    assert found[2].expected == "name"
    assert found[4].expected == "greater than 0"
    assert (found[5].found, found[5].expected) == ("nothing", "this key, which must be given")


def test_cross_checks_are_in_the_same_report(tmp_path: Path) -> None:
    assert places(problems("count = 7\nextra = 1\n", tmp_path)) == [
        (None, "name"),
        (1, "count"),
        (2, "extra"),
    ]


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        ('name = "n"\ncount = = 1\n', 2, "count = = 1 (invalid value)"),
        ('name = "n"\nname = "m"\n', 2, 'name = "m" (cannot overwrite a value)'),
        ('name = "n\n', 1, "name = \"n (illegal character '\\n')"),
        ("name = [1,\n2\n", 2, "2 (unclosed array)"),
        ("", None, "nothing"),
        (
            "count = " + "9" * 5000,
            None,
            "a number of thousands of digits, or as many brackets within each other",
        ),
        (
            "part = " + "[" * 5000,
            None,
            "a number of thousands of digits, or as many brackets within each other",
        ),
        ('name = "n"\ncount = 1\n[inner]\nsize = 0x' + "9" * 5000, 4, "0x" + "9" * 57 + "…"),
        (b'name = "\xff"\n', 1, "bytes that are none"),
        (b'ok = 1\nname = "\xff"\n', 2, "bytes that are none"),
    ],
)
def test_what_is_no_toml_is_named_by_line(tmp_path: Path, text: str, line: int | None, found: str) -> None:
    (problem,) = problems(text, tmp_path)
    assert (problem.line, problem.found) == (line, found)


@pytest.mark.parametrize(
    ("text", "line", "expected"),
    [
        ('name = "n"\ncount = 0,001 # mm\n', 2, "a point before the decimals: 0.001"),
        ('name = "n"\nname = "m"\n', 2, "each key and each table once: this one stands further up as well"),
        ("[inner]\n[inner]\n", 2, "each key and each table once: this one stands further up as well"),
        ("count = = 1\n", 1, "valid TOML"),
    ],
)
def test_a_usual_slip_in_toml_is_told_with_what_to_write(
    tmp_path: Path, text: str, line: int, expected: str
) -> None:
    (problem,) = problems(text, tmp_path)
    assert (problem.line, problem.expected) == (line, expected)


def test_an_empty_list_is_told_in_plain_words(tmp_path: Path) -> None:
    class Listed(BaseModel):
        marks: Annotated[list[int], Field(min_length=1)]

    file = tmp_path / "a.toml"
    file.write_text("marks = []\n")
    with pytest.raises(ConfigError, match=r"a\.toml:1: marks: expected at least 1 item, found"):
        read_toml(file, Listed)


def test_a_missing_file_is_one_problem(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"none\.toml: file: expected a TOML file, found no such file$"):
        read_toml(tmp_path / "none.toml", Outer)


def test_the_environment_sets_keys_of_every_kind(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    file.write_text('name = "n"\n[[part]]\nsize = 1\n')
    environ = {
        "RINGTRUE_COUNT": "5",  # no section: not meant for a file
        "RINGTRUE_INNER__SIZE": "2.5",
        "RINGTRUE_INNER__TAG": "12",  # digits where text is wanted
        "RINGTRUE_PART__0__TAG": "plain words",
        "RINGTRUE_PART__1__SIZE": "4",
        "OTHER__THING": "1",
    }
    read = read_toml(file, Outer, overrides=environ)
    assert read == Outer(
        name="n", inner=Inner(size=2.5, tag="12"), part=[Inner(size=1, tag="plain words"), Inner(size=4)]
    )


def test_a_mistake_from_the_environment_names_the_variable(tmp_path: Path) -> None:
    found = problems(
        'name = "n"\n', tmp_path,
        RINGTRUE_INNER__SIZE="tall", RINGTRUE_PART__3__SIZE="1", RINGTRUE_NAME__X="1",
        RINGTRUE_INNER__SISE="1", RINGTRUE_NONE__SUCH="1", RINGTRUE_PART__0__TAG="t",
    )  # fmt: skip
    assert {(p.file, p.line, p.key) for p in found} == {
        ("environment", None, "RINGTRUE_INNER__SIZE"),
        ("environment", None, "RINGTRUE_PART__3__SIZE"),
        ("environment", None, "RINGTRUE_NAME__X"),
        ("environment", None, "RINGTRUE_INNER__SISE"),
        ("environment", None, "RINGTRUE_NONE__SUCH"),
        ("environment", None, "RINGTRUE_PART__0__TAG (size)"),
    }
