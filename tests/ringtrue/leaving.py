"""How a command left, whether it returned its exit code or argparse ended it."""

from __future__ import annotations

from ringtrue.cli import main


def exit_code(*arguments: str) -> int:
    """Run a command to its end."""
    try:
        return main(list(arguments))
    except SystemExit as end:
        return int(str(end.code))
