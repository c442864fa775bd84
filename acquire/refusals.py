"""What the broker does not let us publish: said once each, and for as long as it lasts."""

from __future__ import annotations

from collections.abc import Callable

import structlog

from link.errors import PublishRefusedError


class Refusals:
    """The topics that the broker refuses now. changed: told when that is another set."""

    def __init__(self, changed: Callable[[], None]) -> None:
        self._changed = changed
        self._errors: dict[str, PublishRefusedError] = {}
        self._log = structlog.get_logger()

    def refused(self, error: PublishRefusedError) -> None:
        """It was refused; logged where that is news."""
        before = self._errors.get(error.topic)
        self._errors[error.topic] = error
        if before is None or before.reason != error.reason:
            self._log.error("the broker refuses a message", topic=error.topic, reason=str(error))
            self._changed()

    def accepted(self, topic: str) -> None:
        """It was taken."""
        if self._errors.pop(topic, None) is not None:
            self._log.info("the broker takes what it refused", topic=topic)
            self._changed()

    def warnings(self) -> list[str]:
        """One sentence, or none: the first that is refused stands for all."""
        if not self._errors:
            return []
        more = len(self._errors) - 1
        return [str(next(iter(self._errors.values()))) + (f" (and {more} topics more)" if more else "")]
