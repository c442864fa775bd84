"""Whether a gauge comes near an end of its travel, where it would show less than the surface moves. Pure."""

from __future__ import annotations

from contract.units import NM_PER_MM

# Share of the travel beyond which an end may be near; our own choice, no source.
NEAR_SHARE = 0.9


def travel_warning(travel_nm: int | None, low_nm: int, high_nm: int) -> str | None:
    """What to do where an end may be near; None where it is not, or the travel is not stated.

    low_nm, high_nm: of the readings since the sweep began. Zero may be anywhere, but an indicator is set
    to zero somewhere within its travel: what it has moved through reaches from the lowest of zero and all
    readings to the highest. A gauge that reads more than its travel has its zero elsewhere: then only the
    readings count.
    """
    if travel_nm is None:
        return None
    if max(abs(low_nm), abs(high_nm)) <= travel_nm:
        low_nm, high_nm = min(low_nm, 0), max(high_nm, 0)
    moved = high_nm - low_nm
    if moved < NEAR_SHARE * travel_nm:
        return None
    used = f"{moved / NM_PER_MM:.2f} of the {travel_nm / NM_PER_MM:g} mm of travel"
    return (
        f"{used} are used, its end may be near: "
        "cancel, set the indicator to the middle of its travel and begin again"
    )
