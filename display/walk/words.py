"""What to do at each step, in plain words. Common practice, no source, where the method's texts say nothing.

The method and the engine maker's manual come first: nothing here is a limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

NAMES: Mapping[str, str] = MappingProxyType(
    {
        "suitability": "does it belong here",
        "visual": "look on the engine",
        "rim": "rim run-out",
        "face": "face wobble",
        "visual-bench": "look on the bench",
        "thickness": "thickness",
        "penetrant": "penetrant test",
        "warm-leak": "warm leak test",
        "lifts": "repeatability of the gauge",
    }
)
"""A check as a heading has it."""

SET_UP: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "rim": (
            "Clean the rim where the plunger will run.",
            "Set the indicator up off a rigid part of the engine, radially to the rim, its plunger in "
            "mid-travel.",
            "Bring the timing mark under the pointer: there is 0 degrees.",
            "Once it is begun: bar by hand, evenly and one way, one full turn and a bit more.",
        ),
        "face": (
            "Set the indicator square to the front face, near its edge, the plunger in mid-travel.",
            "Lever the crankshaft to one end of its float and hold it there all the way round: the float "
            "would read as wobble.",
            "Bring the timing mark under the pointer: there is 0 degrees.",
            "Once it is begun: bar by hand, evenly and one way, one full turn and a bit more.",
        ),
        "thickness": (
            "Take the paint off where the anvils will sit, and clean the places.",
            "Measure one place after the other, as the screen asks: square to the face, the same feel each "
            "time.",
        ),
        "lifts": (
            "Nothing is barred: the crank stands. The plunger is lifted and let back three times, as the "
            "screen asks.",
            "What it comes to goes into the uncertainty of this inspection.",
        ),
        "visual": ("Wipe off what hides the damper, with the light close. Oil is not silicone.",),
        "visual-bench": ("Clean the damper, and look at it all round under a good light.",),
        "penetrant": ("In this order: clean, penetrant on, dwell, take it off, developer on, dwell, look.",),
        "warm-leak": ("Joint face down on a clean sheet, warmed slowly and evenly, then soaked.",),
    }
)
"""How a check begins."""

ITEMS: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("penetrant", "cleaned"): "Clean the places down to bare metal, and let them dry.",
        ("penetrant", "temperature"): "Measure how warm the part is.",
        ("penetrant", "penetrant-dwell"): "Put the penetrant on, all over, and keep it wet.",
        ("penetrant", "developer-dwell"): (
            "Take the penetrant off as its maker says, let it dry, then put the developer on thinly."
        ),
        ("penetrant", "flange"): "Look for lines and spots that bleed through the developer.",
        ("warm-leak", "temperature"): "Warm it, and measure it on the casing.",
        ("warm-leak", "soak"): "Hold it warm, joint face down.",
        ("warm-leak", "joint"): "Look at the sheet and at the damper for silicone.",
    }
)
"""What is done before an item is looked at, where it is one of the usual ones."""

TYPED_TURN = (
    "Stop at a place and type what the dial shows: eight places of a turn at least, the first again at 360."
)
MARKED = "Bar on until the mark stands under the pointer, stop, and press at once."
UNMARKED = "The bay was started anew and does not know where the crank stands: type the angle of this mark."

NEXT: Mapping[str, str] = MappingProxyType(
    {
        "within": "Go on.",
        "good": "Go on.",
        "over": "Dirt, a burr, a loose bolt or the mounting read like a bad damper: look for them first.",
        "bad": "What was found bad condemns the damper, unless it was seen wrongly: then look again.",
        "unclear": (
            "Too near the limit to call, or the sweeps disagree: measure again, or with a better gauge."
        ),
        "invalid": "It does not count: mend what the reason names, and do it again.",
        "missing": "It is not done yet.",
    }
)
"""What is to be done next, by outcome."""

UNSUITED = (
    "Nothing to be measured: it stands in the register, or is told when an inspection is opened (made how, "
    "kind, kW)."
)
ZERO = "Close the micrometer, or put it on its setting standard"

VERDICTS: Mapping[str, str] = MappingProxyType(
    {
        "keep": "KEEP: the damper may stay on",
        "replace": "REPLACE the damper",
        "measure-again": "MEASURE AGAIN: it is not settled",
        "incomplete": "INCOMPLETE: something was not done",
    }
)
"""A verdict, said once and plainly."""
