"""What a record comes to as a table: one row for each check of each inspection."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any, Literal, NamedTuple

from records.errors import RecordRefusedError
from records.store import columns_of

Kind = Literal["text", "number", "count", "moment"]
"""count: a whole number; moment: RFC 3339, UTC."""


class Column(NamedTuple):
    """path: where the cell stands, in the document or, of a check's column, in the check."""

    name: str
    path: tuple[str, ...]
    kind: Kind = "text"


INSPECTION = (
    Column("inspection", ("inspection",)),
    Column("revision", ("revision",), "count"),
    Column("state", ("state",)),
    Column("site", ("site",)),
    Column("bay", ("bay",)),
    Column("scope", ("scope",)),
    Column("work_order", ("work_order",)),
    Column("engine", ("engine", "serial")),
    Column("distance_km", ("engine", "distance_km"), "number"),
    Column("hours_h", ("engine", "hours_h"), "number"),
    Column("damper", ("damper", "serial")),
    Column("construction", ("damper", "construction")),
    Column("opened", ("opened",), "moment"),
    Column("closed", ("closed",), "moment"),
    Column("signed_by", ("signed_by",)),
    Column("method", ("method", "id")),
    Column("method_version", ("method", "version")),
    Column("verdict", ("verdict",)),
)
CHECK = (
    Column("outcome", ("outcome",)),
    *(
        Column(name, (name,), "number")
        for name in (
            "limit_mm",
            "tir_mm",
            "true_tir_mm",
            "spread_mm",
            "true_spread_mm",
            "u_expanded_mm",
            "coverage",
            "p_over",
            "eccentricity_mm",
            "high_spot_deg",
            "tilt_mrad",
        )
    ),
    Column("readings", ("readings",), "count"),
    Column("gauge", ("gauge", "id")),
    Column("reason", ("reason",)),
)
NOTED = (Column("decision", ("decision",)), Column("warnings", ("warnings",)))
"""The signer's own decision, where it is not the verdict; and of the check what speaks against it. They came
later, so they stand last."""
COLUMNS = (*INSPECTION, Column("check", ()), *CHECK, *NOTED)
"""From left to right."""


def rows(documents: Iterable[bytes]) -> Iterator[list[Any]]:
    """One row for each check of each document, as COLUMNS says; None where a document has no such thing.
    Lengths in mm. Raises RecordRefusedError where a document is none: a table with a hole would mislead."""
    for document in documents:
        named = columns_of(document)["inspection"]
        result: dict[str, Any] = json.loads(document)
        checks = result.get("checks", {})
        if not isinstance(checks, dict):
            raise RecordRefusedError(f"records: the checks of inspection {named} cannot be read")
        head = [_at(result, column.path) for column in INSPECTION]
        decision, warnings = NOTED
        for name, check in checks.items():
            noted = [_at(result, decision.path), _joined(_at(check, warnings.path))]
            yield [*head, name, *(_at(check, column.path) for column in CHECK), *noted]


def _joined(said: Any) -> str | None:
    return "; ".join(map(str, said)) or None if isinstance(said, list) else None


def _at(part: Any, path: tuple[str, ...]) -> Any:
    """What stands there; None where nothing does."""
    for key in path:
        part = part.get(key) if isinstance(part, dict) else None
    return part
