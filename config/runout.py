"""The run-out checks of a method: limits, when a sweep counts, what is allowed for, how repeats add up."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from config.table import Count, NotNegative, Positive, Share, Table

Chance = Annotated[float, Field(strict=True, gt=0.0, lt=1.0)]


class Signs(Table):
    """How much evidence it takes to say that something other than the surface moved the readings.

    Names ending in _u: standard uncertainties by which it must stand out; _steps: steps of the display;
    _share: of what is named; where several are given, all of them must be exceeded.

    Contact. small_movement, small_mm: movements of more than so many times the least, and than this, are
    not asked whether they go with the crank. creep_share, creep_steps: of the whole movement, what comes
    on over a turn.

    Single readings. lone_scatter (times the scatter of its neighbours), lone_steps, lone_mm: a reading
    stands out. lone_sparse_u, lone_sparse_mm: the same where readings are few. spikes_free: so many may be
    left out of any sweep.

    Jumps of the level. jump_u (among all readings), jump_near_u (among its neighbours), jump_steps,
    jump_mm. dent_deg: two opposite jumps closer than this are the two sides of a dent. slip_share (of the
    jump), slip_mm, slip_u: a slip of the rim's base is one that the second pass confirms as closely as the
    largest of these. seam_u, seam_steps: two passes run differently, or one turn differs from the next.

    Standing still. held_chance: readings that scatter elsewhere show the same over an arc of held_deg or
    more; below this chance they were held, below held_maybe_chance they may have been, at an end of the
    range. still_look_share: where more of the surfaces that the rest of the turn leaves possible pass an
    arc, it is not looked into. still_doubt: up to so many times min_still_share the arc stays in doubt.
    reach_share: an arc matters where this share of what is possible in it is over the limit.

    scatter_steps: readings scatter elsewhere that do so by more (without noise a display seems to by 0.29).

    Drift. wander_mm, wander_u: a closure beyond both came at an unknown time, and is no even drift.

    Fit. untold_u: leftovers that grow with the surface's slope are wrong angles. seen_clear, seen_luck (times
    the scatter of the middle one of three readings in a row): what such readings span counts where it is more
    than the fit allows by seen_clear, less seen_luck.
    """

    small_movement: Positive = 8.0
    small_mm: NotNegative = 0.04
    creep_share: Positive = 0.5
    creep_steps: NotNegative = 1.5
    lone_scatter: Positive = 7.0
    lone_steps: NotNegative = 3.5
    lone_mm: NotNegative = 0.006
    lone_sparse_u: Positive = 5.5
    lone_sparse_mm: NotNegative = 0.02
    spikes_free: Annotated[int, Field(strict=True, ge=0)] = 2
    jump_u: Positive = 6.0
    jump_near_u: Positive = 4.0
    jump_steps: NotNegative = 1.5
    jump_mm: NotNegative = 0.005
    dent_deg: Positive = 15.0
    slip_share: NotNegative = 0.35
    slip_mm: NotNegative = 0.004
    slip_u: NotNegative = 3.0
    seam_u: Positive = 4.5
    seam_steps: NotNegative = 1.5
    held_chance: Chance = 1.5e-8
    held_maybe_chance: Chance = 2.5e-3
    held_deg: Positive = 3.0
    still_look_share: Share = 0.1
    still_doubt: Positive = 30.0
    reach_share: Share = 0.003
    wander_mm: NotNegative = 0.004
    wander_u: NotNegative = 2.0
    scatter_steps: NotNegative = 0.36
    untold_u: Positive = 4.0
    seen_clear: NotNegative = 6.0
    seen_luck: NotNegative = 3.0


class SweepRules(Table):
    """When a sweep is good enough to be graded at all; below that it is `invalid`.

    min_readings: readings in the sweep. turn_slack_deg: what a turn may fall short of 360 degrees.
    max_gap_deg: largest angle without a reading, around the whole turn. max_closure_mm: largest difference
    between the same place at the start and after one turn. max_lost_share: readings known to be lost, as a
    share of those that should have come.

    Contact and travel. min_movement_steps, min_movement_mm: readings that move by no more over a turn
    were not moved by a surface. min_followed_share: share of such small movements that must go with the
    crank. max_still_deg: shorter arcs over which the readings stand still are not looked into.
    min_still_share: of all surfaces that the rest of the turn leaves possible, how many must pass where
    the readings stood still.

    Base and plunger. max_slip_mm: a jump of the rim's level that the second pass confirms.
    narrowest_deg: nothing under a plunger is narrower; a single reading that stands out more narrowly is
    left out. max_spike_share: such readings, as a share of all. max_lone_share: a single reading that
    stands out by more than this share of all others' range is asked for again.

    Angle. max_seam_slope_mm_deg: how differently two passes over the start may run. max_turn_shift_mm:
    amplitude of what one turn may differ from the next by. pace_spread: how unevenly a crank is barred
    from mark to mark (standard deviation of the logarithm of its speed). max_untold_deg: angles that the
    readings show to be known worse than stated by this are taken as that poor.

    Fit. drift_mm: even drift over a sweep (standard deviation). max_noise_mm: more scatter than any sound
    gauge has (standard deviation); what is above it is the surface, or a disturbance. misfit_from: what a
    fit leaves over is no noise from this many standard deviations on. max_scatter_share: most that
    readings may scatter about any surface, as a share of the limit. plain_share: where readings can be
    read in more than one way, the chance that all of them are the surface's own.
    """

    min_readings: Annotated[int, Field(strict=True, ge=8)] = 8
    turn_slack_deg: NotNegative = 0.5
    max_gap_deg: Positive = 50.0
    max_closure_mm: Positive = 0.03
    max_lost_share: Share = 0.05
    min_movement_steps: NotNegative = 1.0
    min_movement_mm: NotNegative = 0.002
    min_followed_share: Share = 0.5
    max_still_deg: Positive = 20.0
    min_still_share: Share = 0.002
    max_slip_mm: Positive = 0.005
    narrowest_deg: Positive = 1.0
    max_spike_share: Share = 0.005
    max_lone_share: Positive = 0.8
    max_seam_slope_mm_deg: Positive = 0.001
    max_turn_shift_mm: Positive = 0.008
    pace_spread: Positive = 0.4
    drift_mm: Positive = 0.003
    max_untold_deg: Positive = 0.5
    max_noise_mm: Positive = 0.006
    misfit_from: Positive = 4.5
    max_scatter_share: Positive = 0.1
    plain_share: Chance = 0.65
    signs: Signs = Signs()


class Allowances(Table):
    """What moves a gauge beside the surface and leaves no trace in the readings of one turn.

    tilt_max_deg: largest tilt of the plunger against the direction of travel, rectangular from 0.
    flex_share: give of stand and base under the plunger's changing force, as a share of the travel,
    rectangular. main_bearing_mm: how far the crank may shift in its main bearings across the gauge while
    it is barred (rectangular half-width); hysteresis_mm: what a gauge shows less on the way back than on
    the way in (rectangular half-width); temperature_mm: what warming or cooling may move over a sweep
    and back (rectangular half-width). Where one of these three is 0 it is left out, and the result says
    so. form_share (of the random spread), form_mm (at the least): what no family of forms that is fitted
    holds of a real surface and a real pace, standard deviations. needle_tremble_mm: what a needle that
    trembles shows beyond the surface at each end while it is watched.
    """

    tilt_max_deg: NotNegative = 3.0
    flex_share: NotNegative = 0.001
    main_bearing_mm: NotNegative = 0.0
    hysteresis_mm: NotNegative = 0.0
    temperature_mm: NotNegative = 0.0
    form_share: NotNegative = 0.3
    form_mm: Positive = 0.0004
    needle_tremble_mm: NotNegative = 0.003


class SurfaceRules(Table):
    """One run-out check. limit_mm: largest total indicator reading of the surface itself.

    radius_mm: distance of the plunger from the axis where nothing else states it (face only: it
    turns the first harmonic into a tilt). repeats: whether valid sweeps that agree are combined, or
    the latest valid one counts alone. max_sweeps: so many valid ones are looked at, the latest. agree_u:
    sweeps agree whose estimates differ by no more than this many standard uncertainties of their random
    parts. outnumber: how many agreeing sweeps set one aside that differs; until then the check is unclear.
    same_mm, same_u: sweeps are fitted as one whose surfaces differ by no more, root mean square, than
    same_mm and same_u times the standard uncertainties of their figures, added in quadrature.
    disagree_chance: sweeps that are weighed, and differ by more than noise does with this chance, are given
    a wider uncertainty. inch_factor: a figure that times 25.4 is within this factor of the limit may be
    inches taken for millimetres, and is asked about; 1 leaves that out.
    """

    limit_mm: Positive
    radius_mm: Positive | None = None
    repeats: Literal["combine", "latest"] = "combine"
    max_sweeps: Annotated[int, Field(strict=True, ge=1, le=24)] = 8
    agree_u: Positive = 3.0
    outnumber: Count = 3
    same_mm: Positive = 0.003
    same_u: NotNegative = 1.5
    disagree_chance: Chance = 0.01
    inch_factor: Annotated[float, Field(strict=True, ge=1.0)] = 2.5
    sweep: SweepRules = SweepRules()
    allow: Allowances = Allowances()
