"""What to do at each step, in plain words: keys of the catalogue, said when they are shown.

Common practice, no source, where the method's texts say nothing. The method and the engine maker's
manual come first: nothing here is a limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from display.words import Text

NAMES: Mapping[str, Text] = MappingProxyType(
    {
        "suitability": Text("does it belong here"),
        "visual": Text("look on the engine"),
        "rim": Text("rim run-out"),
        "face": Text("face wobble"),
        "visual-bench": Text("look on the bench"),
        "thickness": Text("thickness"),
        "penetrant": Text("penetrant test"),
        "warm-leak": Text("warm leak test"),
        "lifts": Text("repeatability of the gauge"),
    }
)
"""A check as a heading has it."""

SET_UP: Mapping[str, tuple[Text, ...]] = MappingProxyType(
    {
        "rim": (
            Text("Clean the rim where the plunger will run."),
            Text(
                "Set the indicator up off a rigid part of the engine, radially to the rim, its plunger in "
                "mid-travel, and set it to zero."
            ),
            Text("Bring the timing mark under the pointer: there is 0 degrees."),
            Text("Once it is begun: bar by hand, evenly and one way, one full turn and a bit more."),
        ),
        "face": (
            Text(
                "Seat the indicator anew: square to the front face, near its edge, the plunger in "
                "mid-travel, and set it to zero."
            ),
            Text(
                "Lever the crankshaft to one end of its float and hold it there all the way round: the float "
                "would read as wobble."
            ),
            Text("Bring the timing mark under the pointer: there is 0 degrees."),
            Text("Once it is begun: bar by hand, evenly and one way, one full turn and a bit more."),
        ),
        "thickness": (
            Text("Take the paint off where the anvils will sit, and clean the places."),
            Text(
                "Measure one place after the other, as the screen asks: square to the face, the same feel "
                "each time."
            ),
        ),
        "lifts": (
            Text(
                "Nothing is barred: the crank stands. The plunger is lifted and let back three times, as the "
                "screen asks."
            ),
            Text("What it comes to goes into the uncertainty of this inspection."),
        ),
        "visual": (Text("Wipe off what hides the damper, with the light close. Oil is not silicone."),),
        "visual-bench": (Text("Clean the damper, and look at it all round under a good light."),),
        "penetrant": (
            Text("In this order: clean, penetrant on, dwell, take it off, developer on, dwell, look."),
        ),
        "warm-leak": (Text("Joint face down on a clean sheet, warmed slowly and evenly, then soaked."),),
    }
)
"""How a check begins."""

TWO_TURNS = Text("Once it is begun: bar by hand, evenly and one way, two full turns and a bit more.")
OPPOSITE = Text(
    "{other} stands half a turn away on the face, on the same radius, its plunger in mid-travel, and counts "
    "up as it goes in: then end float is told from the face."
)

ITEMS: Mapping[tuple[str, str], Text] = MappingProxyType(
    {
        ("penetrant", "cleaned"): Text("Clean the places down to bare metal, and let them dry."),
        ("penetrant", "temperature"): Text("Measure how warm the part is."),
        ("penetrant", "penetrant-dwell"): Text("Put the penetrant on, all over, and keep it wet."),
        ("penetrant", "developer-dwell"): (
            Text("Take the penetrant off as its maker says, let it dry, then put the developer on thinly.")
        ),
        ("penetrant", "flange"): Text("Look for lines and spots that bleed through the developer."),
        ("warm-leak", "temperature"): Text("Warm it, and measure it on the casing."),
        ("warm-leak", "soak"): Text("Hold it warm, joint face down."),
        ("warm-leak", "joint"): Text("Look at the sheet and at the damper for silicone."),
    }
)
"""What is done before an item is looked at, where it is one of the usual ones."""

TYPED_TURN = Text(
    "Stop at a place and type what the dial shows: eight places of a turn at least, the first again at 360."
)
DEAF = Text("Stop barring: a gauge is not heard. Keep hands away until nobody bars, then put it right.")
MARKED = Text("Bar on until the mark stands under the pointer, stop, and press at once.")
DWELLED = Text(
    "Press when the turn begins and when it ends, while the crank stands. Between, stop at each mark for "
    "some seconds longer than a hand rests."
)
STOP = Text("the one at {at}, {lasted} long")
STOPS = Text(
    "Minutes and seconds count from the first press. Where you do not know it either, measure again and "
    "press at each mark."
)
TURNED = Text("Was the crank turned to the mark meanwhile? If not, it was pressed twice: say no.")
AT_ZERO = Text("the crank stands at the timing mark")
NOT_ZEROED = Text("The timing mark is not told yet: angles count from the encoder's own 0.")
UNMARKED = Text(
    "The bay was started anew and does not know where the crank stands: type the angle of this mark."
)

NEXT: Mapping[str, Text] = MappingProxyType(
    {
        "within": Text("Go on."),
        "good": Text("Go on."),
        "over": Text(
            "Dirt, a burr, a loose bolt or the mounting read like a bad damper: look for them first."
        ),
        "bad": Text("What was found bad condemns the damper, unless it was seen wrongly: then look again."),
        "unclear": Text("It is not settled: mend what the reason names, and measure again."),
        "invalid": Text("It does not count: mend what the reason names, and do it again."),
        "missing": Text("It is not done yet."),
    }
)
"""What is to be done next, by outcome."""

UNSUITED = Text(
    "Nothing to be measured: it stands in the register, or is told when an inspection is opened (made how, "
    "kind, kW)."
)

VERDICTS: Mapping[str, Text] = MappingProxyType(
    {
        "keep": Text("KEEP: the damper may stay on"),
        "replace": Text("REPLACE the damper"),
        "measure-again": Text("MEASURE AGAIN: it is not settled"),
        "incomplete": Text("INCOMPLETE: something was not done"),
    }
)
"""A verdict, said once and plainly."""
