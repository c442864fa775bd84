"""The bay's chain as the daemon tends it: its key, and what is heard under the bay's name on MQTT.

Whatever is wrong with either, the inspection goes on: what could not be signed is taken up later.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import structlog

from acquire.clock import Clock
from acquire.journal.sealer import Sealer
from acquire.journal.writer import Journal
from chain.errors import AlteredError, KeyFileError
from chain.key import is_open_to_others
from chain.signing import Signing, read_checkpoint
from contract.topics import Topics


class Chaining:
    """Of one daemon. on_warning: told, on the loop or from the journal's thread, when `warnings` grew."""

    def __init__(self, topics: Topics, clock: Clock, on_warning: Callable[[], None]) -> None:
        self._topics, self._clock, self._on_warning = topics, clock, on_warning
        self._log = structlog.get_logger().bind(bay=f"{topics.site}/{topics.bay}")
        self._sealer: Sealer | None = None
        self._key = ""
        self._first: bytes | None = None
        self.has_begun = False
        self.warnings: list[str] = []
        """One sentence each; they stay until the daemon ends: somebody has to look."""

    def open(self, key_file: Path, open_key: Callable[[Path], Signing]) -> None:
        """Have what signs results, where the key can be used; blocks."""
        try:
            signing = open_key(key_file)
            if key_file.exists() and is_open_to_others(key_file):
                self._log.warning("the key may be read by others: chmod 600 it", key=str(key_file))
        except (KeyFileError, OSError) as error:
            self._warn(f"{error}; until then results have no record in the bay's chain, and get it later")
            return
        self._key = signing.public_key
        self._sealer = Sealer(signing, self._topics, self._clock.utc, self._warn)

    def begin(self, journal: Journal) -> None:
        """From now on results are signed as they are kept; those of before are taken up."""
        self.has_begun = True
        if self._sealer is not None:
            journal.seal_with(self._sealer)
            journal.take_up(*filter(None, [self._first]))

    def heard(self, message: bytes, journal: Journal) -> None:
        """A checkpoint under this bay's name. The first is the one that was kept since before this start."""
        if not message:
            return
        if self._first is None:
            self._first = message
            if self._sealer is not None and self.has_begun:
                journal.take_up(message)
            return
        if self._sealer is None:
            return
        try:
            key = read_checkpoint(message).key
        except AlteredError:
            key = "none"
        if key != self._key:
            self._warn(
                f"somebody else publishes checkpoints as {self._topics.site}/{self._topics.bay}, signed by "
                f"the key {key[:16]}: does a second daemon use this name? Give each bay a name of its own"
            )

    def _warn(self, sentence: str) -> None:
        if sentence not in self.warnings:
            self._log.error("the bay's chain needs somebody", reason=sentence)
            self.warnings.append(sentence)
            self._on_warning()
