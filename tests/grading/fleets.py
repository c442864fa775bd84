"""Fleets whose truth is known, as they are read over the services."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from grading.fleet.model import Seen


def fleet(
    rng: np.random.Generator,
    dampers: int,
    offsets_mm: Sequence[float],
    *,
    tau_mm: float = 0.008,
    sigma_mm: float = 0.02,
    u_mm: float = 0.004,
) -> list[Seen]:
    """Each damper read up to five times, each time by any of the readers; r0 reads higher by the first
    offset."""
    found = []
    for damper in range(dampers):
        level, slope = rng.normal(0.12, 0.03), 0.02 + rng.normal(0.0, sigma_mm)
        for service in range(int(rng.integers(1, 6))):
            x, reader = service + rng.uniform(-0.2, 0.2), int(rng.integers(0, len(offsets_mm)))
            error = rng.normal(0.0, np.hypot(tau_mm, u_mm))
            y = level + slope * x + offsets_mm[reader] + error
            found.append(Seen(f"d{damper}", f"r{reader}", x, float(y), u_mm))
    return found
