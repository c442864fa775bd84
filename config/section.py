"""What every table of a configuration is made of: no unknown keys, paths from the file's own folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationInfo
from pydantic_core import PydanticCustomError


def base_of(info: ValidationInfo) -> Path:
    """The folder of the file that is read."""
    return Path((info.context or {}).get("base", Path())).absolute()


def from_base(path: Path, info: ValidationInfo) -> Path:
    """The path meant, from that folder. Raises ValueError where there can be no such."""
    if "\0" in str(path):
        raise ValueError("a path without the character 0")
    try:
        return base_of(info) / path.expanduser()
    except RuntimeError:
        raise ValueError("a path; ~ is a home, and there is no such: ./~… where a name begins so") from None


FilePath = Annotated[Path, AfterValidator(from_base)]


class Section(BaseModel):
    """A table of the file: unknown keys are mistakes."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def mistake(key: str, found: str, expected: str) -> PydanticCustomError:
    """A mistake at one key of the table being validated."""
    return PydanticCustomError(
        "mistake", "expected {expected}", {"key": key, "found": found, "expected": expected}
    )
