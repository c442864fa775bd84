"""The result document: what an inspection came to, self-contained, for whoever reads it.

`docs/figures.md` explains every number. No value, no key; a reader ignores keys that it does not know.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from contract.corrections import Correction
from contract.gauge import GaugeFacts
from contract.header import Finite, Header, Part
from contract.terms import AngleZero, Decision, MeasuredOutcome, ObservedOutcome, Seen, State, Verdict


class HarmonicPart(Part):
    """amplitude_mm: half the order's own peak-to-peak; phase_deg: its first crest, below 360/order."""

    order: int
    amplitude_mm: Finite
    phase_deg: Finite


class BudgetPart(Part):
    """One source and its standard uncertainty in the figure that is decided."""

    source: str
    u_mm: Finite


class FeaturePart(Part):
    """A local dent (negative height) or bulge: its middle, its full width."""

    angle_deg: Finite
    width_deg: Finite
    height_mm: Finite


class AttemptPart(Part):
    """One attempt of a check that was tried more than once. counted: its data are in the figures."""

    number: int
    counted: bool
    reason: str | None = None
    tir_mm: Finite | None = None


class LevelStepPart(Part):
    """A jump of the level: at which crank angle, and by how much. is_float: both indicators of a face prove
    it to be end float, and it was taken off."""

    angle_deg: Finite
    height_mm: Finite
    is_float: bool = False


class OppositePart(Part):
    """The second indicator of a face, half a turn away. counts: it bears witness. half_difference_mm,
    half_sum_mm: amplitudes of the once-around wave in both. float_mm: how far the crankshaft moved in the
    steps that both prove."""

    gauge: GaugeFacts
    counts: bool
    tir_mm: Finite | None = None
    half_difference_mm: Finite | None = None
    half_sum_mm: Finite | None = None
    float_mm: Finite | None = None


class StopPart(Part):
    """The crank stood still: so many seconds after the sweep's first press, and for how long."""

    at_s: Finite
    lasted_s: Finite


class StopQuestionPart(Part):
    """Which of these stops was at this mark? The command `mark` answers, with the mark as `angle_deg`, the
    stop's `at_s`, and the check."""

    mark_deg: Finite
    stops: tuple[StopPart, ...]


class SurfaceCheck(Part):
    """`rim` or `face`. Figures are left out where there was nothing to make them from. angle_zero: what 0 of
    its angles is; none where nobody told. asks: what is to be answered before there can be any."""

    outcome: MeasuredOutcome
    reason: str
    limit_mm: Finite
    tir_mm: Finite | None = None
    true_tir_mm: Finite | None = None
    u_expanded_mm: Finite | None = None
    coverage: Finite | None = None
    p_over: Finite | None = None
    rule: str | None = None
    repeats_needed: int | None = None
    harmonics: tuple[HarmonicPart, ...] | None = None
    eccentricity_mm: Finite | None = None
    high_spot_deg: Finite | None = None
    tilt_mrad: Finite | None = None
    end_float_steps: int | None = None
    level_steps: tuple[LevelStepPart, ...] | None = None
    opposite: OppositePart | None = None
    turn_to_turn_mm: Finite | None = None
    residual_rms_mm: Finite | None = None
    features: tuple[FeaturePart, ...] | None = None
    covered_deg: Finite | None = None
    largest_gap_deg: Finite | None = None
    closure_mm: Finite | None = None
    readings: int | None = None
    sweeps: int | None = None
    budget: tuple[BudgetPart, ...] | None = None
    warnings: tuple[str, ...] = ()
    doubts: tuple[str, ...] | None = None
    excluded: tuple[str, ...] | None = None
    looks: int | None = None
    gauge: GaugeFacts | None = None
    angle_zero: AngleZero | None = None
    asks: StopQuestionPart | None = None
    attempts: tuple[AttemptPart, ...] | None = None


class StationPart(Part):
    """Thickness at one station; taper_mm = outer - inner."""

    station_deg: Finite
    outer_mm: Finite
    inner_mm: Finite
    taper_mm: Finite


class ThicknessCheck(Part):
    """spread_mm: highest minus lowest, exactly. true_spread_mm and what follows: its estimate."""

    outcome: MeasuredOutcome
    reason: str
    limit_mm: Finite
    spread_mm: Finite | None = None
    true_spread_mm: Finite | None = None
    u_expanded_mm: Finite | None = None
    coverage: Finite | None = None
    p_over: Finite | None = None
    rule: str | None = None
    repeats_needed: int | None = None
    read_again: tuple[str, ...] | None = None
    repeatability_mm: Finite | None = None
    stations: tuple[StationPart, ...] | None = None
    taper_mm: Finite | None = None
    wedge_mm: Finite | None = None
    wedge_deg: Finite | None = None
    bulge_mm: Finite | None = None
    bulge_u_expanded_mm: Finite | None = None
    bulge_limit_mm: Finite | None = None
    zero_shift_mm: Finite | None = None
    readings: int | None = None
    budget: tuple[BudgetPart, ...] | None = None
    warnings: tuple[str, ...] = ()
    gauge: GaugeFacts | None = None
    attempts: tuple[AttemptPart, ...] | None = None


class PhotoPart(Part):
    """A picture. file: named for the SHA-256 of its bytes; it lies beside the record, never in it."""

    file: str
    note: str | None = None


class ItemPart(Part):
    """One thing looked at, as last seen. text: what a good one is, in the method's words."""

    item: str
    seen: Seen
    text: str | None = None
    note: str | None = None
    time_min: Finite | None = None
    temperature_c: Finite | None = None
    photos: tuple[PhotoPart, ...] | None = None


class ObservedCheck(Part):
    """A check done by eye."""

    outcome: ObservedOutcome
    reason: str
    items: tuple[ItemPart, ...] = ()
    warnings: tuple[str, ...] = ()


Check = SurfaceCheck | ThicknessCheck | ObservedCheck


class Checks(Part):
    """Every check that is required or was tried. suitability: where the damper does not belong on this
    engine, by the method's word, or that cannot be told."""

    visual: ObservedCheck | None = None
    rim: SurfaceCheck | None = None
    face: SurfaceCheck | None = None
    visual_bench: ObservedCheck | None = Field(default=None, alias="visual-bench")
    thickness: ThicknessCheck | None = None
    penetrant: ObservedCheck | None = None
    warm_leak: ObservedCheck | None = Field(default=None, alias="warm-leak")
    suitability: ObservedCheck | None = None

    def by_name(self) -> dict[str, Check]:
        """Those that there are, by their public names, in report order."""
        found: dict[str, Check] = {}
        for key, field in type(self).model_fields.items():
            check = getattr(self, key)
            if check is not None:
                found[field.alias or key] = check
        return found


class MethodPart(Part):
    """The method in force; sha256 is over what it says."""

    id: str
    version: str
    sha256: str


class NextDue(Part):
    """When the damper is to be looked at again: whichever comes first."""

    distance_km: Finite | None = None
    hours_h: Finite | None = None
    date: str | None = None


class _Revision(Part):
    """Which document it is: its keys stand before those of the header."""

    schema_: Literal["ringtrue/result/1"] = Field(default="ringtrue/result/1", alias="schema")
    inspection: str
    revision: int
    state: State


class Result(Header, _Revision):
    """The whole document."""

    closed: str | None = None
    signed: str | None = None
    signed_by: str | None = None
    decision: Decision | None = None
    remark: str | None = None
    corrections: tuple[Correction, ...] | None = None
    method: MethodPart
    checks: Checks
    verdict: Verdict
    reasons: tuple[str, ...]
    next_due: NextDue | None = None
    software: str
    readings_sha256: str
