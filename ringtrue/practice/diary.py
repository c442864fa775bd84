"""What a trainee did, as the workshop saw it; the bay's own record says what they measured and recorded."""

from __future__ import annotations

from dataclasses import dataclass, field

from simulators.damper import Damper

# Minutes by which a dwell may be recorded longer than the workshop's clock had it.
CLAIM_MIN = 1.0


@dataclass(slots=True)
class Swept:
    """The last sweep of a surface. damper: what then turned under the plunger. slipped_deg: where the base
    slipped in it. is_held: whether the crank was held to one end of its float all along.
    """

    damper: Damper
    is_held: bool
    is_touching: bool
    slipped_deg: float | None = None
    barred_deg: float = 0.0


@dataclass(slots=True)
class Diary:
    """acts: what was typed. faults: of procedure, by a name, one sentence each. looked: items whose sight
    told something; shown: those that showed that something is amiss. truths: whether an item was amiss when
    it was recorded. unseen: by check, items that were recorded before."""

    acts: list[str] = field(default_factory=list)
    faults: dict[str, str] = field(default_factory=dict)
    looked: set[tuple[str, str]] = field(default_factory=set)
    shown: set[tuple[str, str]] = field(default_factory=set)
    truths: dict[tuple[str, str], bool] = field(default_factory=dict)
    unseen: dict[str, list[str]] = field(default_factory=dict)
    swept: dict[str, Swept] = field(default_factory=dict)
    is_locked_out: bool = False
    is_mounting_cleaned: bool = False
    hints: int = 0

    def fault(self, name: str, sentence: str) -> None:
        """Something was done that should not be; said once of each."""
        self.faults.setdefault(name, sentence)

    def recorded(
        self, check: str, item: str, *, is_amiss: bool, claimed: float | None, true_min: float | None
    ) -> None:
        """An item was recorded while this was true of it; claimed: the minutes told."""
        self.truths[check, item] = is_amiss
        if (check, item) not in self.looked:
            self.unseen.setdefault(check, []).append(item)
        if claimed is not None and true_min is not None and claimed > true_min + CLAIM_MIN:
            self.fault(
                f"claimed {item}",
                f"{check}: {item} was recorded as {claimed:g} min; the workshop's clock had {true_min:.0f}",
            )
