"""Many questions asked at once: chances of error that hold for all of them together."""

from __future__ import annotations

from collections.abc import Sequence


def holm(chances: Sequence[float]) -> tuple[float, ...]:
    """Chances adjusted for their number, in their order (Holm 1979): where those below 0.05 are acted upon,
    one or more of all is so wrongly in at most 5 % of such families, however they depend on each other."""
    order = sorted(range(len(chances)), key=lambda n: chances[n])
    adjusted, most = [0.0] * len(chances), 0.0
    for rank, n in enumerate(order):
        most = max(most, min(1.0, (len(chances) - rank) * chances[n]))
        adjusted[n] = most
    return tuple(adjusted)
