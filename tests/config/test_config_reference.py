"""The page of all keys says what the models say."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from pydantic import BaseModel

from config.errors import ConfigError
from config.meanings import meanings
from config.settings import read_settings
from config.writer import read_writer
from tests.reference import PAGE, page


def test_the_page_is_that_of_the_models() -> None:
    assert PAGE.read_text() == page(), "make it anew: python -m tests.reference"


def test_a_key_that_says_nothing_of_itself_is_found() -> None:
    class Unsaid(BaseModel):
        """A table."""

        said: int = 1
        """It says so."""
        unsaid: int = 2

    with pytest.raises(KeyError, match="unsaid"):
        meanings(Unsaid)


@pytest.mark.parametrize(("part", "read"), [("The bay's", read_settings), ("A record writer's", read_writer)])
def test_every_variable_on_the_page_names_a_key(
    part: str, read: Callable[[Path, dict[str, str]], object], tmp_path: Path
) -> None:
    """Each is given a table, which none of these keys takes: that is the mistake, not an unknown key."""
    (text,) = [said for said in PAGE.read_text().split("\n## ") if said.startswith(part)]
    shown = re.findall(r"`(RINGTRUE_\w+)`", text)
    variables = list(dict.fromkeys(shown))  # what several kinds of one table have is shown with each
    assert len(variables) > 10
    file = tmp_path / "ringtrue.toml"
    file.write_text("")
    for variable in variables:
        with pytest.raises(ConfigError) as refused:
            read(file, {f"{variable}__NO": "1"})
        found = [p.found for p in refused.value.problems if p.key.startswith(f"{variable}__NO")]
        assert found != [], variable
        assert not found[0].startswith("unknown key"), variable
