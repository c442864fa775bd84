"""The topics of a bay, all below `ringtrue/1/<site>/<bay>`.

Payloads are JSON objects in UTF-8; keys may be added at any time. Lengths end in `_mm`, angles in `_deg`;
times are RFC 3339 UTC, `t_ns` is monotonic. Plunger in is positive.
"""

from __future__ import annotations

from dataclasses import dataclass

TOPIC_ROOT = "ringtrue/1"
"""The 1 is the version of everything below it."""


@dataclass(frozen=True, slots=True)
class Topics:
    """The topics of one bay."""

    site: str
    bay: str

    @property
    def root(self) -> str:
        """The level that all others lie below."""
        return f"{TOPIC_ROOT}/{self.site}/{self.bay}"

    @property
    def status(self) -> str:
        """Retained, QoS 1: `states.StatusMessage`; the last will says `offline`."""
        return f"{self.root}/status"

    @property
    def health(self) -> str:
        """Retained, QoS 1: `health.HealthMessage`, every ten seconds."""
        return f"{self.root}/health"

    @property
    def live(self) -> str:
        """Retained, QoS 0: `live.Live`, at most 20 a second."""
        return f"{self.root}/live"

    @property
    def result(self) -> str:
        """Retained, QoS 1: the result document of the current or latest inspection."""
        return f"{self.root}/result"

    @property
    def chain(self) -> str:
        """QoS 1: `chain.ChainRecord`, each record of the bay's chain."""
        return f"{self.root}/chain"

    @property
    def checkpoint(self) -> str:
        """Retained, QoS 1: `chain.Checkpoint`, the latest."""
        return f"{self.root}/checkpoint"

    @property
    def method(self) -> str:
        """Retained, QoS 1: `methods.MethodMessage`, of a bay that takes methods from an office."""
        return f"{self.root}/method"

    @property
    def issued_method(self) -> str:
        """Retained, QoS 1: `methods.MethodIssue`, of all bays of the site; a bay reads it."""
        return f"{TOPIC_ROOT}/{self.site}/method"

    @property
    def commands(self) -> str:
        """The filter that matches every command."""
        return f"{self.root}/command/+"

    def gauge_state(self, gauge: str) -> str:
        """Retained, QoS 1: `states.GaugeStateMessage`."""
        return f"{self.root}/gauge/{gauge}/state"

    def is_gauge_state(self, topic: str) -> bool:
        """Whether `topic` is that of a gauge's state, whichever gauge's."""
        return topic.startswith(f"{self.root}/gauge/") and topic.endswith("/state")

    def gauge_reading(self, gauge: str) -> str:
        """QoS 0: `states.ReadingMessage`, each reading."""
        return f"{self.root}/gauge/{gauge}/reading"

    def event(self, inspection: str) -> str:
        """QoS 1: `events.EventMessage`, each event as it is journalled, readings excepted."""
        return f"{self.root}/inspection/{inspection}/event"

    def inspection_result(self, inspection: str) -> str:
        """QoS 1: the result document, each revision once."""
        return f"{self.root}/inspection/{inspection}/result"

    def command(self, name: str) -> str:
        """QoS 1: a request, a model of `commands`."""
        return f"{self.root}/command/{name}"

    def reply(self, request: str) -> str:
        """QoS 1: `commands.ReplyMessage`, the answer to one request."""
        return f"{self.root}/reply/{request}"

    def command_name(self, topic: str) -> str:
        """The command's name in a topic that `commands` matched."""
        return topic.rpartition("/")[2]
