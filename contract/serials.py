"""Serials as people and scanners write them."""

from __future__ import annotations

import unicodedata


def bare(serial: str) -> str:
    """Without what a hand or a scanner changes: capitals, spaces, wide characters. Two that are the same so
    are one thing's."""
    return "".join(unicodedata.normalize("NFKC", serial).split()).casefold()
