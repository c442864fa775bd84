"""What is read, as rows of the tables."""

from __future__ import annotations

import hashlib
from datetime import date
from typing import Any

from contract.chain import ChainBegun
from records.fleet.reading import Document, Record, Refused, Told, pack

Row = dict[str, Any]
TOPIC_MAX_BYTES = 1500
"""Of a topic that is kept: no index of PostgreSQL's takes more than 2700 bytes of a row."""


def revision_row(one: Document, month: date) -> Row:
    """Of `fleet_revisions`."""
    site, bay, inspection, revision = one.key
    return {
        "site": site, "bay": bay, "inspection": inspection, "revision": revision, "sha256": one.sha256,
        "month": month,
    }  # fmt: skip


def result_row(one: Document, month: date) -> Row:
    """Of `fleet_results`."""
    site, bay, inspection, revision = one.key
    said = one.said
    checks = said.checks.values()
    return {
        "site": site, "bay": bay, "inspection": inspection, "revision": revision, "month": month,
        "opened": said.opened, "closed": said.closed, "state": said.state,
        "verdict": said.verdict, "engine": said.engine.serial, "damper": said.damper.serial,
        "method_id": said.method.id, "method_version": said.method.version,
        "method_sha256": said.method.sha256, "software": said.software, "document": one.packed,
        "checks": [*said.checks],
        "gauges": [check.gauge and check.gauge.id for check in checks],
        "outcomes": [check.outcome for check in checks],
        "limits_mm": [check.limit_mm for check in checks],
        "tirs_mm": [check.spread_mm if check.tir_mm is None else check.tir_mm for check in checks],
        "trues_mm": [
            check.true_spread_mm if check.true_tir_mm is None else check.true_tir_mm for check in checks
        ],
        "us_mm": [check.u_expanded_mm for check in checks],
        "ps_over": [check.p_over for check in checks],
        "decision": said.decision,
    }  # fmt: skip


def chain_row(one: Record) -> Row:
    """Of `fleet_chain`."""
    said = one.said
    site, bay, chain = one.chain
    result = None if isinstance(said, ChainBegun) else said
    after = said.after if isinstance(said, ChainBegun) else None
    return {
        "site": site, "bay": bay, "chain": chain, "place": said.index, "sha256": one.sha256,
        "inspection": result and result.inspection, "revision": result and result.revision,
        "document_sha256": result and result.document_sha256, "later": result and result.later,
        "after_chain": after and after.chain, "after_size": after and after.size,
        "after_root": after and after.root, "time": said.time, "record": one.payload,
    }  # fmt: skip


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
