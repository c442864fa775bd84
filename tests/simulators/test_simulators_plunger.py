from __future__ import annotations

import random
from itertools import pairwise

import pytest

from config.files import shipped
from config.profile import GaugeProfile
from config.toml import read_toml
from simulators.barring import NS_PER_S, Crank, Path, Pull
from simulators.damper import Damper
from simulators.gauge import Quantity, SimGauge
from simulators.plunger import EndOfTravel, Knock, Off, PlungerFault, Slip, Spike, Sticking
from simulators.rig import Rig

# A turn at 10 degrees a second or so, 90 degrees back in its middle, and the rest.
PATH = Path(
    (
        Pull(0, 20 * NS_PER_S, 30.0, 230.0),
        Pull(20 * NS_PER_S, 29 * NS_PER_S, 230.0, 140.0),
        Pull(29 * NS_PER_S, 54 * NS_PER_S, 140.0, 390.0),
    )
)
TIMES = range(0, 54 * NS_PER_S, NS_PER_S // 10)


def crank() -> Crank:
    made = Crank(30.0)
    made.follow(PATH)
    return made


def felt(*faults: PlungerFault, sound: Quantity | None = None) -> list[tuple[float, float]]:
    """Degrees barred and what is felt (nm), where a sound plunger feels the degrees barred."""
    turning = crank()
    laid: Quantity = sound or (lambda time_ns: turning.angle_deg(time_ns) - 30.0)
    for fault in faults:
        laid = fault.over(laid, turning)
    return [(turning.angle_deg(time_ns) - 30.0, laid(time_ns)) for time_ns in TIMES]


def test_a_plunger_off_the_surface_shows_one_value() -> None:
    assert {value for _, value in felt(Off(7.0))} == {7.0}


def test_an_end_of_travel_cuts_off_what_lies_beyond_it_and_nothing_else() -> None:
    for barred, value in felt(EndOfTravel(low_nm=20.0, high_nm=300.0)):
        assert value == pytest.approx(min(max(barred, 20.0), 300.0))


def test_a_base_that_slipped_stays_so_when_the_crank_is_barred_back() -> None:
    values = felt(Slip(at_deg=150.0, by_nm=1000.0))
    first = next(n for n, (barred, _) in enumerate(values) if barred >= 150.0)
    assert all(value == pytest.approx(barred) for barred, value in values[:first])
    assert all(value == pytest.approx(barred + 1000.0) for barred, value in values[first:])
    assert min(barred for barred, _ in values[first:]) < 120.0


def test_a_knocked_base_comes_back() -> None:
    values = felt(Knock(from_deg=40.0, until_deg=60.0, by_nm=1000.0))
    away = [barred for barred, value in values if value - barred > 500.0]
    assert 40.0 <= min(away) < 42.0
    assert 58.0 < max(away) < 60.0
    assert values[-1][1] == pytest.approx(values[-1][0])


def test_a_sticking_plunger_holds_one_value_and_then_follows() -> None:
    values = felt(Sticking(from_deg=40.0, until_deg=100.0))
    held = {value for barred, value in values if 40.0 <= barred < 100.0}
    assert len(held) == 1
    assert held.pop() == pytest.approx(41.0, abs=1.0)
    assert all(value == pytest.approx(barred) for barred, value in values if barred >= 100.0)


def test_a_spike_is_one_reading() -> None:
    values = felt(Spike(at_deg=150.0, by_nm=1000.0))
    (off,) = [barred for barred, value in values if value != pytest.approx(barred)]
    assert 150.0 <= off < 152.0


def test_degrees_count_from_the_first_reading_and_either_way_round() -> None:
    backward = Crank(100.0)
    backward.follow(Path((Pull(0, NS_PER_S, 100.0, -100.0),)))
    slipped = Slip(at_deg=50.0, by_nm=1.0).over(lambda time_ns: 0.0, backward)
    first = next(t for t in range(0, NS_PER_S, NS_PER_S // 1000) if slipped(t))
    assert backward.angle_deg(first) == pytest.approx(50.0, abs=1.0)


def test_a_rig_suffers_faults_in_order_and_is_mended() -> None:
    profiles = [read_toml(shipped("gauges", name), GaugeProfile) for name in ("line-mm", "encoder-degrees")]
    indicator, encoder = (SimGauge(profile, random.Random(1)) for profile in profiles)
    rig = Rig(Damper(eccentricity_mm=0.1), crank(), indicator, encoder)
    sound = [rig.felt_nm(time_ns) for time_ns in TIMES]
    rig.suffer(Slip(0.0, 200_000.0), EndOfTravel(high_nm=250_000.0))
    assert [rig.felt_nm(time_ns) for time_ns in TIMES] == [min(v + 200_000.0, 250_000.0) for v in sound]
    rig.suffer()
    assert [rig.felt_nm(time_ns) for time_ns in TIMES] == sound
    assert any(a != b for a, b in pairwise(sound))
