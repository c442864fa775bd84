"""The commands that a bay takes, and the replies to them.

A request is published on `command/<name>`; its reply comes on `reply/<id>`, once. A request that is sent
again under its id is answered again and not done again.
"""

from __future__ import annotations

import contextlib
import re
import unicodedata
from datetime import UTC, datetime
from decimal import Decimal
from typing import Annotated, Any, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from contract.item import Item
from contract.kinds import Takes, takes
from contract.terms import (
    TYPED,
    Construction,
    Decision,
    Family,
    MicrometerAt,
    ObservedName,
    Scope,
    Seen,
    Surface,
    SweptName,
)
from contract.wire import Message

# Bytes: the longest command; a visual check with a page of notes has 6 kB.
COMMAND_BYTES_MAX = 16_384
# Bytes: the longest command in which an id is still looked for, so that its sender hears of it.
READABLE_BYTES_MAX = 8 * COMMAND_BYTES_MAX
CODES: dict[str, str] = {
    "malformed": "the command is not what it should be; mend what the message names and send it again",
    "unknown-command": "there is no such command; the message lists those there are",
    "oversized": "the command is too long; shorten its notes",
    "retained": "a command must not be retained; send it again without the retain flag",
    "id-reused": "the id was used for another command; give every command an id of its own",
    "out-of-order": "this cannot be done now; do first what the message names",
    "no-method": "no method is in force that the office vouches for; do what the message names",
    "no-such-inspection": "the inspection is not known here; check its id",
    "inspection-exists": "an inspection of this id is there already; choose another id or none",
    "no-such-gauge": "the gauge is not configured; the message lists those that are",
    "wrong-gauge": "the gauge does not give what the check needs; choose another",
    "past-due": "the gauge's calibration has run out; choose another, or enter its new date",
    "gauge-absent": "the gauge gives no readings; switch it on and check its cable",
    "pressed-twice": "the crank may not have been turned since the last mark; if it was, add sure",
    "nothing-to-replace": "no typed reading is there to be replaced; leave replace out, or mend the place",
    "no-such-photo": "the photo is not in the bay's folder; put it there with ringtrue photo",
    "ask-once": "the inspection does not end in keep; to sign it as it stands, or to give it up, add sure",
    "angle-needed": "the crank's position is not known; give angle_deg with this mark",
    "disk-full": "the journal cannot be written; free some space and send the command again",
    "journal-failed": "the journal cannot be written; check the disk and send the command again",
    "failed": "the daemon failed at this and changed nothing; look into its log",
}
"""Why a command is refused, and what to do about it."""

PHOTO_FILE = r"^[0-9a-f]{64}\.jpg$"
"""A photo is named for the SHA-256 of its bytes."""

REQUEST_ID = re.compile(r"[A-Za-z0-9._~-]{1,64}")


def _number(value: object) -> object:
    """A JSON number only: no text, no truth value, that could pass for one."""
    if isinstance(value, (str, bool)):
        raise ValueError("a number")
    return value


def _one_line(text: str) -> str:
    # What cannot be seen, or turns the rest round, would let two serials look alike.
    hidden = ("Cc", "Cf", "Zl", "Zp")
    if not text.strip() or any(unicodedata.category(letter) in hidden for letter in text):
        raise ValueError("one line of text, not blank, of letters that are seen")
    return text


def _plain_id(text: str) -> str:
    if REQUEST_ID.fullmatch(text) is None:
        raise ValueError("1 to 64 letters, digits and . _ ~ -")
    return text


def _instant(value: object) -> datetime:
    """A moment in UTC: text only, as a number could be in any unit."""
    if isinstance(value, str):
        with contextlib.suppress(ValueError, OverflowError):
            moment = datetime.fromisoformat(value)
            if moment.tzinfo is not None:
                return moment.astimezone(UTC)
    raise ValueError("a time with its zone such as 2026-03-02T06:00:00Z")


Number = Annotated[Decimal, BeforeValidator(_number), Field(allow_inf_nan=False)]
Length = Annotated[Number, Field(ge=-10_000, le=10_000)]
# One step of a display, mm: below a nanometre nothing is kept.
Step = Annotated[Number, Field(ge=Decimal("0.000001"), le=1)]
AngleDeg = Annotated[Number, Field(ge=-360_000, le=360_000)]
Flag = Annotated[bool, Field(strict=True)]
Text = Annotated[str, Field(strict=True, max_length=100), AfterValidator(_one_line)]
Note = Annotated[str, Field(strict=True, max_length=500)]
Id = Annotated[str, Field(strict=True, max_length=1000), AfterValidator(_plain_id)]
Instant = Annotated[datetime, BeforeValidator(_instant)]


class Command(BaseModel):
    """What all commands carry. Unknown keys are refused. Each is built when the first of it comes."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    id: Id
    operator: Text


class Open(Command):
    """Begin an inspection; the bay has one open at a time.

    family, construction (by the visible edge: rolled, welded), rating_kw: where the register does not say
    them, or what is seen is otherwise.
    """

    inspection: Id | None = None
    engine: Text
    damper: Text
    scope: Scope
    family: Family | None = None
    construction: Construction | None = None
    rating_kw: Annotated[Number, Field(gt=0, le=100_000)] | None = None
    distance_km: Annotated[Number, Field(ge=0, le=100_000_000)] | None = None
    hours_h: Annotated[Number, Field(ge=0, le=10_000_000)] | None = None
    work_order: Text | None = None


class Of(Command):
    """What is done to the inspection that is open. inspection: of which it is meant; where another is open by
    then, it is refused: a command may be asked for long before it arrives."""

    inspection: Id | None = None


class Begin(Of):
    """Begin a sweep, or a repeatability test (`lifts`).

    While a turn of one surface runs, one of the other may begin beside it, with another gauge. opposite: a
    second gauge on the same face, half a turn away: it tells end float from the face. turns: after which a
    sweep of rim or face ends by itself. resolution_mm, mpe_mm: of a gauge that is `typed`, else the method's.
    """

    check: SweptName
    gauge: Text
    opposite: Text | None = None
    turns: Annotated[int, BeforeValidator(_number), Field(ge=1, le=4)] = 1
    radius_mm: Annotated[Number, Field(ge=1, le=2_000)] | None = None
    resolution_mm: Step | None = None
    mpe_mm: Annotated[Number, Field(ge=0, le=1)] | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if self.gauge != TYPED and (self.resolution_mm is not None or self.mpe_mm is not None):
            raise ValueError(
                'resolution_mm and mpe_mm only with gauge "typed": the configuration has the others'
            )
        if self.check != "face" and self.radius_mm is not None:
            raise ValueError("radius_mm only with check face")
        if self.opposite is not None and (self.check != "face" or TYPED in (self.gauge, self.opposite)):
            raise ValueError("opposite only with check face and two gauges that are read here")
        if self.opposite == self.gauge:
            raise ValueError("opposite must be another gauge than gauge")
        if takes(self.check) != "turn" and self.turns != 1:
            raise ValueError("turns only with check rim or face")
        return self


class Mark(Of):
    """The crank stands at angle_deg, or at the next of the configured marks.

    From 0 up to 360 the angle within the turn, reached the shorter way; else as barred, turns counted.
    sure: it was turned since the last mark, although that cannot be seen. at_s: answers which stop of the
    sweep before, by dwells, was at angle_deg (as barred): the one so many seconds after its first mark.
    check: with at_s, of which check; none is needed where the latest sweep is meant.
    """

    angle_deg: AngleDeg | None = None
    at_s: Annotated[Number, Field(ge=0, le=1_000_000)] | None = None
    check: Surface | None = None
    sure: Flag = False


class Zero(Of):
    """The crank stands at the timing mark: here is 0 degrees.

    With an encoder it holds for the sweeps to come and, as far as the encoder was not lost since, for those
    of the inspection that is open. With marks it is the mark at 0 degrees.
    """


class End(Of):
    """End what runs: sweeps, or a repeatability test. check: that one only, where several run."""

    check: SweptName | None = None


class Cancel(Of):
    """End what runs; it does not count. check: that one only, where several run."""

    check: SweptName | None = None


class SeenItem(BaseModel):
    """One thing looked at. time_min, temperature_c: with those items for which the method asks it."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    item: Text
    seen: Seen
    note: Note = ""
    time_min: Annotated[Number, Field(ge=0, le=100_000)] | None = None
    temperature_c: Annotated[Number, Field(ge=-60, le=1_000)] | None = None

    def plain(self) -> Item:
        """As it is kept."""
        said: dict[str, Any] = self.model_dump()
        said |= {key: float(value) for key, value in said.items() if isinstance(value, Decimal)}
        return Item(**said)


RecordCheck = ObservedName | SweptName


TAKEN: dict[Takes, set[str]] = {
    "turn": {"angle_deg", "value_mm"},
    "places": {"station_deg", "radius", "value_mm"},
    "items": {"items"},
    "lifts": {"value_mm"},
}
"""What one reading, or one look, is told by."""


class Record(Of):
    """What a person saw or read: items of a check by eye; a micrometer at a place; a dial at an angle, or
    after a lift.

    low_mm, high_mm: what a dial's needle showed at least and at most since the stop before. replace: this
    corrects the latest reading typed for the same place, or the last lift.
    """

    check: RecordCheck | None = None
    items: Annotated[tuple[SeenItem, ...], Field(min_length=1, max_length=50)] | None = None
    station_deg: Annotated[Number, Field(ge=0, lt=360)] | None = None
    radius: MicrometerAt | None = None
    angle_deg: AngleDeg | None = None
    value_mm: Length | None = None
    low_mm: Length | None = None
    high_mm: Length | None = None
    replace: Flag = False

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        given = {
            name
            for name in ("items", "station_deg", "radius", "angle_deg", "value_mm")
            if getattr(self, name) is not None
        }
        wanted = TAKEN["turn" if self.check is None else takes(self.check)]
        if self.radius == "zero":  # which is at no station
            wanted = wanted - {"station_deg"}
        self._refuse_misplaced(wanted)
        if given == {"angle_deg"} and wanted >= given:
            raise ValueError(
                "angle_deg needs value_mm with it, what the dial shows there (low_mm and high_mm, what the "
                "needle showed since the stop before, may be added)"
            )
        if given != wanted:
            what = f"check {self.check}" if self.check else "a record without check"
            raise ValueError(
                f"{what} takes {', '.join(sorted(wanted))}, found {', '.join(sorted(given)) or 'none'}"
            )
        return self

    def _refuse_misplaced(self, wanted: set[str]) -> None:
        if "angle_deg" not in wanted and (self.low_mm is not None or self.high_mm is not None):
            raise ValueError("low_mm and high_mm only with a dial's reading at an angle_deg")
        if wanted == {"items"} and self.replace:
            raise ValueError("replace only with a typed reading: items recorded again count as last seen")
        first: dict[str, SeenItem] = {}
        for one in self.items or ():
            before = first.setdefault(one.item, one)
            if before.seen != one.seen:
                text = f"{one.item} is {before.seen} and {one.seen} in one message"
                raise ValueError(f"{text}; record each item once")
            if (before.time_min, before.temperature_c) != (one.time_min, one.temperature_c):
                raise ValueError(f"{one.item} has two figures in one message; record each item once")


class Time(Of):
    """A dwell of an item that asks its time begins now; stop: it ends now. `record` of the item then needs no
    time_min."""

    check: ObservedName
    item: Text
    stop: Flag = False


class Photo(Of):
    """A picture of an item. file: its name in the bay's folder of photos, where it lies already."""

    check: ObservedName
    item: Text
    file: Annotated[str, Field(strict=True, pattern=PHOTO_FILE)]
    note: Note = ""


class Close(Command):
    """Nothing more will be measured."""

    inspection: Id


class Sign(Command):
    """A qualified person stands by a closed inspection. sure: also by one that does not end in keep.

    decision: the signer's own, where it is not the verdict; remark: why, needed there.
    """

    inspection: Id
    name: Text
    decision: Decision | None = None
    remark: Note = ""
    sure: Flag = False


class Correct(Command):
    """Put right what was written down wrong of a signed inspection: a new revision, and the one before stays.

    name, why: who stands by it, and the reason. Of the rest what is to be another; remark: what is added.
    """

    inspection: Id
    name: Text
    why: Text
    engine: Text | None = None
    damper: Text | None = None
    construction: Construction | None = None
    distance_km: Annotated[Number, Field(ge=0, le=100_000_000)] | None = None
    hours_h: Annotated[Number, Field(ge=0, le=10_000_000)] | None = None
    work_order: Text | None = None
    remark: Note = ""


class Abandon(Command):
    """Give an inspection up; it stays on record.

    sure: also one that was closed with `replace` or `measure-again`, which stands all the same.
    """

    inspection: Id
    sure: Flag = False


class Resend(Command):
    """Publish again every result from `since` on."""

    since: Instant


COMMANDS: dict[str, type[Command]] = {
    "open": Open, "begin": Begin, "mark": Mark, "zero": Zero, "end": End, "cancel": Cancel, "record": Record,
    "time": Time, "photo": Photo,
    "close": Close, "sign": Sign, "correct": Correct, "abandon": Abandon, "resend": Resend,
}  # fmt: skip


class RefusalPart(Message):
    """Why a request was refused: `code` is one of `CODES`, `message` says what to do."""

    code: str
    message: str


class ReplyMessage(Message):
    """The answer to one request. Further keys say what came of it, by command."""

    model_config = ConfigDict(extra="allow", frozen=True)
    id: str | None
    ok: bool
    error: RefusalPart | None = None
    asked: str | None = None
