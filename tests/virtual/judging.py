"""Grading within a simulated bay: each check once for the same attempts, and for most seeds by a stand-in.

A turn of 50 to 100 readings takes 0.2 s to be graded, and an inspection is graded at every revision: most of
the time would go into grading the same again. What is graded here is a pure function of attempts and method,
so remembering it changes nothing; that it is one is held by grading's own tests, and by grading anew, without
this memory, what the journal of a fully graded seed says in the end.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from unittest.mock import patch

import grading.assess
from config.method import Method
from contract.result import Check, SurfaceCheck
from grading.evidence import Attempt, Sweep
from grading.kinds.byitself import ByItself, Look, fingerprint

# The stand-in's uncertainty, as a share of the limit: enough for all three answers.
STAND_IN_SHARE = 0.1
READINGS_MIN = 8

_judge = grading.assess.judge


@contextmanager
def judged_once(*, fully: bool) -> Iterator[None]:
    """Meanwhile a check with the same attempts is judged once; sweeps by the stand-in unless fully."""
    known: dict[bytes, Check] = {}

    def judge(
        name: str,
        attempts: Sequence[Attempt],
        method: Method,
        *,
        on: date | None = None,
        look: Look = ByItself,
    ) -> Check:
        key = _key(name, attempts, method, on)
        found = known.get(key)
        if found is None:
            if attempts and name in ("rim", "face") and not fully:
                found = _stand_in(name, attempts, method)
            else:
                found = _judge(name, attempts, method, on=on, look=look)
            known[key] = found
        return found

    with patch("grading.assess.judge", judge):
        yield


def _stand_in(name: str, attempts: Sequence[Attempt], method: Method) -> Check:
    """The bare range of the latest sweep against the limit, with what was lost and what interrupted it."""
    sweep, limit_mm = attempts[-1], method.limit_mm(name) or 0.0
    assert isinstance(sweep, Sweep)
    n = int(sweep.value_mm.size)
    tir_mm = float(sweep.value_mm.max() - sweep.value_mm.min()) if n else 0.0
    u_mm = STAND_IN_SHARE * limit_mm
    outcome = "within" if tir_mm + u_mm <= limit_mm else "over" if tir_mm - u_mm > limit_mm else "unclear"
    return SurfaceCheck.model_validate(
        {
            "outcome": outcome if n >= READINGS_MIN and not sweep.lost else "invalid",
            "reason": f"stand-in of {len(attempts)}: {sweep.lost} lost",
            "limit_mm": limit_mm,
            "tir_mm": tir_mm,
            "readings": n,
            "warnings": sweep.interrupted,
        }
    )


def _key(name: str, attempts: Sequence[Attempt], method: Method, on: date | None) -> bytes:
    """Of everything that an attempt says."""
    digest = hashlib.sha256(f"{name} {on}".encode())
    for attempt in attempts:
        if isinstance(attempt, Sweep):
            digest.update(fingerprint(attempt, method.surface(attempt.surface)))
        else:
            digest.update(repr(attempt).encode())
    return digest.digest()
