"""What a method says of the programme: when the next inspection is told, what brings it forward, and which
damper suits which engine."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from config.table import Days, Limit, Name, Positive, Table, Text
from config.toml import Mistake
from contract.terms import Construction, Family

# More than any engine lasts is another unit: metres, minutes, days.
Distance = Annotated[float, Field(strict=True, gt=0.0, le=10_000_000.0, allow_inf_nan=False)]
Hours = Annotated[float, Field(strict=True, gt=0.0, le=100_000.0, allow_inf_nan=False)]
Months = Annotated[int, Field(strict=True, ge=1, le=240)]


class Intervals(Table):
    """When the next inspection is due: whichever comes first; leave out what does not apply."""

    distance_km: Distance | None = None
    """After so many kilometres."""
    hours_h: Hours | None = None
    """After so many engine hours."""
    months: Months | None = None
    """After so many months."""
    valve_set_distance_km: Distance | None = None
    """Valves are set each time the odometer has come on by so much: `due` names the valve set with which an
    inspection falls together."""
    valve_set_hours_h: Hours | None = None
    """The same by the hour meter."""

    @model_validator(mode="after")
    def _one_at_least(self) -> Self:
        if self.distance_km is None and self.hours_h is None and self.months is None:
            raise ValueError("at least one of distance_km, hours_h and months is needed")
        return self


class Trigger(Table):
    """An event after which an engine is due at once, until an inspection has followed."""

    id: Name
    """Its name in `register event`."""
    text: Text
    """What happened, as people read it."""


class Programme(Table):
    """When an inspection is told of, and what brings it forward."""

    soon_days: Days = 30
    """Due soon: its day is no further off."""
    soon_share: Annotated[float, Field(strict=True, ge=0.0, lt=1.0)] = 0.1
    """Or no more than this of its interval is left."""
    rate_days: Days = 365
    """How far back readings of a counter say how fast it runs; further where there are not two."""
    trigger: tuple[Trigger, ...] = Field(default=(), max_length=24)
    """What makes an engine due at once."""

    @model_validator(mode="after")
    def _ids_differ(self) -> Self:
        ids = [trigger.id for trigger in self.trigger]
        if len(ids) != len(set(ids)):
            raise ValueError("every trigger needs an id of its own")
        return self


class RatingRange(Table):
    """The ratings of engines that one construction suits; leave out what does not bound it."""

    least_kw: Positive | None = None
    """From this rating on."""
    most_kw: Positive | None = None
    """Up to this rating."""

    @model_validator(mode="after")
    def _bounds_do_not_cross(self) -> Self:
        if self.least_kw is None and self.most_kw is None:
            raise ValueError("one of least_kw and most_kw at least is needed")
        if self.least_kw is not None and self.most_kw is not None and self.least_kw > self.most_kw:
            raise ValueError("least_kw must not be above most_kw")
        return self


class DamperLimits(Table):
    """Limits of one kind of damper, in place of the method's own: rubber and viscous ones differ tenfold."""

    family: Family | None = None
    """Of which family; left out: of each."""
    construction: Construction | None = None
    """Of which construction, by its visible edge; left out: of each."""
    rim_mm: Limit | None = None
    """Total movement of the rim in one full turn; left out: as of the others."""
    face_mm: Limit | None = None
    """Total movement of the face."""
    thickness_mm: Limit | None = None
    """Largest spread of the thickness."""

    @model_validator(mode="after")
    def _says_of_what(self) -> Self:
        if self.family is None and self.construction is None:
            raise ValueError("family or construction is needed: which dampers these limits are of")
        if self.rim_mm is None and self.face_mm is None and self.thickness_mm is None:
            raise ValueError("one of rim_mm, face_mm and thickness_mm at least is needed")
        return self

    def fits(self, family: str | None, construction: str | None) -> bool:
        """Whether it is of such a damper; of what is not known (None) it may be."""
        return (self.family is None or family in (None, self.family)) and (
            self.construction is None or construction in (None, self.construction)
        )


def hidden_limits(raw: object) -> list[Mistake]:
    """Of a method's `[[damper]]` as they stand: limits that never hold, as those of more kinds stand before
    them."""
    kinds = [one for one in raw if isinstance(one, dict)] if isinstance(raw, list) else []
    return [
        Mistake(
            ("damper", n),
            f"what [[damper]] {m + 1} holds for already",
            "it to stand before that one: the first that fits holds",
        )
        for n, one in enumerate(kinds)
        for m, before in enumerate(kinds[:n])
        if all(before.get(key) in (None, one.get(key)) for key in ("family", "construction"))
    ]


class Suitability(Table):
    """Which damper suits which engine, by what is seen of the one and the rating of the other."""

    family: tuple[Family, ...] = Field(default=("viscous",), min_length=1)
    """The dampers that this method is for."""
    construction: dict[Construction, RatingRange] = Field(default_factory=dict)
    """The ratings that each construction suits; one that is not named suits all."""
