"""The workshop round a virtual damper: what hands do there, and what is true of it meanwhile.

Each act returns what is to be said of it, one line a sentence, or raises ActError with the one line that says
why it cannot be done.
"""

from __future__ import annotations

from config.errors import RingtrueError
from contract.terms import ObservedName, Surface
from ringtrue.practice.bay import PracticeBay
from ringtrue.practice.bench import Bench
from ringtrue.practice.diary import Diary, Swept
from ringtrue.practice.lines import Lines
from simulators.barring import NS_PER_S, BarringHand, Path
from simulators.mounting import Mounting
from simulators.plunger import Off
from simulators.specimen import NM_PER_MM, REST_NM, Limits, Specimen

# A full turn, the daemon's overlap of 5 degrees, and what a hand pulls too far.
TURN_DEG = 370.0
# A sweep that has covered less has only begun.
BEGUN_DEG = 1.0
# A tip that is further off its surface than this lets light through, mm; our own.
TOUCHES_MM = 0.001
# The most that is barred in one act: two turns and a little.
MOST_DEG = 800.0
# Chance that a stroke moves a crank that nobody holds from one end of its float to the other.
FLOATS = 0.45
# No oven here goes higher, degrees Celsius.
OVEN_MOST_C = 150.0
# The most minutes that are waited in one act.
WAIT_MOST_MIN = 600.0
# Minutes of the workshop's clock that acts take which wait for nothing.
OFF_MIN, CLEAN_MIN, TIGHTEN_MIN, WIPE_MIN = 40.0, 60.0, 10.0, 10.0


class ActError(RingtrueError):
    """This cannot be done now."""


class Workshop:
    """Damper, crank, indicator and bench. specimen: the truth; it is read, and never changed."""

    def __init__(
        self, specimen: Specimen, limits: Limits, lines: Lines, bay: PracticeBay, diary: Diary
    ) -> None:
        self.specimen = specimen
        self.limits = limits
        self.mounting = specimen.mounting
        self.bench = Bench()
        self.is_on_engine = True
        self.is_wiped = False
        self.is_held = False
        self.surface: Surface | None = None
        self.at_hand: ObservedName = "visual"
        self._lines = lines
        self._bay = bay
        self._diary = diary
        self._hand = BarringHand(back_share=0.0)
        self._sets: dict[Surface, int] = {}
        self._set_deg = self._most_deg = 0.0
        self._sit(self.mounting)
        self._put_aside()

    # -- where things are

    @property
    def crank_deg(self) -> float:
        """Unwrapped."""
        return self._lines.rig.crank.angle_deg(self._lines.now_ns)

    @property
    def felt_mm(self) -> float:
        """What the plunger feels now."""
        return self._lines.rig.felt_nm(self._lines.now_ns) / NM_PER_MM

    @property
    def is_faulty_set(self) -> bool:
        """Whether base and plunger stand as they were first set, where that was badly."""
        surface = self.surface
        return surface is not None and surface in self.specimen.plunger and self._sets[surface] == 1

    @property
    def is_plunger_off(self) -> bool:
        """Whether the plunger misses the surface, somewhere or everywhere."""
        return self.is_faulty_set and self.specimen.fault == "plunger-off"

    @property
    def is_lifted(self) -> bool:
        """Whether the plunger feels something else here than the surface."""
        rig = self._lines.rig
        damper, angle_deg = rig.damper, self.crank_deg
        share = rig.crank.float_share_at(self._lines.now_ns)
        sound_mm = damper.rim_mm(angle_deg) if rig.surface == "rim" else damper.face_mm(angle_deg, share)
        return abs(sound_mm - self.felt_mm) > TOUCHES_MM

    def where(self) -> list[str]:
        """All of it."""
        place = "on the engine" if self.is_on_engine else "on the bench"
        held = "held to one end of its float" if self.is_held else "not held"
        set_on = "put aside" if self.surface is None else f"set on the {self.surface}"
        return [
            f"damper {place}; crank at {self.crank_deg % 360.0:.1f}°, {held}; indicator {set_on}",
            f"workshop's clock: {self.bench.minute:.0f} min",
        ]

    # -- on the engine

    def lock_out(self) -> list[str]:
        """Before anybody bars."""
        self._diary.is_locked_out = True
        return ["Wheels chocked, neutral, engine cool, locked out and tagged, starting air vented."]

    def set_on(self, surface: Surface) -> list[str]:
        """The indicator is stood there, whether or not it stood there before."""
        self._refuse_off()
        self.surface = surface
        self._sets[surface] = self._sets.get(surface, 0) + 1
        self._lines.rig.surface = surface
        faulty = self.specimen.plunger.get(surface, ()) if self._sets[surface] == 1 else ()
        self._lines.rig.suffer(*faulty)
        self._set_deg, self._most_deg = self.crank_deg, 0.0
        again = " anew, on bare iron, the tip pressed well in" if self._sets[surface] > 1 else ""
        return [f"The indicator is set on the {surface}{again}."]

    def hold(self) -> list[str]:
        """The crankshaft is levered to one end of its float, and kept there."""
        self._refuse_off()
        self.is_held = True
        self._lines.rig.crank.hold()
        return ["The crankshaft is levered to one end of its float and held there."]

    def release(self) -> list[str]:
        """And let go."""
        self.is_held = False
        return ["The crankshaft is let go."]

    async def bar(self, turn_deg: float) -> list[str]:
        """Over by so much; below 0: back."""
        if not 0.0 < abs(turn_deg) <= MOST_DEG:
            raise ActError(f"bar: 1 to {MOST_DEG:.0f} degrees at a time, or back as many")
        diary, lines = self._diary, self._lines
        if not diary.is_locked_out:
            diary.fault("lockout", "the crank was barred before the engine was locked out")
        live = self._bay.live
        check = live.check if live is not None and live.check in ("rim", "face") else None
        if check is not None and turn_deg < 0:
            diary.fault("back", f"the crank was barred back within the sweep of the {check}")
        hand = self._hand if turn_deg > 0 else BarringHand(back_share=0.0, reverse=True)
        path = hand.bar(
            lines.rng("hand"), start_deg=self.crank_deg, turn_deg=abs(turn_deg), start_ns=lines.now_ns + 1
        )
        if not self.is_held:
            self._float(path)
        before_deg = self._most_deg
        await lines.turn(path)
        self._most_deg = max(before_deg, abs(self.crank_deg - self._set_deg))
        if check is not None:
            is_new = live is None or (live.covered_deg or 0.0) < BEGUN_DEG
            self._note_swept(check, abs(turn_deg), before_deg, is_new=is_new)
        await self._bay.caught_up()
        return [f"The crank stands at {self.crank_deg % 360.0:.1f}°."]

    def _float(self, path: Path) -> None:
        """Each stroke may push a crank that nobody holds to the other end of its float."""
        rng, share = self._lines.rng("float"), self._lines.rig.crank.float_share_at(path.start_ns)
        changes = []
        for pull in path.pulls:
            if rng.random() < FLOATS:
                share = 1.0 - share
                changes.append((pull.start_ns + round(rng.uniform(0.05, 0.3) * NS_PER_S), share))
        self._lines.rig.crank.let_float(changes)

    def _note_swept(self, check: str, barred_deg: float, before_deg: float, *, is_new: bool) -> None:
        damper = self._lines.rig.damper
        swept = self._diary.swept.get(check)
        if swept is None or is_new:
            swept = Swept(damper, is_held=True, is_touching=True)
        swept.barred_deg += barred_deg
        swept.damper = damper
        swept.is_held = swept.is_held and self.is_held
        swept.is_touching = swept.is_touching and self.surface == check and not self.is_plunger_off
        for slip_deg in self.specimen.slips_deg if self.is_faulty_set else ():
            if before_deg < slip_deg <= self._most_deg:
                swept.slipped_deg = (self._set_deg + slip_deg) % 360.0
        self._diary.swept[check] = swept
        if check == "face" and not self.is_held:
            self._diary.fault("hold", "the face was swept with the crank not held to one end of its float")

    def clean(self) -> list[str]:
        """The mounting: off, faces cleaned, refitted where it was on the engine."""
        self._diary.is_mounting_cleaned = True
        self._sit(self.mounting.cleaned())
        self._pass(CLEAN_MIN)
        if not self.is_on_engine:
            return ["The mounting faces of damper and crank are clean, dry and free of burrs."]
        self._put_aside()
        return [
            "The damper is taken off, both mounting faces cleaned and dried, and it is refitted: bolts "
            "tightened by the manual.",
            "The indicator was put aside: set it anew. What was measured before was of another mounting.",
        ]

    def tighten(self) -> list[str]:
        """The damper's bolts."""
        self._refuse_off()
        self._sit(self.mounting.tightened())
        self._pass(TIGHTEN_MIN)
        return ["The damper's bolts are tightened by the manual, in its order and to its figure."]

    def wipe(self) -> list[str]:
        """Oil on the engine; on the bench paint and dirt too."""
        mended = " The cover that wept is sealed." if self.specimen.is_oily and not self.is_wiped else ""
        self.is_wiped = True
        self._pass(WIPE_MIN)
        if self.is_on_engine:
            return [f"The damper is wiped clean.{mended}"]
        self.bench.is_bare = True
        return ["The damper is bare, clean and dry where it is to be measured and searched."]

    def take_off(self) -> list[str]:
        """To the bench."""
        self._refuse_off()
        self._put_aside()
        self.is_on_engine, self.at_hand = False, "visual-bench"
        self._pass(OFF_MIN)
        return ["The damper is lifted off with the hoist, and lies on the bench."]

    def fit(self) -> list[str]:
        """Back on the engine; what lies between the faces lies there still."""
        if self.is_on_engine:
            raise ActError("fit: the damper is on the engine")
        self._sit(self.mounting.tightened())
        self.is_on_engine, self.at_hand = True, "visual"
        self._pass(OFF_MIN)
        return ["The damper is back on the engine, bolts tightened by the manual."]

    # -- on the bench

    def wait(self, minutes: float) -> list[str]:
        """The workshop's clock goes on; the bay's own does not."""
        if not 0.0 < minutes <= WAIT_MOST_MIN:
            raise ActError(f"wait: a number of minutes up to {WAIT_MOST_MIN:.0f}")
        self._pass(minutes)
        bench, said = self.bench, []
        for check, item in (
            ("penetrant", "penetrant-dwell"), ("penetrant", "developer-dwell"), ("warm-leak", "soak"),
        ):  # fmt: skip
            figure = bench.figure(check, item)
            is_over = item == "penetrant-dwell" and bench.removed_at is not None
            if figure is not None and not is_over and check == self.at_hand:
                said.append(f"{item}: {figure:.0f} min by now")
        return [f"The workshop's clock says {bench.minute:.0f} min.", *said]

    def penetrant(self) -> list[str]:
        """Put it on."""
        self._refuse_on()
        self.bench.penetrant()
        self.at_hand = "penetrant"
        return ["Penetrant is brushed on: red all over. The room is aired, and nothing burns near it."]

    def rinse(self) -> list[str]:
        """Take the penetrant off."""
        self._refuse_on()
        if self.bench.penetrant_at is None or self.bench.removed_at is not None:
            raise ActError("rinse: there is no penetrant on it: penetrant first")
        self.bench.removed_at = self.bench.minute
        return [f"Penetrant removed after {self.bench.figure('penetrant', 'penetrant-dwell'):.0f} min."]

    def developer(self) -> list[str]:
        """A white coat."""
        self._refuse_on()
        if self.bench.removed_at is None:
            raise ActError("developer: take the penetrant off first: rinse")
        self.bench.developed_at = self.bench.minute
        return ["Developer is sprayed on, thin and white."]

    def warm(self, temperature_c: float) -> list[str]:
        """Joint face down on paper, in the oven."""
        self._refuse_on()
        if not 30.0 <= temperature_c <= OVEN_MOST_C:
            raise ActError(f"warm: the oven goes from 30 to {OVEN_MOST_C:.0f} °C")
        self.bench.warm(temperature_c)
        self.at_hand = "warm-leak"
        most = {rule.id: rule.most for rule in self._bay.method.observed["warm-leak"].item}.get("temperature")
        if most is not None and temperature_c > most:
            said = f"the damper was warmed to {temperature_c:g} °C; {most:g} °C is the most"
            self._diary.fault("hot", said)
        return [f"The damper lies joint face down on clean paper in the oven, at {temperature_c:g} °C."]

    # -- small things

    def _sit(self, mounting: Mounting) -> None:
        self.mounting = mounting
        self._lines.rig.damper = mounting.carries(self.specimen.damper)

    def _put_aside(self) -> None:
        self.surface = None
        self.is_held = False
        self._lines.rig.suffer(Off(REST_NM))

    def _pass(self, minutes: float) -> None:
        self.bench.minute += minutes

    def _refuse_off(self) -> None:
        if not self.is_on_engine:
            raise ActError("the damper is on the bench: fit puts it back on the engine")

    def _refuse_on(self) -> None:
        if self.is_on_engine:
            raise ActError("the damper is on the engine: off takes it to the bench")
