"""What to look at next time, in a sentence: by what was missed."""

from __future__ import annotations

from contract.result import SurfaceCheck
from ringtrue.practice import eyes
from ringtrue.practice.diary import Swept

_ITEMS: dict[tuple[str, str], str] = {
    ("visual", "oil"): "oil was on the damper: it hides a leak; find its source, wipe, and look again",
    ("visual", "leak"): "silicone was below the joint: clear, stringy, without smell; oil is none of that",
    ("visual", "dents"): "the rim had a dent: run a finger all round it, and look along the light",
    ("visual", "bolts"): "bolts were loose: try each by hand before anything is measured",
    ("visual-bench", "faces"): "a face was bad: hold a light almost flat to it",
    ("penetrant", "cleaned"): "paint and dirt hide cracks from penetrant: wipe first",
    ("penetrant", "penetrant-dwell"): "the penetrant had not its full time: too short shows nothing",
    ("penetrant", "developer-dwell"): "the developer had not its full time before the look",
    ("warm-leak", "temperature"): "the damper had not the temperature that the test asks for",
    ("warm-leak", "soak"): "the soak was short: what leaks when it is hot needs its time",
}


def missed_item(check: str, item: str, *, was_shown: bool) -> str:
    """A bad item that was not recorded as one, though it showed, or because it did not."""
    if was_shown:
        return f"{check}: {item} was to be seen: {eyes.told(check, item, amiss=True)}"
    if (check, item) in _ITEMS:
        return f"{check}: {_ITEMS[check, item]}"
    return {
        "visual-bench": f"visual-bench: {item} was bad, to be seen by a slow look under good light",
        "penetrant": f"penetrant: {item} was cracked: bare, full dwell, developer, and then look there",
        "warm-leak": f"warm-leak: {item} leaked when hot: warm it, give it its time, and look there",
    }.get(check, f"{check}: {item} was bad")


def wrongly_bad(check: str, item: str) -> str:
    """A sound item that was recorded as bad."""
    return f"{check}: {item} was recorded as bad and was sound: look again before you condemn"


def surface(name: str, swept: Swept, check: SurfaceCheck, float_mm: float) -> str | None:
    """Why a surface measured as it did, where something was amiss with how it was measured."""
    if swept.slipped_deg is not None:
        closure = "" if check.closure_mm is None else f" ({check.closure_mm:+.3f} mm)"
        return (
            f"{name}: the base slipped at {swept.slipped_deg:.0f}°: that the turn did not close{closure} "
            "tells it; look base, and set it anew on bare iron"
        )
    if not swept.is_touching:
        return (
            f"{name}: the plunger did not touch the {name} all the way round: readings that stand still tell "
            "it; look dial before the sweep, and set it anew"
        )
    if name == "face" and not swept.is_held:
        steps = "" if not check.end_float_steps else f" in {check.end_float_steps} jumps"
        return (
            f"face: the crank was not held and moved in its end float of {float_mm:.2f} mm{steps}: hold it "
            "to one end all the way round"
        )
    return None


def over(name: str, true_mm: float, limit_mm: float, outcome: str) -> str:
    """A figure over its limit that was not found to be."""
    return f"{name}: true {true_mm:.3f} mm is over {limit_mm:g} mm, and was recorded as {outcome}"


LOOSE = "the damper hung on loose bolts: look bolts, tighten, and measure anew"
DIRTY = "dirt lay between the mounting faces: an over is no condemnation before they are cleaned"
CONDEMNED = "the damper was condemned by its run-out before the mounting was cleaned and tightened"
