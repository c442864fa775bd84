"""Words that mean one thing everywhere: checks, where they are made, what they come to."""

from __future__ import annotations

from typing import Literal, get_args

Scope = Literal["on-engine", "bench", "both"]
Surface = Literal["rim", "face"]
ObservedName = Literal["visual", "visual-bench", "penetrant", "warm-leak"]
CheckName = Literal["visual", "rim", "face", "visual-bench", "thickness", "penetrant", "warm-leak"]
SweptName = Literal["rim", "face", "thickness", "lifts"]
"""What a gauge or a micrometer reads, begun and ended."""
Radius = Literal["outer", "inner"]
"""The two radii of a station at which a casing's thickness is read."""
AngleZero = Literal["timing-mark", "encoder"]
"""What 0 degrees of the crank is: where the timing mark is at its pointer, or only where an encoder counts
from."""
MicrometerAt = Literal["outer", "inner", "zero"]
"""Where a micrometer is put: on the casing, or closed or on its setting standard."""
Seen = Literal["good", "bad", "not seen"]
Family = Literal["viscous", "rubber"]
"""How a damper damps: an inertia ring in silicone fluid, or one on rubber."""
Construction = Literal["rolled", "welded"]
"""How the casing of a damper is closed, by the edge that is seen."""

MeasuredOutcome = Literal["within", "over", "unclear", "invalid", "missing"]
ObservedOutcome = Literal["good", "bad", "invalid", "missing"]
Outcome = Literal["within", "over", "unclear", "good", "bad", "invalid", "missing"]
Verdict = Literal["replace", "measure-again", "incomplete", "keep"]
WORST_FIRST: tuple[Verdict, ...] = get_args(Verdict)
Decision = Literal["keep", "replace", "measure-again"]
"""A signer's own, beside the verdict."""
State = Literal["open", "closed", "signed", "abandoned"]
"""Of an inspection."""
PublicState = Literal["connected", "silent", "absent"]

TYPED = "typed"
"""The gauge id that stands for a person who reads a plain dial and types what it shows."""
