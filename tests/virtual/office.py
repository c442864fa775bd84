"""An office that hands out methods, and somebody on the same broker who would like a looser one in force."""

from __future__ import annotations

import asyncio
import json
from dataclasses import replace
from pathlib import Path

from acquire.methods import kept_file
from chain.issued import issued
from chain.signing import canonical
from config.bay import BayFiles
from config.method import Method
from link.tasks import end
from tests.chain.signers import signer
from tests.virtual.plan import Plan
from tests.virtual.world import VirtualWorld

OFFICE, FORGER = signer("office"), signer("forger")
LOOSE_MM = 9.0
"""A limit that only a forged method, or an old one, has."""
ISSUES = 4


class OfficeWorld(VirtualWorld):
    """A bay that takes methods from an office, while everything goes wrong that the plan has."""

    def __init__(self, plan: Plan, files: BayFiles, folder: Path) -> None:
        super().__init__(plan, files, folder)
        settings = self.files.settings
        trusted = settings.method.model_copy(update={"authority": OFFICE.public_key, "least": 2})
        self.files = replace(self.files, settings=settings.model_copy(update={"method": trusted}))
        kept_file(self.path).unlink(missing_ok=True)
        self.methods = [self._method(n) for n in range(ISSUES + 1)]
        """The bay's own, then those of the issues, by number less one."""
        self.issues = [self._issue(n) for n in range(1, ISSUES + 1)]

    async def go_wrong(self) -> None:
        office, foe = asyncio.ensure_future(self._hand_out()), asyncio.ensure_future(self._meddle())
        try:
            await super().go_wrong()
            await office
        finally:
            await end(office, foe)

    def heal(self) -> None:
        super().heal()
        self.broker.say(self.topics.issued_method, self.issues[-1])

    async def _hand_out(self) -> None:
        rng = self.rng("office")
        for issue in self.issues:
            await asyncio.sleep(rng.uniform(0.0, 25.0))
            self.broker.say(self.topics.issued_method, issue)

    async def _meddle(self) -> None:
        """Replays, forgeries, nonsense, another site's, and a topic that is cleared."""
        rng, loose = self.rng("foe"), self._method(9, LOOSE_MM)
        bay = self.files.settings.bay
        time = "2026-11-26T08:00:00.000Z"
        forged = json.loads(self.issues[-1])
        forged["method"]["rim"]["limit_mm"] = LOOSE_MM
        told = [
            b"",
            b"nonsense",
            canonical(forged),
            issued(FORGER, loose, bay.site, 99, time, rollback=True),
            issued(OFFICE, loose, "slate", 99, time, rollback=True),  # signed, for others
            issued(OFFICE, loose, bay.site, 1, time, rollback=True),  # signed, before `least`
            *self.issues[:-1],
        ]
        while True:
            await asyncio.sleep(rng.uniform(0.0, 4.0))
            self.broker.say(self.topics.issued_method, rng.choice(told))

    def _method(self, n: int, limit_mm: float = 0.0) -> Method:
        own = self.files.method
        rim = own.rim.model_copy(update={"limit_mm": limit_mm or 0.30 - 0.01 * n})
        return own.model_copy(
            update={"version": f"1.{n}" if n else own.version, "rim": rim if n else own.rim}
        )

    def _issue(self, n: int) -> bytes:
        site = self.files.settings.bay.site
        return issued(OFFICE, self.methods[n], site, n + 1, "2026-11-26T08:00:00.000Z", rollback=False)
