"""The lines of the workshop's gauges: standing still between acts, telling a turn in time during one.

The workshop's own time goes on in acts alone, and each act has generators of its own. So the same acts give
the same readings, to the byte, however long the trainee thinks between them.
"""

from __future__ import annotations

import asyncio
import random
from collections.abc import Callable

from ringtrue.demo_folder import ENCODER, INDICATOR
from simulators.barring import NS_PER_S, Path
from simulators.gauge import SimGauge, encoder_udeg
from simulators.rig import Rig
from simulators.timeline import BATCH, Timeline, merged

# Seconds between two frames while nothing moves: well within what a silent gauge is.
STANDING_S = 0.05
# Seconds that the gauges are heard after the crank has come to rest, so that the turn is heard out.
AFTER_S = 0.4

# The longest that the crank waits in one act for a bay that takes nothing off a line, and how often it is
# looked, seconds.
WAITS_MAX_S, LOOK_S = 10.0, 0.001

Write = Callable[[str, bytes], None]
"""To the port of a gauge."""
IsTaken = Callable[[str], bool]
"""Whether the bay has taken all that was written to the port of a gauge."""


class Lines:
    """Run `stand` as a task. rig: what the gauges feel; it may be changed between acts."""

    def __init__(self, rig: Rig, write: Write, is_taken: IsTaken, timeline: Timeline, seed: str) -> None:
        self.rig = rig
        self.now_ns = 0
        self._write = write
        self._is_taken = is_taken
        self._timeline = timeline
        self._seed = seed
        self._acts = 0
        self._patience = 0
        self.is_turning = False
        self._rest_rng = random.Random(f"standing {seed}")  # noqa: S311 a simulation, no secret

    async def stand(self) -> None:
        """Tell what is felt while nothing moves, for ever."""
        while True:
            if not self.is_turning:
                self._stand_once()
            await asyncio.sleep(STANDING_S)

    def _stand_once(self) -> None:
        rig = self.rig
        rig.indicator.rng = rig.encoder.rng = self._rest_rng
        self._write(INDICATOR, rig.indicator.press(rig.felt_nm, self.now_ns)[1])
        self._write(ENCODER, rig.encoder.press(encoder_udeg(rig.crank), self.now_ns)[1])

    def rng(self, name: str) -> random.Random:
        """A generator for the next act."""
        return random.Random(f"{name} {self._seed} {self._acts}")  # noqa: S311 a simulation, no secret

    async def turn(self, path: Path) -> None:
        """The crank goes along a path that begins now."""
        rig, timeline = self.rig, self._timeline
        rig.crank.follow(path)
        rig.indicator.rng, rig.encoder.rng = self.rng(INDICATOR), self.rng(ENCODER)
        until_ns = path.end_ns + round(AFTER_S * NS_PER_S)
        origin_ns = timeline.now_ns() - path.start_ns
        streams = {
            INDICATOR: rig.indicator_stream(start_ns=path.start_ns, until_ns=until_ns),
            ENCODER: rig.encoder_stream(start_ns=path.start_ns, until_ns=until_ns),
        }
        self.is_turning = True
        self._patience = round(WAITS_MAX_S / LOOK_S)
        try:
            for count, (time_ns, gauge, data) in enumerate(merged(streams)):
                await timeline.until(origin_ns + time_ns)
                await self._taken(gauge)
                timeline.hold(origin_ns + time_ns)
                if count % BATCH == 0:
                    await asyncio.sleep(0)
                self._write(gauge, data)
        finally:
            self.is_turning = False
            self.now_ns = until_ns
            self._acts += 1

    async def _taken(self, gauge: str) -> None:
        """Wait until the bay has taken the frame before: one that a busy machine keeps from its lines would
        find many at once, with times of arrival that no crank and gauge would give them. No line tells when
        it is read, so it is looked at."""
        while self._patience > 0 and not self._is_taken(gauge):
            self._patience -= 1
            await asyncio.sleep(LOOK_S)

    def press(self, gauge: SimGauge, name: str, value_nm: float) -> int:
        """The key of a gauge without noise of its own is pressed; what its display shows."""
        gauge.rng = self.rng(name)
        self._acts += 1
        self._write(name, gauge.press(lambda _: value_nm, self.now_ns)[1])
        return gauge.shown(value_nm, self.now_ns)
