"""Whether a damper suits its engine, by the method's word."""

from __future__ import annotations

from config.programme import Suitability
from contract.result import ObservedCheck


def unsuitable(
    rules: Suitability, *, family: str | None, construction: str | None, rating_kw: float | None
) -> ObservedCheck | None:
    """What speaks against a damper on its engine; None where nothing does.

    family, construction: as seen of the damper. rating_kw: the engine's. None: not known, which is `missing`
    only where the method asks for it. A damper of another family is `invalid`: this method says nothing of
    it; one whose construction is not for that rating is `bad`.
    """
    if family is not None and family not in rules.family:
        said = f"a {family} damper, and the method is for {' or '.join(rules.family)} ones"
        return ObservedCheck(outcome="invalid", reason=said)
    if not rules.construction:
        return None
    if construction is None:
        said = "the damper's construction is not on record, and the method asks for it: look at its edge"
        return ObservedCheck(outcome="missing", reason=said)
    bounds = {str(name): bounds for name, bounds in rules.construction.items()}.get(construction)
    if bounds is None:
        return None
    if rating_kw is None:
        said = f"the engine's rating is not on record, and the method asks for it of a {construction} edge"
        return ObservedCheck(outcome="missing", reason=said)
    if bounds.most_kw is not None and rating_kw > bounds.most_kw:
        suits = f"up to {bounds.most_kw:g}"
    elif bounds.least_kw is not None and rating_kw < bounds.least_kw:
        suits = f"from {bounds.least_kw:g}"
    else:
        return None
    on = " on" if suits.startswith("from") else ""
    said = (
        f"a {construction} edge suits engines {suits} kW{on} by the method, and this one has "
        f"{rating_kw:g} kW: look into the engine maker's manual"
    )
    return ObservedCheck(outcome="bad", reason=said)
