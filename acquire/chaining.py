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
        self._key = ""
        self._has_heard = False
        self.warnings: list[str] = []
        """One sentence each; they stay until the daemon ends: somebody has to look."""

    def sealer(self, key_file: Path, open_key: Callable[[Path], Signing]) -> Sealer | None:
        """What signs results; None where the key cannot be used now."""
        try:
            signing = open_key(key_file)
            if key_file.exists() and is_open_to_others(key_file):
                self._log.warning("the key may be read by others: chmod 600 it", key=str(key_file))
        except (KeyFileError, OSError) as error:
            self._warn(f"{error}; until then results have no record in the bay's chain, and get it later")
            return None
        self._key = signing.public_key
        return Sealer(signing, self._topics, self._clock.utc, self._warn)

    def heard(self, message: bytes, journal: Journal) -> None:
        """A checkpoint under this bay's name. The first is the one that was kept since before this start."""
        if not self._key or not message:
            return
        if not self._has_heard:
            self._has_heard = True
            journal.take_up(message)
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
