"""One practice: its specimen, workshop and trainee put together, on whatever bay, clock and lines."""

from __future__ import annotations

import random
import time
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass

from config.bay import BayFiles
from ringtrue.demo_folder import ENCODER, INDICATOR, MICROMETER
from ringtrue.practice.acts import Acts
from ringtrue.practice.bay import PracticeBay
from ringtrue.practice.diary import Diary
from ringtrue.practice.lines import IsTaken, Lines, Write
from ringtrue.practice.review import Review, reviewed
from ringtrue.practice.shorthand import Shorthand
from ringtrue.practice.sight import Sight
from ringtrue.practice.thickness import Micrometer
from ringtrue.practice.workshop import Workshop
from simulators.barring import Crank
from simulators.gauge import TURN_UDEG, SimGauge
from simulators.rig import Rig
from simulators.specimen import Fault, Limits, Specimen, drawn
from simulators.timeline import Timeline


@dataclass(frozen=True, slots=True)
class Task:
    """What is practised. exam: its number; then nothing is told. fault: by name, else the seed's. is_far:
    however the seed would have drawn it."""

    seed: int
    fault: Fault | None = None
    exam: int | None = None
    is_far: bool | None = None

    @property
    def text(self) -> str:
        """What everything is drawn by; an exam's damper is no practice's."""
        return f"{'practice' if self.exam is None else 'exam'} {self.seed}"

    def job(self) -> dict[str, object]:
        """What the work order says: of an invented fleet."""
        rng = random.Random(f"job {self.text}")  # noqa: S311 a simulation, no secret
        return {
            "engine": f"GQ-E-{rng.randint(2000, 2999)}",
            "damper": f"GQ-D-{rng.randint(800, 1999):04d}",
            "hours_h": rng.randint(2_800, 14_000),
            "work_order": f"GQ-W-{rng.randint(3000, 4999)}",
        }


class Practice:
    """Run `lines.stand` as a task beside `take`."""

    def __init__(
        self,
        task: Task,
        files: BayFiles,
        bay: PracticeBay,
        write: Write,
        timeline: Timeline,
        is_taken: IsTaken = lambda _: True,
    ) -> None:
        self.task = task
        self._method = files.method
        self._began_s = time.monotonic()
        limits = limits_of(files)
        specimen = drawn(task.text, limits, task.fault, far=task.is_far)
        self.lines = Lines(_rig(files, specimen), write, is_taken, timeline, task.text)
        self.diary = Diary()
        self.shop = Workshop(specimen, limits, self.lines, bay, self.diary)
        self.sight = Sight(self.shop, bay, self.diary)
        # A simulation, no secret.
        gauge = SimGauge(files.profiles[MICROMETER], random.Random(), resolution=1_000)  # noqa: S311
        self.acts = Acts(
            self.shop,
            self.sight,
            Micrometer(gauge, self.shop, self.lines, bay, self.diary),
            Shorthand(bay, self.sight, self.diary, task.job()),
            bay,
            self.diary,
            is_exam=task.exam is not None,
        )
        self._bay = bay

    async def take(self, typed: AsyncIterator[str], say: Callable[[list[str]], None]) -> Review | None:
        """One line after the other, until the trainee is done; None for one who quits."""
        async for line in typed:
            words = line.split("#", 1)[0].strip()
            if words:
                say(await self.acts.do(words))
            if self.acts.is_over:
                break
        return None if self.acts.is_quit or not self.acts.is_over else await self.review()

    async def review(self) -> Review:
        """Against the truth, as it stands."""
        return reviewed(
            self.shop,
            self.sight,
            self.diary,
            await self._bay.result(),
            self._method,
            seed=self.task.seed,
            exam=self.task.exam,
            seconds=time.monotonic() - self._began_s,
        )


def limits_of(files: BayFiles) -> Limits:
    """What the bay's method allows."""
    method = files.method
    thick = method.thickness
    return Limits(method.rim.limit_mm, method.face.limit_mm, thick.limit_mm, thick.order)


def _rig(files: BayFiles, specimen: Specimen) -> Rig:
    """An indicator of 0.001 mm with a noise of 0.8 µm, and an encoder of 0.1 degrees, as at the demo."""
    rng = random.Random()  # noqa: S311 (each act brings its own)
    return Rig(
        damper=specimen.damper,
        crank=Crank(-2.0),
        indicator=SimGauge(files.profiles[INDICATOR], rng, resolution=1_000, noise=800.0),
        encoder=SimGauge(files.profiles[ENCODER], rng, resolution=100_000, wrap=TURN_UDEG),
    )
