"""Bad lines without end: each kind of framing survives them."""

from __future__ import annotations

import pytest

from config.profile import Framing
from tests.drivers.fuzz import bound, fuzzed
from tests.drivers.test_drivers_framings import KINDS

A_FEW, MANY = 60_000, 10_000_000
every = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS.keys())


def survives(kind: Framing, least: int) -> None:
    told = fuzzed(kind, least, seed=1)
    assert told.passed > told.sent / 200, "something is read among it"
    assert told.largest_kept <= bound(kind)
    assert told.late == 0
    if told.may:
        assert told.never_sent <= told.may


@every
def test_it_survives_a_spell_of_fuzz(kind: Framing) -> None:
    survives(kind, A_FEW)


@pytest.mark.heavy
@every
def test_it_survives_ten_million_bytes_of_fuzz(kind: Framing) -> None:
    survives(kind, MANY)
