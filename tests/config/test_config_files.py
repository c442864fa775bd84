"""Names and paths of shipped files."""

from __future__ import annotations

from pathlib import Path

import pytest

from config.files import Kind, resolve, shipped, shipped_names


@pytest.mark.parametrize("kind", ["gauges", "methods"])
def test_all_that_ships_is_found_by_name(kind: Kind) -> None:
    names = shipped_names(kind)
    assert names
    for name in names:
        assert shipped(kind, name).is_file()


@pytest.mark.parametrize("value", ["example", "example.toml", "config/methods/example.toml"])
def test_a_shipped_name_may_be_written_three_ways(value: str, tmp_path: Path) -> None:
    assert resolve(value, "methods", tmp_path) == shipped("methods", "example")


def test_a_file_beside_the_configuration_wins(tmp_path: Path) -> None:
    own = tmp_path / "config/methods/example.toml"
    own.parent.mkdir(parents=True)
    own.write_text("")
    assert resolve("config/methods/example.toml", "methods", tmp_path) == own
    assert resolve(str(own), "methods", Path("/")) == own


@pytest.mark.parametrize("value", ["nothing", "../example", "other/example.toml", "example.json", ""])
def test_what_is_not_there_is_an_error_that_lists_what_is(value: str, tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="example"):
        resolve(value, "methods", tmp_path)
