"""The run-out checks of a method: limits, when a sweep counts, what is allowed for, how repeats add up."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from config.table import Count, NotNegative, Positive, Share, Table


class SweepRules(Table):
    """When a sweep is good enough to be graded at all; below that it is `invalid`.

    min_readings: readings in the sweep. max_gap_deg: largest angle without a reading, around the
    whole turn. max_closure_mm: largest difference between the same place at the start and after one
    turn. max_lost_share: readings known to be lost, as a share of those that should have come.

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
    amplitude of what one turn may differ from the next by.

    Fit. max_noise_mm: more scatter than any sound gauge has (standard deviation); what is above it is
    the surface, or a disturbance. misfit_from: what a fit leaves over is no noise from this many
    standard deviations on. max_scatter_share: most that readings may scatter about the surface, as a
    share of the limit, to be called within.
    """

    min_readings: Annotated[int, Field(strict=True, ge=8)] = 8
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
    max_noise_mm: Positive = 0.006
    misfit_from: Positive = 4.5
    max_scatter_share: Positive = 0.1


class Allowances(Table):
    """What moves a gauge beside the surface and leaves no trace in the readings of one turn.

    tilt_max_deg: largest tilt of the plunger against the direction of travel, rectangular from 0.
    flex_share: give of stand and base under the plunger's changing force, as a share of the travel,
    rectangular. main_bearing_mm: how far the crank may shift in its main bearings across the gauge while
    it is barred (rectangular half-width); hysteresis_mm: what a gauge shows less on the way back than on
    the way in (rectangular half-width); temperature_mm: what warming or cooling may move over a sweep
    and back (rectangular half-width). Where one of these three is 0 it is left out, and the result says
    so.
    """

    tilt_max_deg: NotNegative = 3.0
    flex_share: NotNegative = 0.001
    main_bearing_mm: NotNegative = 0.0
    hysteresis_mm: NotNegative = 0.0
    temperature_mm: NotNegative = 0.0


class SurfaceRules(Table):
    """One run-out check. limit_mm: largest total indicator reading of the surface itself.

    radius_mm: distance of the plunger from the axis where nothing else states it (face only: it
    turns the first harmonic into a tilt). repeats: whether valid sweeps that agree are combined, or
    the latest valid one counts alone. agree_u: sweeps agree whose estimates differ by no more than this
    many standard uncertainties of their random parts. outnumber: how many agreeing sweeps set one aside
    that differs; until then the check is unclear.
    """

    limit_mm: Positive
    radius_mm: Positive | None = None
    repeats: Literal["combine", "latest"] = "combine"
    agree_u: Positive = 3.0
    outnumber: Count = 3
    sweep: SweepRules = SweepRules()
    allow: Allowances = Allowances()
