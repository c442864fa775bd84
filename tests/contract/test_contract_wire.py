"""Times as they go over the wire."""

from __future__ import annotations

from datetime import datetime

import pytest

from contract.wire import rfc3339


@pytest.mark.parametrize(
    ("moment", "told"),
    [
        ("2026-11-26T07:00:00.999999+01:00", "2026-11-26T06:00:00.999Z"),
        ("2026-11-26T06:00:00Z", "2026-11-26T06:00:00.000Z"),
        ("0900-01-01T00:00:00Z", "0900-01-01T00:00:00.000Z"),
        ("0001-01-01T00:00:00Z", "0001-01-01T00:00:00.000Z"),
    ],
)
def test_a_moment_is_told_in_utc_so_that_text_sorts_as_time_does(moment: str, told: str) -> None:
    """RFC 3339, 5.6 and 5.1: four digits of the year, whatever it is."""
    assert rfc3339(datetime.fromisoformat(moment)) == told
