"""What an inspection is made of: events, each a plain frozen record, and as rows of the journal.

Every event has `seq` (its place in the journal, 1, 2, 3 …; 0 until the journal has given one),
`inspection`, `time_ns` (monotonic) and `operator` where a command caused it. Times of different
spells of the daemon cannot be compared: `Opened` and `Resumed` anchor theirs to the wall clock.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from functools import cache
from typing import Any, ClassVar, Literal

from pydantic import TypeAdapter

from acquire.errors import FoldError
from acquire.journal.gauges import GaugeInBody, written
from contract.header import Header
from contract.item import Item, Photo
from contract.terms import AngleZero, Decision, MicrometerAt, ObservedName, SweptName
from contract.units import Unit

EndReason = Literal["complete", "ended", "cancelled", "full"]
SourceKind = Literal["encoder", "marks", "dwells", "typed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What all events share."""

    kind: ClassVar[str] = ""
    inspection: str
    time_ns: int
    operator: str | None = None
    seq: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened(Event):
    """An inspection begins. method: the whole method as data, so that a re-grade needs no other file.

    header.opened: the wall clock at time_ns. method_sha256: over the canonical JSON of `method`.
    """

    kind: ClassVar[str] = "opened"
    header: Header
    method: dict[str, Any]
    method_sha256: str
    software: str

    @property
    def utc(self) -> str:
        """The wall clock (RFC 3339) at time_ns."""
        return self.header.opened


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleStated:
    """Where angles come from during a sweep.

    source `encoder`: gauge, its unit (udeg or count), per_turn (its whole units in one turn of its own),
    gear (turns of it for one of the crank), step (the smallest change it can show, in its units), reversed
    (true: its value falls as the crank is barred in running direction), modulus (where its counter begins
    anew; 0: at a turn, or never). position: what it had counted since the daemon watches it, when the sweep
    began; zero: how much further on, in its units, the crank is at the timing mark; None: not known.
    source `marks`: angles come with Mark events; the crank stands within mark_u_udeg (standard) of each.
    source `dwells`: the same, and it also stood at each of marks_udeg between. source `typed`: with each
    reading typed, known to within mark_u_udeg.
    """

    source: SourceKind
    gauge: str | None = None
    unit: Unit = Unit.UDEG
    per_turn: int = 360_000_000
    step: int = 1
    reversed: bool = False
    gear: float = 1.0
    latency_u_ns: int = 0
    mark_u_udeg: int = 0
    modulus: int = 0
    position: int | None = None
    zero: int | None = None
    marks_udeg: tuple[int, ...] = ()

    def zero_at(self, zero: int | None) -> AngleZero:
        """What 0 degrees is, with the timing mark known as `zero`, or not."""
        return "encoder" if self.source == "encoder" and zero is None else "timing-mark"

    @property
    def wraps_at(self) -> int:
        """Where its values may begin anew: those that differ by this are alike."""
        return self.modulus or self.per_turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the micrometer is put: at a station of the casing, on which radius; or at `ZERO`."""

    station_udeg: int
    radius: MicrometerAt


ZERO = Place(station_udeg=0, radius="zero")
"""The micrometer closed, or on its setting standard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepBegun(Event):
    """Readings of `gauge` count from here on. places: for a thickness sweep, in the order to be taken.

    radius_nm: for a face, the plunger's distance from the axis. zero_at_nm: what the micrometer shows at its
    own zero, where that is to be read. `lifts` is no check but a repeatability
    test of the gauge; by_reading: each reading is the value of one lift. turns: of the crank, after which the
    sweep ends by itself. across: the gauge that reads the same face half a turn away in a sweep begun just
    before this one, which this one bears witness for; empty: this is a sweep of its own.
    """

    kind: ClassVar[str] = "sweep-begun"
    check: SweptName
    gauge: GaugeInBody
    angle: AngleStated
    places: tuple[Place, ...] = ()
    radius_nm: int | None = None
    zero_at_nm: int | None = None
    by_reading: bool = False
    turns: int = 1
    across: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample(Event):
    """One reading within a sweep, of its gauge or of its encoder, as the driver gave it."""

    kind: ClassVar[str] = "sample"
    gauge: str
    reading: int
    """The driver's own count: 0, 1, 2 … since the daemon started; a hole in it is a loss."""
    value: int
    unit: Unit
    u_ns: int = 0
    """Standard uncertainty of time_ns beyond that of the latency; see drivers.arrival."""
    sweep: int = 0
    """The seq of the sweep's beginning; 0: of the only one that runs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark(Event):
    """The crank stands at a known position. angle_udeg: unwrapped, as barred. sure: who sent it was asked
    whether the crank was turned, and says so."""

    kind: ClassVar[str] = "mark"
    angle_udeg: int
    sure: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Zeroed(Event):
    """The crank stands at the timing mark. value, position: what the encoder `gauge` says, and has counted,
    as in AngleStated; since_ns: it was watched without a break from then on."""

    kind: ClassVar[str] = "zeroed"
    gauge: str
    value: int
    position: int
    since_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexPassed(Event):
    """The sweep's encoder says with the reading of this time that its index came since the one before."""

    kind: ClassVar[str] = "index-passed"
    gauge: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped(Event):
    """Of a sweep that is over: a person says which of its stops was at a mark. angle_udeg: the mark, as
    barred; at_ns: a time within that stop, on the clock of the sweep. sweep: the seq of its beginning; 0: it
    is the one that ended last."""

    kind: ClassVar[str] = "stopped"
    angle_udeg: int
    at_ns: int
    sweep: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeAway(Event):
    """The sweep's gauge, or its encoder, stopped giving readings."""

    kind: ClassVar[str] = "gauge-away"
    gauge: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeBack(Event):
    """It gives readings again."""

    kind: ClassVar[str] = "gauge-back"
    gauge: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepEnded(Event):
    """The sweep is over.

    complete: a full turn and the overlap, or all places; ended: by command; cancelled: by command,
    not counted; full: the most readings that a sweep may hold. back_udeg, back_times: how far and how
    often the crank was barred back within it. sweep: the seq of its beginning; 0: the only one that ran.
    """

    kind: ClassVar[str] = "sweep-ended"
    reason: EndReason
    back_udeg: int = 0
    back_times: int = 0
    sweep: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation(Event):
    """A check done by eye, as recorded."""

    kind: ClassVar[str] = "observation"
    check: ObservedName
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeBegun(Event):
    """A dwell begins: of an item that asks its time."""

    kind: ClassVar[str] = "time-begun"
    check: ObservedName
    item: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeEnded(Event):
    """It ends."""

    kind: ClassVar[str] = "time-ended"
    check: ObservedName
    item: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoTaken(Event):
    """A picture of an item, in the bay's folder of photos."""

    kind: ClassVar[str] = "photo-taken"
    check: ObservedName
    photo: Photo


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedRunout(Event):
    """A dial read by a person within a sweep whose gauge is `typed`.

    low_nm, high_nm: the lowest and highest that the needle showed since the stop before, where somebody
    looked. replaces: the seq of the typed reading that this one corrects; 0: none.
    """

    kind: ClassVar[str] = "typed-runout"
    angle_udeg: int
    value_nm: int
    low_nm: int | None = None
    high_nm: int | None = None
    replaces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedThickness(Event):
    """A micrometer read by a person: within a thickness sweep, or joining the last one.

    gauge: what is assumed of the micrometer where there is no sweep to join. replaces: as of a dial's.
    """

    kind: ClassVar[str] = "typed-thickness"
    place: Place
    value_nm: int
    gauge: GaugeInBody
    replaces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedLift(Event):
    """A dial read by a person after a lift, within a repeatability test whose gauge is `typed`."""

    kind: ClassVar[str] = "typed-lift"
    value_nm: int
    replaces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed(Event):
    """The daemon came back after a restart; utc anchors the times from here on."""

    kind: ClassVar[str] = "resumed"
    utc: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed(Event):
    """Nothing more will be measured. alike: checks whose typed readings are, one by one, those of another
    inspection, and of which."""

    kind: ClassVar[str] = "closed"
    alike: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed(Event):
    """A qualified person stands by it. decision: their own, where it is not the verdict."""

    kind: ClassVar[str] = "signed"
    name: str
    decision: Decision | None = None
    remark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected(Event):
    """What was written down wrong of a signed inspection is put right; what was measured stays.

    utc: the wall clock then (RFC 3339). name, why: who stands by it, and the reason. header: whole, as it is
    right. remark: added. verdict_was, verdict: where it makes another one of that which was signed.
    """

    kind: ClassVar[str] = "corrected"
    utc: str
    name: str
    why: str
    header: Header
    remark: str = ""
    verdict_was: str = ""
    verdict: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Abandoned(Event):
    """Given up; kept on record."""

    kind: ClassVar[str] = "abandoned"


KINDS: tuple[type[Event], ...] = (
    Opened, SweepBegun, Sample, Mark, Zeroed, IndexPassed, Stopped, GaugeAway, GaugeBack, SweepEnded,
    Observation, TypedRunout, TypedThickness, TypedLift, TimeBegun, TimeEnded, PhotoTaken, Resumed, Closed,
    Signed, Corrected, Abandoned,
)  # fmt: skip

_BY_KIND: dict[str, type[Event]] = {kind.kind: kind for kind in KINDS}
_COMMON = ("inspection", "time_ns", "operator", "seq")


def body_of(event: Event) -> dict[str, Any]:
    """What an event says beyond what all events share, as plain JSON data."""
    # A whole method is data already, and large: no copy is made of it.
    plain = replace(event, method={}) if isinstance(event, Opened) else event
    said = {name: value for name, value in asdict(plain).items() if name not in _COMMON}
    if isinstance(event, Opened):
        said["method"] = event.method
    if isinstance(event, (Opened, Corrected)):
        said["header"] = event.header.model_dump(mode="json", exclude_none=True)
    if isinstance(event, Closed) and not event.alike:
        del said["alike"]
    if isinstance(event, (SweepBegun, TypedThickness)):
        said["gauge"] = written(event.gauge)
    return said


def encode_body(event: Event) -> str:
    """The journal's column `body`: compact JSON."""
    return json.dumps(body_of(event), ensure_ascii=False, allow_nan=False, separators=(",", ":"))


@cache
def _adapter(kind: str) -> TypeAdapter[Event]:
    """Made when the first of its kind is read: all of them would take a tenth of a start."""
    return TypeAdapter(_BY_KIND[kind])


def decode_event(
    kind: str, body: str, *, inspection: str, time_ns: int, operator: str | None, seq: int
) -> Event:
    """The event of a journal's row. Raises FoldError where this version cannot read it."""
    if kind not in _BY_KIND:
        raise FoldError(f"event {seq} is of an unknown kind {kind!r}: read it with a newer ringtrue")
    try:
        data = json.loads(body)
        common = {"inspection": inspection, "time_ns": time_ns, "operator": operator, "seq": seq}
        return _adapter(kind).validate_python({**data, **common})
    except (ValueError, TypeError) as error:
        raise FoldError(f"event {seq} ({kind}) cannot be read: {' '.join(str(error).split())}") from None
