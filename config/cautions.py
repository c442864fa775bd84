"""The usual cautions, by the step at which a person must have read them.

Common practice, no source. They stand wherever a method says nothing of a step; one that does takes their
place there. The engine maker's manual, local codes and licensed practice come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from contract.terms import CheckName

Step = Literal["on-engine", "bench", CheckName, "lifts", "unlock"]
"""on-engine, bench: an inspection there is open and nothing is measured yet. A check: until it is recorded
where it is done by eye, while it runs where it is measured; of one that is barred, also before and after,
while an inspection on an engine is open: the crank is brought to its mark first. unlock: an inspection on an
engine is over, and somebody will take the lock off."""

_BARRING = (
    "Bar by hand with the barring tool; never turn the engine by the damper or its bolts.",
    "Hands, sleeves and cables clear of fan, belts and gauge.",
)

_GAP = (
    "Never lever, hammer, weld or drill on a damper, and never straighten one: the gap behind its casing is "
    "a fraction of a millimetre."
)

USUAL: Mapping[Step, tuple[str, ...]] = MappingProxyType(
    {
        "on-engine": (
            "Wheels chocked, neutral, engine off and cool, locked out and tagged, starting air vented.",
            _GAP,
        ),
        "bench": (
            "A damper weighs more than it looks: lift it with help or gear.",
            _GAP,
        ),
        "visual": ("Spilled silicone is slippery: wipe it up first.",),
        "rim": _BARRING,
        "face": _BARRING,
        "lifts": ("Nobody turns the crank while the plunger is lifted.",),
        "penetrant": ("Penetrant and cleaner are flammable: ventilate, no flames; gloves and goggles.",),
        "warm-leak": (
            "Never above the maker's temperature: a sealed casing can burst, and hot silicone burns.",
            "Gloves and face shield; let it cool before it is lifted.",
        ),
        "unlock": ("Take barring tool and gauges off the engine before the lock comes off.",),
    }
)
