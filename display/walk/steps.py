"""What is done next about a check that is `unclear` or `invalid`: by what its reason says, as `told` reads.

Common practice, no source. A reason that is not known here has the general step of its outcome.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from display.told import causes
from display.walk.words import NEXT
from display.words import Text

_FREE = Text("See that the plunger moves freely and stands in mid-travel, then measure again.")
_PAST = Text(
    "Set the indicator to mid-travel, measure again, and bar past the highest and the lowest place without a "
    "stop."
)
_ON = Text(
    "See that the plunger moves freely, measure again, and bar past the place that the reason names without "
    "a stop."
)
_FLOAT = Text(
    "Hold the crankshaft to one end of its float all the way round, see that the base is fast, and measure "
    "again."
)
_BASE = Text("Fasten the base, bar slowly over the place that the reason names, and measure again.")
_PLACE = Text("Look at the place that the reason names and clean it, then measure again.")
_MARKS = Text("Check the marks, or the encoder's counts per turn and gear ratio; then measure two turns.")
_ANGLES = Text("Check the encoder's coupling, its cable and its counts per turn, then measure again.")
_CABLE = Text("Check cable, contact and base, then measure again.")
_WHOLE = Text("Measure again: bar slowly, one full turn and a bit more, past every place.")
_SAME = Text("Check base, contact and that it is the same damper; then measure again until enough agree.")
_THAT = Text("Measure again with the gauge that was over.")
_OPPOSITE = Text("Set both indicators to one radius, half a turn apart, then measure again.")
_MORE = Text("Measure again: more of the same should settle it.")
_BETTER = Text("Repeating it will not settle it: measure with a better gauge.")
_READ = Text("Clean the places that the reason names, and read them again.")
_ALL = Text("Clean casing and micrometer, set its zero, and read every place again.")
_ONCE_MORE = Text("Read every place once more, so that it is seen how well a reading repeats.")
_PRESS = Text("Take the sweep again, and press at each mark.")
_KEEP_ON = Text("Keep the gauge from switching itself off, then measure again.")
_ITEMS = Text("Put right what was not as the method asks, then do the whole check again.")

_CAUSES: Mapping[Text, tuple[str, ...]] = {
    _FREE: (
        "the readings stand still at {mm} mm from {from} to {to} degrees while the crank turns: the plunger "
        "sticks or has lost contact",
        "the readings stand at {mm} mm from {from} to {to} degrees while the crank turns: the end of the "
        "gauge's travel, or a plunger that sticks",
        "the readings move by {mm} mm only while the crank turns",
        "the readings creep by {mm} mm a turn and do not follow the crank",
        "the readings flicker by {mm} mm and do not follow the crank",
        "by {n} stops a needle that goes with nothing may look so",
    ),
    _PAST: (
        "the readings stood still at {mm} mm, as high or as low as any: the crank stood there, or the "
        "plunger was held or at the end of its travel",
    ),
    _ON: (
        "the readings stand still at {mm} mm from {from} to {to} degrees: the crank stood there, or the "
        "plunger was held or at the end of its travel",
    ),
    _FLOAT: (
        "the level moved by {mm} mm, most of it at {deg} degrees, at most {most} mm may be: the crankshaft "
        "slid along its axis, or the base was knocked",
        "the level jumped by {mm} mm at {deg} degrees and stayed: the crankshaft slid along its axis, or "
        "base or plunger slipped",
        "the level jumped once, by {mm} mm at {deg} degrees: end float, or the surface itself",
        "the level jumped {n} times, by {mm} mm at {deg} degrees: end float, or the surface itself",
    ),
    _BASE: (
        "the level jumped by {mm} mm at {deg} degrees and stayed: base or plunger slipped",
        "the level jumped once, by {mm} mm at {deg} degrees: a knock at the base, or an edge of the surface "
        "itself",
        "the level jumped {n} times, by {mm} mm at {deg} degrees: a knock at the base, or an edge of the "
        "surface itself",
        "the second pass over the start differs by {mm} mm, at most {most} mm are allowed",
    ),
    _PLACE: (
        "on another turn a single reading stands out ({places}): a slip, or a narrow dent that the turn "
        "which is fitted passed over",
        "a single reading stands out ({places}): a slip, or a narrow dent",
        "this reading does not fit all others: {places}",
        "what makes it over is little read, and may be a slip of one reading",
        "these readings do not fit all others: {places}",
    ),
    _MARKS: (
        "what was read is more like half a turn than a whole one",
        "what was read may be half a turn: it is explained nearly as well by one",
        "the turn ends {mm} mm from where it began: marks may lie elsewhere than is told, or the base moved",
        "one turn differs from the next by {mm} mm once around",
        "the second pass over the start runs differently, by {um} um a degree: this may be no whole turn",
    ),
    _ANGLES: (
        "the encoder lost {lost} degrees, give or take {give}, between {from} and {to} degrees, by its "
        "index, at most {most} degrees may be",
    ),
    _CABLE: (
        "the readings scatter by {mm} mm about any surface that turns, at most {most} mm are allowed",
        "1 reading was lost ({share}), at most {most} may be",
        "{n} readings were lost ({share}), at most {most} may be",
        "{n} single readings jump away, at most {most} may be",
        "some readings are no numbers",
    ),
    _WHOLE: (
        "on another turn the readings went up and down by {mm} mm, and by {span} mm on the turn which is "
        "fitted",
        "1 reading, at least {least} are needed",
        "{n} readings, at least {least} are needed",
        "only {deg} degrees were read, a full turn is needed",
        "a gap of {deg} degrees without a reading, at most {most} are allowed",
    ),
    _SAME: ("the sweeps disagree ({figures} mm, more than their noise explains)",),
    _THAT: (
        "sweep {n} with {gauge} is over by itself ({mm} mm), and another gauge does not outvote it",
        "the second indicator, {gauge}, is over by itself ({mm} mm)",
    ),
    _OPPOSITE: (
        "{one} and {other} read {a} and {b} mm of one face",
        "{one} and {other} do not show one tilt: once around, half their difference is {a} mm and half their "
        "sum {b} mm",
        "the level jumped by {mm} mm at {deg} degrees, and the second indicator moved with it but not alike",
        "the level jumped by {mm} mm at {deg} degrees, and the second indicator, {gauge}, does not count, "
        "and end float cannot be told by one: {told}",
    ),
    _MORE: (
        "1 more sweep should tell, if the figure stays where it is",
        "{n} more sweeps should tell, if the figure stays where it is",
        "1 more set should tell, if the figure stays where it is",
        "{n} more sets should tell, if the figure stays where it is",
    ),
    _BETTER: ("more repeats with this gauge will not settle it",),
    _READ: (
        "stands out from the other places and was read once: read again {list}",
        "a reading that was set aside may be over: read again {list}",
        "{told}, {mm} mm, is further than {most} mm from all that its neighbours explain: read it again",
        "{told}: its readings differ by {mm} mm, at most {most} mm are allowed",
        "sets disagree: {told}",
    ),
    _ALL: (
        "no place is thicker than {mm} mm, more than {off} mm below the rim's {rim} mm: check unit, decimal "
        "point and the micrometer's zero, then read all places again",
        "no place is thicker than {mm} mm, as if inches were taken for millimetres: check the unit, or set a "
        "dial to nought on the casing, then read all places again",
        "the micrometer's zero moved by {mm} mm while it was used, at most {most} mm is allowed: clean its "
        "faces and the casing, set it, and read every place again",
        "the key was pressed once more than there are places, and {mm} mm is of none: a place was read twice",
    ),
    _ONCE_MORE: ("read every place once more: how well a reading repeats is only assumed so far",),
    _PRESS: (
        "no stop is seen that can have been at {deg} degrees",
        "there is no stop at {s} s, or no mark at {deg} degrees",
    ),
    _KEEP_ON: (
        "{gauge} came back with another zero, by {mm} mm at {deg} degrees: keep it from switching itself "
        "off, and take the sweep again",
    ),
    _ITEMS: ("not done as the method asks: {what}",),
}
STEPS: Mapping[str, Text] = MappingProxyType(
    {cause: step for step, said in _CAUSES.items() for cause in said}
)
"""By the pattern in told.json; the first of a reason's that has one counts."""


def next_step(outcome: str, reason: str) -> Text:
    """The step of the first cause that has one of its own, else that of the outcome."""
    if outcome not in ("unclear", "invalid"):
        return NEXT[outcome]
    return next((STEPS[cause] for cause in causes(reason) if cause in STEPS), NEXT[outcome])
