"""How an inspection goes: a technician who gets on with it whatever happens, and somebody who meddles."""

from __future__ import annotations

from typing import Any

from config.method import ItemRule
from contract.units import UDEG_PER_DEG
from contract.wire import encode
from simulators.barring import NS_PER_S, BarringHand
from tests.acquire.workbench import INDICATOR, SECOND
from tests.virtual.people import Asked, Person
from tests.virtual.plan import Surface

INSPECTION, EARLIER = "I-1", "I-0"
TURN_DEG = 370.0
# Someone who is quick, so that a turn takes six seconds; at marks the hand rests for longer.
QUICK = BarringHand(pace_deg_s=90.0, pull_deg=70.0, rest_s=0.1, pause_s=0.3, back_share=0.15)
BY_MARKS = BarringHand(pace_deg_s=90.0, pull_deg=70.0, rest_s=0.1, pause_s=1.3, back_share=0.0)
# Unhurried, as only what lasts tells a stop at a mark.
DWELLING = BarringHand(pace_deg_s=30.0, pull_deg=35.0, rest_s=0.8, pause_s=8.0, back_share=0.0)
# Questions after which nobody answers any more.
QUESTIONS = 4
# Seconds after the crank has come to rest at which the pedal is pressed.
PRESS_AFTER_S = 0.5
# Seconds that a sweep is waited for once the crank stands.
PATIENCE_S = 3.0
# How well a micrometer is read by eye, mm.
READ_SD_MM = 0.002
# Tries to begin while a gauge is away.
BEGIN_TRIES = 6


class Technician(Person):
    """Does the inspection of the plan."""

    async def inspect(self) -> None:
        """From opening to signing."""
        plan = self.world.plan
        if self.rng.random() < 0.25:
            await self._earlier()
        bench = plan.kind == "bench"
        await self.ask(
            "open", inspection=INSPECTION, engine="GQ-E-2207", damper="GQ-D-0815",
            scope="bench" if bench else "on-engine",
        )  # fmt: skip
        if bench:
            await self._bench()
        else:
            await self.look("visual")
            if plan.abreast:
                await self._measure_abreast()
            else:
                for surface in plan.surfaces:
                    await self._measure(surface)
        await self.ask("close", inspection=INSPECTION)
        signing = {"inspection": INSPECTION, "name": "R. Example"}
        answer = await self.ask("sign", **signing)
        if answer and not answer["ok"] and answer["error"]["code"] == "ask-once":
            await self.ask("sign", sure=True, **signing)

    async def is_answered(self) -> bool:
        """Whether the daemon does a last, harmless command once all is well."""
        return bool(await self.ask("resend", since="2999-01-01T00:00:00Z"))

    async def look(self, check: Any) -> None:
        """All items of a check by eye are good, now and then one that is not."""
        rules = self.world.files.method.observed[check]
        seen = "bad" if self.rng.random() < 0.1 else "good"
        items = [
            {"item": rule.id, "seen": seen if n == 0 else "good", **_figure(rule)}
            for n, rule in enumerate(rules.item)
        ]
        await self.ask("record", check=check, items=items)

    async def _earlier(self) -> None:
        """An inspection before, given up."""
        await self.ask("open", inspection=EARLIER, engine="GQ-E-2207", damper="GQ-D-0001", scope="bench")
        await self.look("visual-bench")
        await self.ask("abandon", inspection=EARLIER)

    async def _bench(self) -> None:
        await self.look("visual-bench")
        rng, casing = self.rng, self.world.plan.casing
        for station_deg, radius in self.world.files.method.thickness.order:
            value_mm = round(casing.thickness_mm(station_deg, radius) + rng.gauss(0.0, READ_SD_MM), 3)
            place = {"check": "thickness", "station_deg": station_deg, "radius": radius}
            await self.ask("record", value_mm=value_mm, **place)
            if rng.random() < 0.1:
                await self.ask("record", value_mm=round(value_mm + 0.001, 3), replace=True, **place)
        await self.look("penetrant")
        await self.look("warm-leak")

    # -- run-out

    async def _measure(self, surface: Surface) -> None:
        self.world.rig.surface = surface
        if self.world.plan.kind == "typed":
            await self._type(surface)
            return
        await self.wait(2.5 * self.world.plan.period_s)  # what was felt before is not of it
        if not await self._begin(surface):
            return
        ended_before = self.people.ended_sweeps
        stops: list[tuple[int, float]] = []
        if self.world.plan.kind == "marked":
            await self._bar_by_marks()
        elif self.world.plan.kind == "dwelled":
            stops = await self._bar_by_dwells()
        else:
            path = self._bar(QUICK, TURN_DEG)
            await self.world.loop.until(path.end_ns + NS_PER_S // 4)
        for _ in range(round(PATIENCE_S / 0.25)):
            if self.people.ended_sweeps > ended_before:
                break
            await self.wait(0.25)
        else:
            await self.ask("end")
        for _ in range(QUESTIONS if stops else 0):
            await self.wait(PATIENCE_S)
            if not await self._answered(surface, stops):
                break

    async def _measure_abreast(self) -> None:
        """Both surfaces in one turn; what did not begin, or has not ended by itself, is not waited for."""
        await self.wait(2.5 * self.world.plan.period_s)
        ended_before = self.people.ended_sweeps
        begun = [await self._begin("rim"), await self._begin("face", SECOND)]
        path = self._bar(QUICK, TURN_DEG)
        await self.world.loop.until(path.end_ns + NS_PER_S // 4)
        for _ in range(round(PATIENCE_S / 0.25)):
            if self.people.ended_sweeps >= ended_before + sum(begun):
                return
            await self.wait(0.25)
        await self.ask("end")

    async def _begin(self, surface: Surface, gauge: str = INDICATOR) -> bool:
        for _ in range(BEGIN_TRIES):
            answer = await self.ask("begin", check=surface, gauge=gauge)
            if answer and answer["ok"]:
                return True
            await self.wait(1.0)
        return False

    def _bar(self, hand: BarringHand, turn_deg: float) -> Any:
        crank, now_ns = self.world.rig.crank, self.world.hand.now_ns
        path = hand.bar(self.rng, start_deg=crank.angle_deg(now_ns), turn_deg=turn_deg, start_ns=now_ns)
        crank.follow(path)
        return path

    async def _bar_by_marks(self) -> None:
        """To the next mark, where the sweep's angles begin, and a turn on from there."""
        angle_deg = self.world.rig.crank.angle_deg(self.world.hand.now_ns)
        to_next_deg = min((mark - angle_deg) % 360.0 or 360.0 for mark in BY_MARKS.marks_deg)
        path = self._bar(BY_MARKS, to_next_deg + 360.0)
        for stop_ns, stop_deg in path.stops(BY_MARKS.marks_deg):
            await self.world.loop.until(stop_ns + round(PRESS_AFTER_S * NS_PER_S))
            answer = await self.ask("mark")
            code = answer["error"]["code"] if answer and not answer["ok"] else ""
            if code == "pressed-twice":
                await self.ask("mark", sure=True)
            elif code == "angle-needed":
                await self.ask("mark", angle_deg=round(stop_deg % 360.0))
        await self.world.loop.until(path.end_ns + NS_PER_S)

    async def _bar_by_dwells(self) -> list[tuple[int, float]]:
        """The same, but that only the first and the last mark are pressed: when the crank stood at each, and
        where."""
        angle_deg = self.world.rig.crank.angle_deg(self.world.hand.now_ns)
        path = self._bar(DWELLING, (-angle_deg % 360.0 or 360.0) + 360.0)
        stops = path.stops(DWELLING.marks_deg)
        pressed = [stop for stop in stops if round(stop[1]) % 360 == 0][-2:]
        for stop_ns, _ in pressed:
            await self.world.loop.until(stop_ns + round(PRESS_AFTER_S * NS_PER_S))
            answer = await self.ask("mark")
            if answer and not answer["ok"] and answer["error"]["code"] == "pressed-twice":
                await self.ask("mark", sure=True)
        await self.world.loop.until(path.end_ns + NS_PER_S)
        return [(stop_ns - pressed[0][0], deg - pressed[0][1]) for stop_ns, deg in stops]

    async def _answered(self, surface: Surface, stops: list[tuple[int, float]]) -> bool:
        """The question about a stop, where there is one, by when the crank stood there."""
        result = self.people.results.get(INSPECTION, {"checks": {}})
        asks = result["checks"].get(surface, {}).get("asks")
        if asks is None:
            return False
        at_s = next((ns / NS_PER_S for ns, deg in stops if abs(deg - asks["mark_deg"]) < 1.0), None)
        if at_s is None:
            return False
        nearest = min((stop["at_s"] for stop in asks["stops"]), key=lambda each: abs(each - at_s))
        answer = await self.ask("mark", check=surface, angle_deg=asks["mark_deg"], at_s=nearest)
        return bool(answer and answer["ok"])

    async def _type(self, surface: Surface) -> None:
        """A dial, read at every thirty degrees and at the first once more."""
        answer = await self.ask("begin", check=surface, gauge="typed", resolution_mm=0.01)
        if not answer or not answer["ok"]:
            return
        damper = self.world.plan.damper
        value_mm = damper.rim_mm if surface == "rim" else damper.face_mm
        for angle_deg in range(0, 361, 30):
            said = round(value_mm(angle_deg), 2)
            await self.ask("record", angle_deg=angle_deg, value_mm=said)
            if self.rng.random() < 0.1:
                await self.ask("record", angle_deg=angle_deg, value_mm=said, replace=True)
        await self.ask("end")


def _figure(rule: ItemRule) -> dict[str, float]:
    """A dwell or a temperature within its bounds, where the item asks one."""
    if rule.figure is None:
        return {}
    least = rule.least or 0.0
    return {rule.figure: (least + (rule.most or least + 10.0)) / 2}


class Meddler(Person):
    """Another client that sends what it should not, and what it may."""

    async def meddle(self) -> None:
        """For ever."""
        while True:
            await self.wait(self.rng.uniform(0.3, 5.0))
            self.rng.choices(
                (self._again, self._mark, self._look, self._resend, self._open, self._cancel, self._nonsense,
                 self._reuse, self._retained, self._sign, self._abandon, self._begin),
                weights=(6, 3, 3, 2, 2, 1, 3, 2, 2, 1, 0.4, 2),
            )[0]()  # fmt: skip

    def _theirs(self) -> tuple[str, Asked] | None:
        known = list(self.people.asked.items())
        return self.rng.choice(known) if known else None

    def _again(self) -> None:
        if (found := self._theirs()) is not None:
            self.people.send(found[0], found[1].name, found[1].payload)

    def _reuse(self) -> None:
        """Somebody else's id, for another command."""
        if (found := self._theirs()) is not None:
            said = {"id": found[0], "operator": "R. Example reusing", "since": "2026-01-01T00:00:00Z"}
            self.people.send(found[0], "resend", encode(said))

    def _retained(self) -> None:
        said = {"id": "kept", "operator": "R. Example kept", "inspection": INSPECTION}
        self.people.send("kept", "abandon", encode(said), retain=True)

    def _nonsense(self) -> None:
        payload = self.rng.choice(
            (b"", b"{", b"[]", b'{"id": 5}', b'{"id":"x","operator":"R. Example nonsense"}')
        )
        self.people.send("x", self.rng.choice(("open", "begin", "dance")), payload)

    def _mark(self) -> None:
        if self.world.plan.kind == "swept":  # by marks it would be a lie about the crank
            udeg = round(self.world.rig.crank.angle_deg(self.world.hand.now_ns) * UDEG_PER_DEG)
            self.say("mark", angle_deg=udeg / UDEG_PER_DEG % 360.0)

    def _look(self) -> None:
        self.say("record", check="visual", items=[{"item": "leak", "seen": "good"}])

    def _resend(self) -> None:
        self.say("resend", since="2026-01-01T00:00:00Z")

    def _open(self) -> None:
        self.say("open", inspection=f"I-{self.rng.randint(2, 9)}", engine="e", damper="d", scope="bench")

    def _begin(self) -> None:
        self.say("begin", check="rim", gauge="typed")

    def _cancel(self) -> None:
        self.say("cancel")

    def _sign(self) -> None:
        self.say("sign", inspection=INSPECTION, name="R. Example")

    def _abandon(self) -> None:
        self.say("abandon", inspection=INSPECTION)
