from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.method import ThicknessRules
from grading.bench import judge_thickness
from grading.evidence import GaugeFacts, Radius, Thickness, ThicknessReading
from grading.spread import Noise, range_draws
from grading.thickness import estimate_thickness, sort_places
from tests.grading.samples import BENCH_MM, EXAMPLE, MICROMETER, method, thickness

RULES = EXAMPLE.thickness
MM = 1_000_000
# Expected range and its standard deviation for eight even places, in units of the noise: factors d2(8)
# and d3(8) of the tables of ASTM E2587 (from memory; digits computed).
D2_EIGHT, D3_EIGHT = 2.847201, 0.8198


def replicated(*extra: tuple[float, Radius, float]) -> Thickness:
    """The bench example with more readings after it."""
    base = thickness()
    return Thickness(
        (*base.readings, *(ThicknessReading(s, r, round(v * MM)) for s, r, v in extra)), base.gauge
    )


def test_the_bench_example_is_exact() -> None:
    # Highest 0.27, lowest 0.08: spread 0.19 mm, under 0.25 mm. Common practice, no source.
    check = judge_thickness([thickness()], EXAMPLE)
    assert check.spread_mm == 0.19
    assert check.outcome == "within"
    assert check.limit_mm == 0.25
    assert 0.3 - 0.1 != 0.2  # what floats would make of it
    assert judge_thickness([thickness([0.3, 0.1, *[0.2] * 6])], EXAMPLE).spread_mm == 0.2


@given(st.lists(st.integers(-50 * MM, 50 * MM), min_size=8, max_size=8))
def test_spread_is_highest_minus_lowest_to_the_nanometre(values: list[int]) -> None:
    readings = tuple(ThicknessReading(s, r, v) for (s, r), v in zip(RULES.order, values, strict=True))
    places = sort_places(readings, RULES)
    found = [places.value_nm(place) for place in RULES.order]
    assert found == values
    estimate = estimate_thickness(places, MICROMETER, RULES, seed=1)
    assert estimate.spread_nm == max(values) - min(values)
    assert math.isfinite(estimate.true_spread_mm)
    assert estimate.true_spread_mm >= 0.0
    assert estimate.u_expanded_mm > 0.0


def test_taper_and_wedge_of_constructed_casings() -> None:
    # A wedge t = t0 + a cos(station - 60 deg): highest minus lowest is 2 a, by the definition of a cosine.
    a = 0.05
    values = [
        25 + a * math.cos(math.radians(s - 60)) - (0.01 if r == "inner" else 0.0) for s, r in RULES.order
    ]
    check = judge_thickness([thickness(values)], EXAMPLE)
    assert check.wedge_mm == pytest.approx(2 * a, abs=2e-6)
    assert check.wedge_deg == pytest.approx(60.0, abs=0.01)
    assert check.taper_mm == pytest.approx(0.01, abs=1e-9)
    assert check.stations is not None
    assert [station.taper_mm for station in check.stations] == pytest.approx([0.01] * 4, abs=2e-6)


def test_even_places_have_a_wedge_of_nothing_in_no_direction() -> None:
    check = judge_thickness([thickness([25.0] * 8)], EXAMPLE)
    assert (check.spread_mm, check.wedge_mm, check.wedge_deg, check.taper_mm) == (0.0, 0.0, None, 0.0)


def test_two_stations_tell_no_wedge() -> None:
    two = method(thickness={"limit_mm": 0.25, "stations_deg": [0.0, 180.0]})
    check = judge_thickness([thickness([25.0, 25.1, 25.2, 25.3], rules=two)], two)
    assert (check.outcome, check.wedge_mm) == ("over", None)


def test_places_not_read_are_missing_and_named() -> None:
    check = judge_thickness([thickness(BENCH_MM[:6])], EXAMPLE)
    assert check.outcome == "missing"
    assert check.reason == "not measured yet: station 270 outer, station 270 inner"
    assert judge_thickness([], EXAMPLE).outcome == "missing"
    assert judge_thickness([Thickness((), MICROMETER)], EXAMPLE).outcome == "missing"


def test_a_place_that_is_none_is_invalid() -> None:
    check = judge_thickness([replicated((45.0, "outer", 0.2))], EXAMPLE)
    assert check.outcome == "invalid"
    assert check.reason == "station 45 outer is no place of the method, whose stations are 0, 90, 180, 270"


def test_a_bad_replicate_is_asked_for_again_not_averaged_away() -> None:
    twice = replicated((180.0, "outer", 0.14))
    check = judge_thickness([twice], EXAMPLE)
    assert check.outcome == "invalid"
    assert check.spread_mm is None
    assert check.reason.startswith("station 180 outer: its readings differ by 0.060 mm, at most 0.02 mm")
    third = Thickness((ThicknessReading(180.0, "outer", 82_000),), MICROMETER)
    check = judge_thickness([twice, third], EXAMPLE)
    assert check.outcome == "within"
    assert check.spread_mm == 0.189  # 0.27 less the mean of 0.080 and 0.082, as 0.140 is set aside
    assert check.warnings == (
        "station 180 outer: 1 of 3 readings set aside, further than 0.02 mm from the others",
    )


def test_which_of_two_majorities_is_right_cannot_be_told() -> None:
    check = judge_thickness([replicated((90.0, "outer", 0.195), (90.0, "outer", 0.21))], EXAMPLE)
    assert check.outcome == "invalid"


def test_replicates_that_agree_are_averaged_to_the_nanometre() -> None:
    check = judge_thickness([replicated((180.0, "outer", 0.081), (180.0, "outer", 0.083))], EXAMPLE)
    assert check.spread_mm == 0.188667  # 0.27 - (0.080 + 0.081 + 0.083) / 3
    assert check.readings == 10


def test_the_latest_valid_set_counts_and_the_others_stay_on_record() -> None:
    worse = thickness([value + (0.1 if i == 0 else 0.0) for i, value in enumerate(BENCH_MM)])
    check = judge_thickness([worse, thickness()], EXAMPLE)
    assert check.outcome == "within"
    assert check.attempts is not None
    assert [(part.number, part.counted) for part in check.attempts] == [(1, False), (2, True)]
    contradiction = replicated((0.0, "outer", 0.5))
    check = judge_thickness([thickness(), contradiction], EXAMPLE)
    assert check.outcome == "within"
    assert check.warnings[0].startswith("a later attempt does not count: station 0 outer")


def test_sets_that_agree_are_replicates_of_each_other() -> None:
    other = thickness([value + 0.004 * (-1) ** i for i, value in enumerate(BENCH_MM)])
    check = judge_thickness([other, thickness()], EXAMPLE)
    assert check.readings == 16
    assert check.spread_mm == 0.19
    assert check.attempts is not None
    assert [part.counted for part in check.attempts] == [True, True]


def test_near_the_limit_it_is_unclear_and_says_what_to_do() -> None:
    near = [25.0, 25.2495, *[25.1] * 6]
    check = judge_thickness([thickness(near)], EXAMPLE)
    assert check.outcome == "unclear"
    assert check.p_over is not None
    assert 0.05 < check.p_over < 0.95
    assert "more repeats with this gauge will not settle it" in check.reason
    noisy = GaugeFacts("micrometer-1", 0.001, 0.001, repeatability_mm=0.004)
    check = judge_thickness([thickness([25.0, 25.245, *[25.1] * 6], gauge=noisy)], EXAMPLE)
    assert check.outcome == "unclear"
    assert check.repeats_needed is not None
    assert f"{check.repeats_needed} more set" in check.reason


def test_bulge_is_given_where_the_method_has_a_reference_and_can_condemn() -> None:
    bulged = method(thickness={"limit_mm": 0.25, "bulge": {"rim_thickness_mm": 25.0, "limit_mm": 0.3}})
    check = judge_thickness([thickness([25.4] * 8, rules=bulged)], bulged)
    assert check.bulge_mm == pytest.approx(0.4, abs=0.001)
    assert check.outcome == "over"
    assert check.reason.startswith("bulge over the rim 0.400 mm")
    assert judge_thickness([thickness([25.1] * 8, rules=bulged)], bulged).outcome == "within"
    no_limit = method(thickness={"limit_mm": 0.25, "bulge": {"rim_thickness_mm": 25.0}})
    check = judge_thickness([thickness([26.0] * 8, rules=no_limit)], no_limit)
    assert (check.outcome, check.bulge_limit_mm) == ("within", None)
    assert check.bulge_mm == pytest.approx(1.0, abs=0.001)


def test_the_overdue_calibration_of_the_micrometer_is_said() -> None:
    from datetime import date

    old = GaugeFacts("micrometer-1", 0.001, 0.004, "2026-01-31")
    assert judge_thickness([thickness(gauge=old)], EXAMPLE, on=date(2026, 2, 1)).warnings == (
        "the calibration of micrometer-1 was due on 2026-01-31",
    )
    assert judge_thickness([thickness(gauge=old)], EXAMPLE, on=date(2026, 1, 31)).warnings == ()


def test_noise_alone_is_not_called_spread() -> None:
    """Even places read with 3 um of noise show d2(8) x 3 um = 8.5 um; the estimate says they may be even."""
    rng = np.random.default_rng(8)
    sigma = 0.003
    noise = Noise(np.full(8, sigma), math.inf, 0.0)
    shown = np.ptp(rng.normal(0.0, sigma, (4000, 8)), axis=1)
    assert float(shown.mean()) == pytest.approx(D2_EIGHT * sigma, rel=0.02)
    typical = np.linspace(-0.5, 0.5, 8) * D2_EIGHT * sigma
    draws = range_draws(typical, noise, rng)
    assert float(np.mean(draws <= 1e-9)) > 0.4  # near the median of what even places show
    assert float(np.median(draws)) < 0.5 * D2_EIGHT * sigma
    assert float(np.quantile(draws, 0.975)) < (D2_EIGHT + 3 * D3_EIGHT) * sigma


def test_a_wide_spread_is_known_as_well_as_two_readings_are() -> None:
    """Far above the noise only the highest and the lowest place count: u = sigma sqrt 2 (JCGM 100, 5.1.2)."""
    places = np.array([0.0, 0.1, 0.3, 0.5, 0.5, 0.6, 0.8, 1.0])
    draws = range_draws(places, Noise(np.full(8, 0.003), math.inf, 0.0), np.random.default_rng(1))
    assert float(np.std(draws)) == pytest.approx(0.003 * math.sqrt(2.0), rel=0.1)
    assert float(np.median(draws)) == pytest.approx(1.0, abs=0.0005)


def test_few_replicates_widen_the_noise_as_student_does() -> None:
    places = np.linspace(0.0, 1.0, 8)
    known, few = (
        float(np.std(range_draws(places, Noise(np.full(8, 0.003), freedom, 0.0), np.random.default_rng(1))))
        for freedom in (math.inf, 5.0)
    )
    assert few / known == pytest.approx(math.sqrt(5 / 3), rel=0.15)  # variance of Student's t with 5


PATTERNS = {
    "even": [0.0] * 8,
    "wedge": [1, 1, 0.5, 0.5, 0, 0, 0.5, 0.5],
    "one high": [1, 0, 0, 0, 0, 0, 0, 0],
    "spread out": list(np.linspace(0.0, 1.0, 8)),
    "two levels": [1, 1, 1, 1, 0, 0, 0, 0],
}


@pytest.mark.slow
def test_the_uncertainty_covers_the_true_spread(request: pytest.FixtureRequest) -> None:
    """Simulated casings of five patterns, three sizes, two gauges: 95 % overall, no cell far below."""
    count = 150 if request.config.getoption("--heavy") else 8
    rules = ThicknessRules(limit_mm=0.25)
    rng = np.random.default_rng(5)
    hits: dict[tuple[str, float, float], float] = {}
    for sigma, step, mpe in ((0.003, 0.001, 0.004), (0.001, 0.01, 0.015)):
        for name, pattern in PATTERNS.items():
            for size in (0.0,) if name == "even" else (0.005, 0.02, 0.2):
                found = []
                for _ in range(count):
                    true = np.array(pattern) * size
                    span = rng.uniform(-mpe, mpe) / size if size else 0.0
                    read = true * (1 + span) + rng.uniform(0, step) + rng.normal(0, sigma, 8)
                    nm = np.rint(np.rint(read / step) * step * MM).astype(int)
                    taken = tuple(
                        ThicknessReading(s, r, int(v)) for (s, r), v in zip(rules.order, nm, strict=True)
                    )
                    gauge = GaugeFacts("m", step, mpe, repeatability_mm=sigma)
                    estimate = estimate_thickness(sort_places(taken, rules), gauge, rules, seed=1)
                    found.append(abs(estimate.true_spread_mm - size) <= estimate.u_expanded_mm)
                hits[name, size, sigma] = float(np.mean(found))
    assert 0.92 <= float(np.mean(list(hits.values()))) <= 1.0
    assert {cell: share for cell, share in hits.items() if share < (0.85 if count > 100 else 0.4)} == {}


def test_an_estimate_of_an_incomplete_set_is_refused() -> None:
    places = sort_places(thickness(BENCH_MM[:7]).readings, RULES)
    with pytest.raises(ValueError, match="no spread"):
        estimate_thickness(places, MICROMETER, RULES, seed=1)
