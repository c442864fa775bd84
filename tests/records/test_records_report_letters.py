from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.report.letters import known_letters, visible


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("R. Example ± 0.004°", "R. Example ± 0.004°"),
        ("Ζωή карьер ünï ß ‘–’ …", "Ζωή карьер ünï ß ‘–’ …"),
        ("漢", "[U+6F22]"),
        ("\U0001f69a", "[U+1F69A]"),
        ("a\u202eb", "a[U+202E]b"),
        ("one\r\ntwo\x00", "one  two[U+0000]"),
        ("\ue000", "[U+E000]"),
    ],
)
def test_every_letter_is_seen_or_its_number_is(text: str, shown: str) -> None:
    assert visible(text, known_letters()) == shown


@given(st.text())
def test_nothing_vanishes_and_nothing_unknown_stays(text: str) -> None:
    shown = visible(text, known_letters())
    assert len(shown) >= len(text)
    assert set(shown) <= known_letters()
    assert visible(text).isprintable() or set("\u200c\u200d") & set(text)
