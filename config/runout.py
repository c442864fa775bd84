"""The run-out checks of a method: limits, when a sweep counts, what is allowed for, how repeats add up."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from config.signs import Chance, Coarser, Signs
from config.table import Count, Limit, NotNegative, Positive, Share, Table


class SweepRules(Table):
    """When a sweep is good enough to be graded at all; outside of these it is `invalid`."""

    min_readings: Annotated[int, Field(strict=True, ge=8)] = 8
    """Readings in a sweep, at least."""
    turn_slack_deg: NotNegative = 0.5
    """What a turn may fall short of 360 degrees."""
    max_gap_deg: Positive = 50.0
    """Widest angle without a reading, around the whole turn."""
    max_closure_mm: Positive = 0.03
    """Largest difference between the same place at the start and after one turn."""
    max_lost_share: Share = 0.05
    """Readings known to be lost, of those that should have come."""
    min_movement_steps: NotNegative = 1.0
    """Readings that move by no more over a turn were not moved by a surface."""
    min_movement_mm: NotNegative = 0.002
    """Or by no more than this."""
    min_followed_share: Share = 0.5
    """Share of such small movements that must go with the crank."""
    max_still_deg: Positive = 20.0
    """Shorter arcs over which the readings stand still are not looked into."""
    min_still_share: Share = 0.002
    """Of all surfaces that the rest of the turn leaves possible, how many must pass where the readings stood
    still."""
    max_lost_angle_deg: Positive = 5.0
    """An encoder whose index tells that it lost more than this is not gone by; what is less is put back."""
    max_slip_mm: Positive = 0.005
    """A jump of the rim's level that the second pass confirms."""
    max_new_zero_mm: Positive = 0.005
    """What the level may differ by once a gauge that was away within the sweep is back."""
    narrowest_deg: Positive = 1.0
    """Nothing under a plunger is narrower; a single reading that stands out more narrowly is left out."""
    max_spike_share: Share = 0.005
    """Such readings, of all."""
    max_lone_share: Positive = 0.8
    """A single reading that stands out by more than this share of all others' range is asked for again."""
    max_seam_slope_mm_deg: Positive = 0.001
    """How differently two passes over the start may run."""
    max_turn_shift_mm: Positive = 0.008
    """Amplitude of what one turn may differ from the next by, once around."""
    pace_spread: Positive = 0.4
    """How unevenly a crank is barred from mark to mark: standard deviation of the logarithm of its speed.
    """
    drift_mm: Positive = 0.003
    """Even drift over a sweep, standard deviation."""
    max_untold_deg: Positive = 0.5
    """Angles that the readings show to be known worse than stated by this are taken as that poor."""
    max_noise_mm: Positive = 0.006
    """More scatter than any sound gauge has, standard deviation; what is above it is the surface, or a
    disturbance."""
    misfit_from: Positive = 4.5
    """What a fit leaves over is no noise from this many standard deviations on."""
    max_scatter_share: Positive = 0.1
    """Most that readings may scatter about any surface, of the limit."""
    plain_share: Chance = 0.65
    """Where readings can be read in more than one way, the chance that all of them are the surface's own.
    """
    coarser: Coarser = Coarser()
    """By which steps the readings really move."""
    signs: Signs = Signs()
    """The evidence that it takes to say so."""


class EndFloat(Table):
    """What is made of a face whose level jumps: a crankshaft that slid along its axis, or the face itself.

    One indicator cannot tell. A second one half a turn away on the face can: what both show at one time is
    end float, and is taken off.
    """

    max_mm: Positive = 0.1
    """With one indicator: a level that moves by more is no sweep of a face."""
    least_tilt_mm: Positive = 0.01
    """Once-around amplitude that two indicators must show against each other, to be known as opposite."""
    max_apart_share: Share = 0.35
    """Of it, what they may show alike once around (0.35: some 40 degrees off, or radii as 2 to 1)."""
    same_s: Positive = 0.5
    """Jumps of both within this time are one,"""
    same_deg: Positive = 3.0
    """if the crank stood within so much of one place,"""
    same_mm: NotNegative = 0.004
    """and they differ by no more than this, or by slip_u standard uncertainties,"""
    same_share: Share = 0.15
    """or by this share of the smaller."""
    min_readings: Count = 40
    """Of fewer readings of either nothing is said."""
    known_share: Share = 0.25
    """Where an edge of the face would have to come again, a step must be known to this share of its height.
    """


class Allowances(Table):
    """What moves a gauge beside the surface and leaves no trace in the readings of one turn.

    Where main_bearing_mm, hysteresis_mm or temperature_mm is 0 it is left out, and the result says so.
    """

    tilt_max_deg: NotNegative = 3.0
    """Largest tilt of the plunger against the direction of travel, rectangular from 0."""
    flex_share: NotNegative = 0.001
    """Give of stand and base under the plunger's changing force, of the travel, rectangular."""
    main_bearing_mm: NotNegative = 0.0
    """How far the crank may shift in its main bearings across the gauge while it is barred, rectangular
    half-width; 0: left out, and said."""
    hysteresis_mm: NotNegative = 0.0
    """What a gauge shows less on the way back than on the way in, rectangular half-width; 0: left out, and
    said."""
    temperature_mm: NotNegative = 0.0
    """What warming or cooling may move over a sweep and back, rectangular half-width; 0: left out, and said.
    """
    form_share: NotNegative = 0.3
    """What no family of forms that is fitted holds of a real surface and a real pace: of the random spread,
    standard deviation."""
    form_mm: Positive = 0.0004
    """And this at the least, standard deviation."""
    needle_tremble_mm: NotNegative = 0.003
    """What a needle that trembles shows beyond the surface at each end while it is watched."""


class SurfaceRules(Table):
    """One run-out check."""

    limit_mm: Limit
    """Largest total indicator reading of the surface itself."""
    radius_mm: Positive | None = None
    """Distance of the plunger from the axis where nothing else states it (face only: it turns the first
    harmonic into a tilt; a face read nearer to the axis is not within where it may be over at this distance).
    """
    repeats: Literal["combine", "latest"] = "combine"
    """Whether valid sweeps that agree are combined, or the latest valid one counts alone."""
    max_sweeps: Annotated[int, Field(strict=True, ge=1, le=24)] = 8
    """So many valid sweeps that agree are taken together, the latest; whether they agree is asked of all."""
    agree_u: Positive = 3.0
    """Sweeps agree whose estimates differ by no more than this many standard uncertainties of their random
    parts."""
    outnumber: Count = 3
    """How many agreeing sweeps set one aside that differs; until then the check is unclear."""
    same_mm: Positive = 0.003
    """Sweeps are fitted as one whose surfaces differ by no more, root mean square, than this and the next
    added in quadrature."""
    same_u: NotNegative = 1.5
    """Times the standard uncertainties of their figures."""
    disagree_chance: Chance = 0.01
    """Sweeps that are weighed, and differ by more than noise does with this chance, are given a wider
    uncertainty."""
    inch_factor: Annotated[float, Field(strict=True, ge=1.0)] = 2.5
    """A figure that times 25.4 is within this factor of the limit may be inches taken for millimetres, and is
    asked about; 1 leaves that out."""
    inch_most_mm: NotNegative = 2.5
    """What is typed in finer steps than half of those stated, or shown in finer ones, may be another gauge's,
    in inches: a figure that would then be over the limit, and no more than this, is not within; 0 leaves that
    out."""
    inch_steps: Share = 0.6
    """A gauge's steps are finer that are below this share of those stated; others are rounded (0.0127 mm told
    as 0.013)."""
    inch_share: Share = 0.25
    """So many of the readings must be that fine: one slip of the pencil is not."""
    sweep: SweepRules = SweepRules()
    """When a sweep counts."""
    allow: Allowances = Allowances()
    """What is allowed for."""


class FaceRules(SurfaceRules):
    """The run-out check of the face, along the axis."""

    unmoved_times: Positive = 10.0
    """A face that reads as the rim did, to `same_mm`, is asked about where the rim's waves are so many times
    that: of less, two surfaces are alike by chance."""
    unmoved_share: Share = 0.1
    """And so much of the rim's waves they may differ where angles are known at marks only, or where two
    indicators may stand on one surface, side by side or half a turn apart: 6 degrees."""
    end_float: EndFloat = EndFloat()
    """What is made of a level that jumps."""
