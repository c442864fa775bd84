"""What an inspection is of: said once, when it is opened, and carried whole into journal and result."""

from __future__ import annotations

from typing import Annotated, get_args

from pydantic import BaseModel, ConfigDict, Field

from contract.terms import Construction, Family, Scope

Finite = Annotated[float, Field(allow_inf_nan=False)]
EDGES: tuple[Construction, ...] = get_args(Construction)


class Part(BaseModel):
    """A part of the result document: plain data, and a key of a later version is no error."""

    model_config = ConfigDict(extra="ignore", frozen=True, populate_by_name=True)


class EnginePart(Part):
    """The engine, as the technician opened it, with its counters on that day."""

    serial: str
    rating_kw: Finite | None = None
    distance_km: Finite | None = None
    hours_h: Finite | None = None


class DamperPart(Part):
    """The damper. construction: by its visible edge."""

    serial: str
    family: Family | None = None
    construction: str | None = None

    @property
    def edge(self) -> Construction | None:
        """The construction, where it is one that a method can name: inspections of before say it in words of
        their own, which are not known to be any."""
        return {str(one): one for one in EDGES}.get(self.construction or "")


class Header(Part):
    """Where, what and which. opened: RFC 3339, UTC. register_unread: whether the bay had not read its
    register by then, so that rating and kind of damper are only as told."""

    site: str
    bay: str
    scope: Scope
    engine: EnginePart
    damper: DamperPart
    work_order: str | None = None
    opened: str
    register_unread: bool | None = None
