"""What is read, as rows of the tables."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date
from typing import Any

from msgspec.structs import astuple

from contract.chain import ChainBegun
from records.fleet.reading import Document, Record, Refused, Told, pack

Row = dict[str, Any]
Values = tuple[Any, ...]
"""Of a row, in the order of the columns; of several that stand together a tuple."""
Columns = Sequence[str | tuple[str, ...]]
"""By their names. Those that stand together come again together."""
ONCE = frozenset(("sha256", "document_sha256"))
"""Of which hardly any value comes again."""
_REVISION = "site", "bay", "inspection", "revision"
REVISIONS: Columns = _REVISION, "sha256", "month"
RESULTS: Columns = (
    _REVISION, "month", "opened", "closed", ("state", "verdict"), "engine", "damper",
    ("method_id", "method_version", "method_sha256", "software"), "document", "checks", "outcomes", "gauges",
    ("limits_mm",), "tirs_mm", "trues_mm", "us_mm", "ps_over", "decision",
)  # fmt: skip
CHAIN: Columns = (
    ("site", "bay", "chain"), "place", "sha256", "inspection", "revision", "document_sha256",
    ("later", "after_chain", "after_size", "after_root"), "time", "record",
)  # fmt: skip
TOPIC_MAX_BYTES = 1500
"""Of a topic that is kept: no index of PostgreSQL's takes more than 2700 bytes of a row."""


def revision_row(one: Document, month: date) -> Values:
    """Of `REVISIONS`."""
    return one.key, one.sha256, month


def result_row(one: Document, month: date) -> Values:
    """Of `RESULTS`."""
    said = one.said
    method, checks = said.method, said.checks
    # A check's figures in the order in which it has them; of all checks at once from C.
    outcomes, limits, tirs, spreads, trues, true_spreads, us, ps, gauges = (
        zip(*map(astuple, checks.values()), strict=True) if checks else _NO_CHECKS
    )
    return (
        one.key, month, said.opened, said.closed, (said.state, said.verdict),
        said.engine.serial, said.damper.serial, (method.id, method.version, method.sha256, said.software),
        one.packed, tuple(checks), outcomes, tuple([gauge and gauge.id for gauge in gauges]),
        (limits,), _either(tirs, spreads), _either(trues, true_spreads), us, ps, said.decision,
    )  # fmt: skip


_NO_CHECKS = ((),) * 9


def _either(figures: Values, others: Values) -> Values:
    """Of each check the one that it has: one of run-out has no spread."""
    return tuple([other if one is None else one for one, other in zip(figures, others, strict=True)])


def chain_row(one: Record) -> Values:
    """Of `CHAIN`."""
    said = one.said
    if isinstance(said, ChainBegun):
        after = said.after
        came_after = (None, after.chain, after.size, after.root) if after else (None,) * 4
        return one.chain, said.index, one.sha256, None, None, None, came_after, said.time, one.payload
    return (
        one.chain, said.index, one.sha256, said.inspection, said.revision, said.document_sha256,
        (said.later, None, None, None), said.time, one.payload,
    )  # fmt: skip


def checkpoint_row(one: Told) -> Row:
    """Of `fleet_checkpoints`."""
    site, bay, chain = one.chain
    return {
        "site": site, "bay": bay, "chain": chain, "size": one.said.size, "root": one.said.root,
        "message": one.payload,
    }  # fmt: skip


def refused_row(one: Refused) -> Row:
    """Of `fleet_refused`. What it says of itself may be no text that a database takes."""
    why = one.why.replace("\0", "\\0").encode(errors="replace").decode()
    return {
        "sha256": hashlib.sha256(one.payload).hexdigest(), "topic": _cut(one.topic), "reason": one.reason,
        "why": why, "payload": pack(one.payload),
    }  # fmt: skip


def _cut(topic: str) -> str:
    """A broker takes topics of 65 000 bytes: of such ones the beginning, and a hash for the rest."""
    whole = topic.replace("\0", "\\0").encode(errors="replace")
    if len(whole) <= TOPIC_MAX_BYTES:
        return whole.decode()
    return whole[: TOPIC_MAX_BYTES - 100].decode(errors="ignore") + f"… {hashlib.sha256(whole).hexdigest()}"
