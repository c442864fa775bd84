"""Which rules of grading changed, and in which version: why an older result may come out otherwise today.

Whoever changes what the same readings grade to adds a line here; the journals kept in tests/acquire/data
fail until it is there.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import get_args

from contract.terms import ObservedName

RUNOUT = ("checks.rim", "checks.face", "reasons")
THICKNESS = ("checks.thickness", "reasons")
OUTCOMES = ("checks.rim.outcome", "checks.face.outcome", "checks.thickness.outcome", "verdict", "next_due")

READINGS = "readings_sha256"
"""Where this differs, what is graded now is not what was graded then, and no rule explains that."""


@dataclass(frozen=True, slots=True)
class RuleChange:
    """One change. version: the first that grades so. places: paths into the result document that may come
    out otherwise, with all below them."""

    version: str
    places: tuple[str, ...]
    sentence: str


RULE_CHANGES: tuple[RuleChange, ...] = (
    RuleChange(
        "0.1.0",
        RUNOUT,
        "the run-out estimate undoes what an uncertain angle flattens, weighs what moves a gauge and is no "
        "surface, and says in `excluded` what it cannot see",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a sweep whose plunger stands still, sticks, slips or jumps is invalid, and what can be read in more "
        "than one way is kept open in `doubts`",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "sweeps of one surface are pooled in one fit, those that disagree are unclear, and each look spends "
        "a part of the rule's bound",
    ),
    RuleChange(
        "0.1.0",
        (*THICKNESS, *OUTCOMES),
        "places read once are no longer taken to repeat perfectly: the method bounds how a reading repeats, "
        "the spread is bounded both ways, and sets that disagree are unclear",
    ),
    RuleChange(
        "0.1.0",
        tuple(f"checks.{name}.items" for name in get_args(ObservedName)),
        "each item says in the method's words what a good one is",
    ),
    RuleChange(
        "0.1.0",
        RUNOUT,
        "a single reading that is left out is named by value and angle, and a figure that would be near the "
        "limit in inches is asked about",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *THICKNESS, *OUTCOMES),
        "readings that move in coarser steps than stated of their gauge are graded by those steps, and an "
        "over is not outvoted by another gauge",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "half a turn that is told to be a whole one is invalid by its form, and a crest that may be cut off "
        "is not within",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a face whose level moves too far is invalid, unless two opposite indicators prove end float, which "
        "is taken off; the level after a gauge was away is left open; what turns differ by is in the budget",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "from mark to mark too a part of a turn that is told to be a whole one is invalid by its form, "
        "`excluded` says what one turn by marks cannot show, and an arc that moves from one step of the "
        "display to the next is no fault but in doubt",
    ),
    RuleChange(
        "0.1.0",
        ("checks.rim.reason", "checks.face.reason", "reasons"),
        "the reason of an over names `separate`, which tells the damper's run-out from its mounting's",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "an encoder's angles are made of the times at which its value changed, of its index and of how late "
        "the readings show themselves to be; `angle_zero` says what 0 degrees is",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "between marks a crank that rests is no longer taken to have turned evenly: when it moved is read "
        "off the gauge, angles are as uncertain as that leaves them, and where readings stood still as high "
        "or as low as any, so that a held plunger may hide what is over the limit, the check is not within",
    ),
    RuleChange(
        "0.1.0",
        RUNOUT,
        "`excluded` names small slips of a base that undo each other within the turn beside slow movements",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a turn from mark to mark is not within where its ends lie 0.008 mm and 2.5 standard uncertainties "
        "apart (they were 0.015 mm and 3.5), and what was not read may be over",
    ),
    RuleChange(
        "0.1.0",
        ("checks.rim.reason", "checks.face.reason", "checks.face.warnings", "reasons"),
        "an unclear whose figure is far from the limit is no longer called too near to it, and a second "
        "indicator that gave too few readings is told how many there were",
    ),
    RuleChange(
        "0.1.0",
        (*THICKNESS, *OUTCOMES),
        "a casing that is thick enough only if its readings are inches is invalid",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a sweep by a gauge whose numbers do not say their unit is `invalid` where it shows that it was "
        "switched as it passed nought, and not within where it may have been and the turn may then be over",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "an arc that stands still and ends in a jump of the level is one over which the plunger stuck: no "
        "knock but a gap, and invalid where it is wider than one may be",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a face read nearer to the axis than the method's radius is not within where it may be over out "
        "there, readings whose minus signs were left off are invalid where the turn may be over with them, "
        "and what a needle showed counts as watched only where it holds the stop before; few stops of which "
        "many stand at one value that the others' wave goes beyond are invalid too where it may be over",
    ),
    RuleChange(
        "0.1.0",
        RUNOUT,
        "`excluded` names what was typed wrong all through",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "what is read by eye is not within where a dial may have been turned past its end number or minus "
        "signs left off and it may be over with them, nor where it may be inches that would be over",
    ),
    RuleChange(
        "0.1.0",
        ("checks.face.outcome", "checks.face.reason", "reasons", "verdict", "next_due"),
        "a face that reads as the rim did all around, by the same gauge, is not within",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "rim and face that read alike are not within from mark to mark and under two indicators either; what "
        "is over is neither forgotten for later sweeps nor set aside by another gauge alone",
    ),
    RuleChange(
        "0.1.0",
        (*THICKNESS, *OUTCOMES),
        "a reading of the casing that would be over is set aside by three against one, no longer by a "
        "majority, and one that was put right is told",
    ),
    RuleChange(
        "0.1.0",
        (*THICKNESS, *OUTCOMES),
        "where places of the casing were read again, or the gauge's repeatability is known, the interval of "
        "the spread holds a truth wherever it lies between two steps of the display",
    ),
    RuleChange(
        "0.1.0",
        (*THICKNESS, *OUTCOMES),
        "a micrometer's zero that was looked at alone belongs to the set before it, and no spread makes a "
        "casing of inches",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a single reading that stands out is left out, or asked for again, among the first three and the "
        "last three too",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a level that jumps and comes back within 15 degrees, from one reading to the next each, may be a "
        "knock of the stand as well as a dent",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "from mark to mark, readings that stand still where a crank that stood explains it are a doubt and "
        "no fault",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a turn that shows its highest or lowest for longer than a wave of its height would is not within; "
        "from mark to mark, a steep place of a face is no end float",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "a surface's fits are reckoned in another order: where two dents explain the readings equally well, "
        "rounding may choose the other",
    ),
    RuleChange(
        "0.1.0",
        (*THICKNESS, *OUTCOMES),
        "thickness that several gauges read, or that was typed beside what a gauge read itself, counts with "
        "the worst that is stated of any of them",
    ),
    RuleChange(
        "0.1.0",
        RUNOUT,
        "what was typed of a dial at first, and with which it would have shown more than the limit, is told",
    ),
    RuleChange(
        "0.1.0",
        (*THICKNESS, *OUTCOMES),
        "places of a casing that read the same one after the other, as a gauge does that holds its reading, "
        "are not within",
    ),
    RuleChange(
        "0.1.0",
        (
            "checks.visual",
            "checks.visual-bench",
            "checks.penetrant",
            "checks.warm-leak",
            "verdict",
            "reasons",
            "next_due",
        ),
        "what was seen to be good while a condition of its check was amiss does not count once that is met",
    ),
    RuleChange(
        "0.1.0",
        ("checks.rim.warnings", "checks.face.warnings", "checks.thickness.warnings"),
        "a check that is within says what a turn or a set that was cancelled had shown, where that is over; "
        "typed readings that are another inspection's are remarked on",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "few readings, or those of a coarse display that rise or fall by stairs, are invalid where they do "
        "not go with the crank; a sweep that does not count but showed more than the limit, after one that "
        "is within, leaves the check unclear until a valid one follows",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "two indicators that read different figures of a face, or of which one moves while the other proves "
        "no float or counts for nothing, make it invalid; from mark to mark, a single reading is left out "
        "only where no dent can be so narrow however the crank was barred, and one of another turn that goes "
        "beyond all others is asked about where with it the surface may be over",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "waves of which a turn has read a few places each are of the surface, or of a plunger that chatters, "
        "and no scatter of its readings; with an encoder they are found by order at any pace, and sweeps "
        "that cannot show them do not speak against one that can",
    ),
    RuleChange(
        "0.1.0",
        (*RUNOUT, *OUTCOMES),
        "from mark to mark, a turn that went up and down by more than the one which is fitted is asked "
        "about; at fewer than 30 stops a needle that moves by a few steps must go with the crank too, and "
        "what is over by its chance while its interval reaches below the limit is unclear",
    ),
    RuleChange(
        "0.1.0",
        (*THICKNESS, *OUTCOMES),
        "how well a reading repeats takes into account that replicates further apart were asked for again",
    ),
)
"""In the order in which they came."""


def changes_since(software: object) -> Sequence[RuleChange]:
    """Those that a result written by `software` (`ringtrue 0.1.0`) may not know; all, where it does not say.

    A version's own count too: it changed while it was made.
    """
    found = re.search(r"\d+(?:\.\d+)+", software) if isinstance(software, str) else None
    written_by = _ordered(found[0]) if found else ()
    return [change for change in RULE_CHANGES if _ordered(change.version) >= written_by]


def explained(
    paths: Collection[str], changes: Sequence[RuleChange]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The sentences of the changes that may be behind these differences, and the paths that none explains."""
    if READINGS in paths:
        return (), tuple(paths)
    behind = [change for change in changes if any(_covers(change, path) for path in paths)]
    left = tuple(path for path in paths if not any(_covers(change, path) for change in behind))
    return tuple(f"{change.version}: {change.sentence}" for change in behind), left


def _covers(change: RuleChange, path: str) -> bool:
    return any(path == place or path.startswith((f"{place}.", f"{place}[")) for place in change.places)


def _ordered(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))
