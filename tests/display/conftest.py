"""Passwords' hashes that cost little: their making takes a fifth of a second each, as it should at a bay."""

from __future__ import annotations

import pytest

from display.web import people

_IN_FULL = people.N, people.P


@pytest.fixture(autouse=True)
def _hashes_cost_little(monkeypatch: pytest.MonkeyPatch) -> None:
    """The least that the file of people may say."""
    monkeypatch.setattr(people, "N", 4096)
    monkeypatch.setattr(people, "P", 1)


@pytest.fixture
def hashes_cost_in_full(monkeypatch: pytest.MonkeyPatch, _hashes_cost_little: None) -> None:
    """As at a bay."""
    monkeypatch.setattr(people, "N", _IN_FULL[0])
    monkeypatch.setattr(people, "P", _IN_FULL[1])
