"""The evidence that a method asks for before it says that something else than the surface moved readings."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from config.table import Count, NotNegative, Positive, Share, Table

Chance = Annotated[float, Field(strict=True, gt=0.0, lt=1.0)]


class Coarser(Table):
    """When a display is taken to move in coarser steps than stated of its gauge, which only widens."""

    times: Positive = 1.5
    """So many times as large."""
    levels: Count = 3
    """Over so many levels: a rim of even notches has two."""
    chance: Chance = 1e-4
    """Where by chance that would be rarer: each change is a multiple of k steps one time in k."""


class Signs(Table):
    """How much evidence it takes to say that something other than the surface moved the readings.

    Names ending in _u: standard uncertainties by which it must stand out; _steps: steps of the display;
    _share: of what is named; where several are given, all of them must be exceeded.
    """

    small_movement: Positive = 8.0
    """Contact: movements of more than so many times the least are not asked whether they go with the crank.
    """
    small_mm: NotNegative = 0.04
    """Contact: nor are movements of more than this."""
    followed_min: Count = 30
    """Contact: fewer readings are asked by fewer waves, and whether they creep by stairs only where they
    drift by `creep_steps`."""
    few_followed_maybe: Share = 0.65
    """Contact: where less than this share of so few readings' small movement goes with the crank, chance may
    have given it."""
    creep_share: Positive = 0.5
    """Contact: it creeps where this share of the whole movement comes on over a turn."""
    creep_steps: NotNegative = 1.5
    """Contact: and so many steps of the display."""
    creep_followed_min: Share = 0.2
    """Contact: or where a surface explains less than this share of what stairs that only rise, or only fall,
    leave over."""
    lone_scatter: Positive = 7.0
    """A single reading stands out: times the scatter of its neighbours."""
    lone_steps: NotNegative = 3.5
    """And by so many steps of the display."""
    lone_mm: NotNegative = 0.006
    """And by this much."""
    lone_sparse_u: Positive = 5.5
    """A single reading stands out where readings are few."""
    lone_sparse_mm: NotNegative = 0.02
    """And by this much."""
    lone_sparse_below: Count = 60
    """Readings are few where there are fewer in a turn."""
    lone_lines: NotNegative = 3.0
    """Neighbours that disagree among each other let a reading be off by so many times of what they span."""
    lone_same_share: NotNegative = 0.25
    """Where readings are few: two whose angles differ by less than this share of their neighbours' distance
    are of one place, and confirm each other."""
    lone_same_deg: Positive = 10.0
    """Of a distance of no more than this."""
    lone_alike_share: Share = 0.5
    """And that differ by no more than this share of what the one stands out by."""
    lone_hurry: Positive = 2.5
    """Between marks the crank may go so many times as fast over a place as is told, and what one reading has
    met there be so much wider."""
    spikes_free: Annotated[int, Field(strict=True, ge=0)] = 2
    """So many single readings may be left out of any sweep."""
    jump_u: Positive = 6.0
    """A jump of the level, against all readings."""
    jump_near_u: Positive = 4.0
    """And against its neighbours."""
    jump_steps: NotNegative = 1.5
    """And by so many steps of the display."""
    jump_mm: NotNegative = 0.005
    """And by this much."""
    jump_near_deg: Positive = 30.0
    """Its neighbours span no more than this; wider apart they cannot confirm it."""
    dent_deg: Positive = 15.0
    """Two opposite jumps closer than this are the two sides of a dent;"""
    knock_readings: Count = 6
    """but where so many readings and more lie between,"""
    knock_share: Share = 0.75
    """and this share of each comes from one reading to the next, one pair alone may be a knock of the stand.
    """
    slip_share: NotNegative = 0.35
    """A slip of the base is a jump that the second pass confirms within this share of it (or the largest of
    the next two)."""
    slip_mm: NotNegative = 0.004
    """Or within this much."""
    slip_u: NotNegative = 3.0
    """Or within so many standard uncertainties."""
    seam_u: Positive = 4.5
    """Two passes run differently, or one turn differs from the next."""
    seam_steps: NotNegative = 1.5
    """And by so many steps of the display."""
    seam_min: Count = 6
    """Of fewer places passed twice nothing is said of how they run."""
    seam_deg: NotNegative = 2.0
    """Nor where they span less."""
    seam_turn_deg: Positive = 240.0
    """From this much passed twice on, turns are compared once around rather than by their slope."""
    half_turn_min: Count = 40
    """Of fewer readings it is not said whether they are those of half a turn."""
    half_turn_marks_min: Count = 20
    """The same from mark to mark."""
    half_turn_odds: Positive = 20.0
    """The readings are those of half a turn, told to be a whole one: so many times as likely as a turn's."""
    half_turn_maybe: Positive = 0.5
    """They may be: so many times, which keeps them from being within where half a turn may be over."""
    ends_mm: NotNegative = 0.008
    """A turn from mark to mark that ends so far from the height at which it began may be part of one, which
    keeps it from being within where what was not read may be over."""
    ends_u: NotNegative = 2.5
    """And by so many standard uncertainties, the marks' own error on the slope there in them."""
    switched_odds: Positive = 1e9
    """Of a gauge whose numbers do not say their unit: that it was switched within the sweep explains the
    readings so many times as well as that it was not; noise that runs on taken off."""
    switched_maybe: Positive = 1e3
    """It may have been: so many times, which keeps them from being within where the turn may then be over."""
    switched_leap_steps: Positive = 24.0
    """So far a number may leap by a switch and go unnoticed as it comes (four times the usual move, which is
    taken for five steps at least, and what the surface moves meanwhile)."""
    unsigned_odds: Positive = 1e3
    """Readings that touch nought and never go below: that their minus signs were left off explains them so
    many times as well as a surface does, which makes a sweep `invalid` that may be over with them. Or, of
    what is read by eye: that a dial which counts both ways was turned past its end number."""
    unsigned_maybe: Positive = 20.0
    """They may have been: so many times, which keeps a check from being within."""
    unsigned_min: Count = 11
    """Of fewer readings, one in each five degrees, it is not said."""
    unsigned_waves_min: Count = 18
    """From here on three waves a turn are given to the surface in that, below it two."""
    flat_most: Positive = 1.6
    """A sweep that shows its highest or lowest for more than so many times as long as a wave of its height
    would is not within where that may hide what is over, unless two waves are all of it
    (`cut_two_waves`; not from mark to mark)."""
    flat_form_steps: Positive = 3.5
    """Readings that span fewer steps of the display have no form: anything is two waves."""
    cut_min: Count = 4
    """A plain dial stood at the end of its travel: so many stops at least show the same, to a step;"""
    cut_rest_min: Count = 5
    """and so many show something else,"""
    cut_rest_most: Count = 40
    """and no more, as of more readings other rules know more;"""
    cut_two_waves: Positive = 1.5
    """one wave takes up all others, and two waves do not take up all of them, to so many times a step's
    rounding;"""
    cut_beyond: NotNegative = 2.0
    """and that wave goes on beyond what stood there by so many steps and scatters, and may be over."""
    held_chance: Chance = 1.5e-8
    """Readings that scatter elsewhere show the same over an arc: below this chance they were held."""
    held_maybe_chance: Chance = 2.5e-3
    """Below this chance they may have been held, at an end of the range."""
    held_share: Share = 0.75
    """With marks, where readings stood still at their highest or lowest: a plunger that is held there hides
    no more than this share of the run-out."""
    held_deg: Positive = 3.0
    """Such an arc is at least so long."""
    held_change_u: Positive = 2.0
    """The level changes within an arc that stands from so much on, and the arc is cut there (by chance once
    in 1 500 arcs: Kolmogorov's distribution)."""
    held_flicker_min: Count = 8
    """Of fewer readings that flicker it is not said that they were held."""
    held_marks_share: Share = 0.5
    """From mark to mark so much of `min_still_share` is asked for, as no angle is known there."""
    rest_steps: NotNegative = 1.02
    """With marks, readings that stand still may be a crank that stood where they go on the way they had come:
    neighbours on either side are no more than so many display steps,"""
    rest_noise: NotNegative = 6.0
    """and so many times the noise, apart,"""
    rest_further: Positive = 2.0
    """and they go further than this many times that."""
    turned_u: NotNegative = 2.0
    """Nor may the marks say that the crank turned by `max_still_deg` meanwhile, each angle taken for off by
    so many standard uncertainties."""
    held_rest_min: Count = 16
    """Of fewer readings elsewhere nothing is said of an arc that stands still."""
    hidden_noise_mm: Positive = 0.0015
    """Noise of a gauge whose display hides it, standard deviation."""
    still_narrow: Positive = 4.0
    """An arc stands still whose readings keep within a display step, or so many times their noise,"""
    still_wide: Positive = 10.0
    """or within a step and so many times their noise, if it is flat (readings of one place: 200 normal ones
    lie within 5.5 on average, Tippett's table of ranges, from memory; 7 about always; on a display as coarse
    as the noise that is found up to a third too small),"""
    still_flat_u: Positive = 5.0
    """whose parts' means differ by no more than this,"""
    still_flat_parts: Positive = 3.0
    """or than a step divided by this."""
    still_min: Count = 4
    """So many readings make an arc."""
    still_pass: NotNegative = 3.0
    """A surface passes an arc that keeps within half a step and so many times the noise of what stood there.
    """
    still_pass_least: NotNegative = 4.0
    """And within so many times the noise in any case."""
    still_look_share: Share = 0.1
    """An arc that stands still is looked into where no more than this share of the surfaces that the rest of
    the turn leaves possible pass it."""
    still_maybe_share: Share = 0.2
    """Up to here it keeps a check from being within."""
    still_maybe_reach: Share = 0.02
    """Where at least this share of what is possible is over the limit."""
    still_doubt: Positive = 30.0
    """Up to so many times min_still_share the arc stays in doubt."""
    reach_share: Share = 0.003
    """An arc matters, or half a turn, where this share of what is then possible is over the limit."""
    wander_mm: NotNegative = 0.004
    """A closure beyond this came at an unknown time, and is no even drift."""
    wander_u: NotNegative = 2.0
    """And beyond so many standard uncertainties of it, the display's rounding with them."""
    scatter_steps: NotNegative = 0.36
    """Readings scatter, elsewhere, that do so by more (without noise a display seems to by 0.29)."""
    scatter_slow_steps: NotNegative = 0.25
    """The same where so many readings come that the surface hardly moves from one to the next."""
    slow_steps: NotNegative = 0.1
    """It hardly moves where it goes no further than this from one reading to the next."""
    scatter_sure_share: Share = 0.9
    """Of the scatter found beside an arc, so much is sure."""
    misfit_min: Count = 24
    """Of fewer readings nothing is said of what a fit leaves over."""
    misfit_back: Positive = 1.5
    """Leftovers that swing from reading to reading are no noise from so many times `misfit_from` on."""
    untold_u: Positive = 4.0
    """Leftovers that grow with the surface's slope by so much are wrong angles."""
    untold_min: Count = 40
    """Of fewer readings that is not said."""
    seen_clear: NotNegative = 6.0
    """What three readings in a row span counts where it is more than the fit allows by so many times the
    scatter of the middle one."""
    seen_luck: NotNegative = 3.0
    """And of that so much is luck."""
