"""What a trainee sees at each item, in words: what there is, never what to call it."""

from __future__ import annotations

from typing import NamedTuple


class Seen(NamedTuple):
    """sound: where nothing is amiss; amiss: where something is."""

    sound: str
    amiss: str


WORDS: dict[tuple[str, str], Seen] = {
    ("visual", "oil"): Seen(
        "No oil on the damper; the crank's seal above it is dry.",
        "Black and wet: engine oil has run down from a weeping cover. It smells of oil, and nothing "
        "beneath it can be seen.",
    ),
    ("visual", "leak"): Seen(
        "Dry along the joint and below; dust lies loose on it.",
        "A clear, stringy film below the joint, with dust baked into it. It has no smell, and the finger "
        "slips on it.",
    ),
    ("visual", "dents"): Seen(
        "Paint unbroken; the finger finds no hollow on the rim.",
        "On the rim a hollow as wide as two thumbs; its edge can be felt, and the paint is cracked round it.",
    ),
    ("visual", "rubbing"): Seen(
        "A polished line where a belt guard has touched once; the fingernail finds no groove.",
        "A groove has been cut into the casing all round; the fingernail stays in it.",
    ),
    ("visual", "wobble"): Seen(
        "Turned over, it runs without wobble that the eye could see.",
        "Turned over, its face plainly swings to and fro.",
    ),
    ("visual", "paint"): Seen(
        "Paint dull and even, neither blistered nor brown.",
        "Paint brown and blistered on one side.",
    ),
    ("visual", "bolts"): Seen(
        "All bolts there; none gives under the hand's wrench, and the paint marks on their heads line up.",
        "Two bolts turn under the hand's wrench, and their paint marks are out of line with the hub's.",
    ),
    ("visual", "hub"): Seen(
        "Hub and damper clean where they meet, the paint across the joint unbroken.",
        "Red dust where hub and damper meet, and the paint across the joint is torn.",
    ),
    ("visual-bench", "flange"): Seen(
        "Flange and bolt holes bright and whole.",
        "From one bolt hole a fine dark line runs outwards for the width of a finger.",
    ),
    ("visual-bench", "mounting-face"): Seen(
        "Flat under the straight edge; no burr, no fretting.",
        "Burrs stand up round two bolt holes, and the bore is fretted.",
    ),
    ("visual-bench", "rim"): Seen(
        "The rim is whole all round, its edge straight.",
        "Across the rim a fine dark line that does not wipe off.",
    ),
    ("visual-bench", "faces"): Seen(
        "Both faces flat and whole under raking light.",
        "Under raking light one face does not look like the other: something stands out or runs across it.",
    ),
    ("visual-bench", "edge"): Seen(
        "The rolled edge is closed all the way round.",
        "On the rolled edge a dark line, as long as a matchstick.",
    ),
    ("visual-bench", "plugs"): Seen(
        "Fill plugs flush, their paint unbroken.",
        "One fill plug stands proud, and its paint is broken.",
    ),
    ("penetrant", "flange"): Seen(
        "White developer, no colour at flange and bolt holes.",
        "A red line bleeds through the white, from a bolt hole outwards.",
    ),
    ("penetrant", "rim"): Seen(
        "White developer all round the rim.",
        "A thin red line bleeds through the white across the rim.",
    ),
    ("penetrant", "faces"): Seen(
        "White developer on both faces.",
        "On one face a red line bleeds through the white, and grows while you look.",
    ),
    ("penetrant", "edge"): Seen(
        "White developer along the edge.",
        "Along the rolled edge a row of red dots that run together.",
    ),
    ("warm-leak", "joint"): Seen(
        "The paper under the joint is dry.",
        "A clear, slippery drop on the paper under the joint.",
    ),
    ("warm-leak", "welds"): Seen(
        "Dry along the welds.",
        "A clear bead stands on one weld; wiped off, it comes again.",
    ),
    ("warm-leak", "plugs"): Seen(
        "Fill plugs dry.",
        "A clear, slippery ring round one fill plug.",
    ),
}
"""By check and item of the shipped method."""

DIRTY = (
    "Grit and old sealant stick to one edge of the mounting face. The face beneath is flat, without burr or "
    "fretting."
)
HIDDEN = "Everything is black with oil; what lies beneath cannot be seen."
UNDEVELOPED = "Nothing to be seen: the developer is not on."
COLD = "Dry, and cold to the hand."


def told(check: str, item: str, *, amiss: bool) -> str:
    """What is seen there; of what these words do not know, that it looks sound or not."""
    words = WORDS.get((check, item), Seen("Nothing amiss.", "Something is amiss there."))
    return words.amiss if amiss else words.sound
