"""What can go wrong, as one tree.

RingtrueError                 anything of ours; its text is one plain line that says what to do
├── ConfigError               a TOML file of ours is wrong; carries every problem found
├── drivers.errors.*          frames, values, ports
└── acquire.errors.*          journal, commands, broker
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


class RingtrueError(Exception):
    """Anything of ours that a person can act upon.

    exit_code: what the command line leaves with: 3 could not run; 1 the answer is "no".
    """

    exit_code: ClassVar[int] = 3


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake in a file: where it is, what was found, what was expected."""

    file: str
    line: int | None
    key: str
    found: str
    expected: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line is not None else self.file
        return f"{place}: {self.key}: expected {self.expected}, found {self.found}"


class ConfigError(RingtrueError):
    """One or more mistakes in our TOML files, all reported at once. It is no command's answer."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems
