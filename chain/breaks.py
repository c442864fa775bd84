"""What is wrong with a chain: where, and what, in one line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

What = Literal[
    "altered-document", "missing-document", "altered-record", "missing-record", "record-twice", "other-key",
    "document-without-record", "checkpoint",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Break:
    """The place: a chain and an index in it, and the result that is there. kept_in: `journal` or `records`.

    order: the chain's number among the bay's; with `index`, what comes first.
    """

    what: What
    kept_in: str
    site: str
    bay: str
    chain: str
    index: int
    why: str
    inspection: str | None = None
    revision: int | None = None
    order: int = 0

    def in_words(self) -> str:
        """One line."""
        of = "" if self.inspection is None else f", {self.inspection} revision {self.revision}"
        where = f"{self.site}/{self.bay}, record {self.index} of chain {self.chain}{of}"
        if not self.chain:
            where = f"{self.site}/{self.bay}{of}"
        return f"{where}, in the {self.kept_in}: {self.what.replace('-', ' ')}: {self.why}"


def first(*breaks: Break | None) -> Break | None:
    """The one that comes first."""
    found = [one for one in breaks if one is not None]
    return min(found, key=lambda one: (one.order, one.index), default=None)
