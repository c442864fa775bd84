"""The page of all keys says what the models say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from config.errors import ConfigError
from config.settings import Settings, read_settings
from tests.reference import PAGE, meanings, page


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


def test_every_variable_on_the_page_sets_its_key(tmp_path: Path) -> None:
    """Each is tried with a value that no key takes: the mistake is of that very variable."""
    variables = re.findall(r"`(RINGTRUE_\w+)`", PAGE.read_text())
    assert len(variables) == len(set(variables)) > 25
    file = tmp_path / "ringtrue.toml"
    file.write_text("")
    known = {name.upper() for name in Settings.model_fields}
    for variable in variables:
        assert variable.removeprefix("RINGTRUE_").split("__")[0] in known
        with pytest.raises(ConfigError) as refused:
            read_settings(file, {variable: "{ no = 1 }"})
        problems = [p for p in refused.value.problems if p.file == "environment"]
        assert [p.key for p in problems if p.key.split(" ")[0] == variable] != [], variable
        assert "unknown key" not in {p.found.rpartition(" ")[0] for p in problems if p.key == variable}
