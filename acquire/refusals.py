"""What the broker does not let us publish: said once each, and for as long as it lasts."""

from __future__ import annotations

from collections.abc import Callable

import structlog

from contract.pauses import Pauses
from link.errors import PublishRefusedError


class Again:
    """When what was refused is offered again: after pauses that grow from `first_s` to `most_s`, by the
    loop's clock `now`. at: the next time, None where nothing was refused."""

    def __init__(self, now: Callable[[], float], first_s: float, most_s: float) -> None:
        self._now, self._pauses = now, Pauses(first_s, most_s)
        self.at: float | None = None

    def refused(self) -> None:
        """Something was; the first sets the time for all."""
        if self.at is None:
            self.at = self._now() + self._pauses.next_s()

    def is_due(self) -> bool:
        """Whether the time has come; then there is none until something is refused anew."""
        if self.at is None or self._now() < self.at:
            return False
        self.at = None
        return True

    def well(self) -> None:
        """Nothing is refused any more."""
        self.at = None
        self._pauses.anew()


class Refusals:
    """The topics that the broker refuses now. changed: told when that is another set.

    Topics that are used once, as replies are, count as one under the name given.
    """

    def __init__(self, changed: Callable[[], None]) -> None:
        self._changed = changed
        self._errors: dict[str, PublishRefusedError] = {}
        self._log = structlog.get_logger()

    def refused(self, error: PublishRefusedError, name: str) -> None:
        """It was refused; logged where that is news."""
        before = self._errors.get(name)
        self._errors[name] = error
        if before is None or before.reason != error.reason:
            self._log.error("the broker refuses a message", topic=error.topic, reason=str(error))
            self._changed()

    def accepted(self, name: str) -> None:
        """It was taken."""
        error = self._errors.pop(name, None)
        if error is not None:
            self._log.info("the broker takes what it refused", topic=error.topic)
            self._changed()

    def warnings(self) -> list[str]:
        """One sentence, or none: the first that is refused stands for all."""
        if not self._errors:
            return []
        more = len(self._errors) - 1
        return [str(next(iter(self._errors.values()))) + (f" (and {more} topics more)" if more else "")]
