"""The parts of an uncertainty budget that are more than sums of squares (JCGM 100:2008, the GUM)."""

from __future__ import annotations

import math
from collections.abc import Sequence


def resolution_u(step: float) -> float:
    """Standard uncertainty of one reading whose display has this step (JCGM 100:2008, F.2.2.1)."""
    return step / math.sqrt(12.0)


def effective_dof(u: float, contributions: Sequence[float], dof: Sequence[float]) -> float:
    """Welch-Satterthwaite: u^4 over the sum of u_i^4 / nu_i (JCGM 100:2008, G.2b).

    contributions, dof: one per input, in the unit of u and positive or infinite. Infinite where
    nothing with finite degrees of freedom contributes.
    """
    below = math.fsum(part**4 / nu for part, nu in zip(contributions, dof, strict=True) if math.isfinite(nu))
    return u**4 / below if below > 0.0 else math.inf
