"""Whether a damper suits its engine, by the method's word."""

from __future__ import annotations

from config.programme import Suitability
from contract.terms import Construction, Family


def unsuitable(
    rules: Suitability,
    *,
    family: Family | None,
    construction: Construction | None,
    rating_kw: float | None,
) -> str | None:
    """Why a damper does not suit an engine, or why that cannot be told; None where nothing speaks against it.

    family, construction: as seen of the damper. rating_kw: the engine's. None: not known, which is told only
    where the method asks for it.
    """
    if family is not None and family not in rules.family:
        return f"a {family} damper, and the method is for {' or '.join(rules.family)} ones"
    if not rules.construction:
        return None
    if construction is None:
        return "the damper's construction is not on record, and the method asks for it: look at its edge"
    bounds = rules.construction.get(construction)
    if bounds is None:
        return None
    if rating_kw is None:
        return f"the engine's rating is not on record, and the method asks for it of a {construction} edge"
    if bounds.most_kw is not None and rating_kw > bounds.most_kw:
        return (
            f"a {construction} edge suits engines up to {bounds.most_kw:g} kW by the method, and this one "
            f"has {rating_kw:g} kW: look into the engine maker's manual"
        )
    if bounds.least_kw is not None and rating_kw < bounds.least_kw:
        return (
            f"a {construction} edge suits engines from {bounds.least_kw:g} kW on by the method, and this one "
            f"has {rating_kw:g} kW: look into the engine maker's manual"
        )
    return None
