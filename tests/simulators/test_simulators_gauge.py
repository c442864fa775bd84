from __future__ import annotations

import itertools
import random
from statistics import fmean, stdev

import pytest

from config.files import shipped, shipped_names
from config.profile import FreeRunning, GaugeProfile
from config.toml import read_toml
from contract.units import Unit
from drivers.assembly import Assembler
from drivers.encoding import encode
from simulators.barring import NS_PER_S, BarringHand, Crank
from simulators.damper import Damper
from simulators.gauge import TURN_UDEG, SimGauge, encoder_counts, encoder_udeg, face_nm, rim_nm


def profile(name: str) -> GaugeProfile:
    return read_toml(shipped("gauges", name), GaugeProfile)


def gauge(name: str = "line-mm", seed: int = 1, **more: float) -> SimGauge:
    made = SimGauge(profile(name), random.Random(seed))
    for key, value in more.items():
        setattr(made, key, value)
    return made


def values(made: SimGauge, true: float, seconds: float = 2.0) -> list[int]:
    """What the drivers read of a gauge that feels one value all the time."""
    assembler = Assembler("g", made.profile)
    assembler.feed(encode(0, made.profile), 0)  # from its end on the stream is in step
    stream = made.stream(lambda _: true, start_ns=0, until_ns=round(seconds * NS_PER_S))
    return [reading.value for time_ns, data in stream for reading in assembler.feed(data, time_ns)]


FREE = [name for name in shipped_names("gauges") if isinstance(profile(name).manner, FreeRunning)]


@pytest.mark.parametrize("name", FREE)
def test_every_free_running_profile_is_spoken_as_the_drivers_read_it(name: str) -> None:
    wanted = {"mm": 1_234_000, "in": 12_700, "deg": 41_200_000, "count": 1440}
    made = gauge(name)
    true = wanted[made.profile.value.unit]
    assert set(values(made, true)) == {true}


def test_quantised_to_whole_steps_of_the_display() -> None:
    coarse = gauge("line-inch", resolution=12_700)
    assert set(values(coarse, 20_000)) == {25_400}
    assert set(values(coarse, 19_000)) == {12_700}


def test_offset_span_and_drift_are_what_they_say() -> None:
    assert set(values(gauge(offset=5_000.0), 100_000)) == {105_000}
    assert set(values(gauge(span_error=0.02, resolution=1_000), 1_000_000)) == {1_020_000}
    drifting = values(gauge(drift_per_s=10_000.0, resolution=1_000), 0, seconds=3.0)
    assert (drifting[0], drifting[-1]) == (0, 30_000)


def test_noise_has_its_standard_deviation() -> None:
    noisy = values(gauge(noise=5_000.0, resolution=1_000), 100_000, seconds=30.0)
    assert len(noisy) > 1400
    assert fmean(noisy) == pytest.approx(100_000, abs=600)
    assert stdev(noisy) == pytest.approx(5_000, rel=0.06)


def test_the_same_seed_gives_the_same_bytes_at_the_same_times() -> None:
    def line(seed: int) -> list[tuple[int, bytes]]:
        made = gauge(seed=seed, noise=3_000.0)
        return list(made.stream(lambda t: t / 1000, start_ns=0, until_ns=NS_PER_S))

    assert line(1) == line(1)
    assert line(1) != line(2)


def test_the_period_is_never_longer_than_stated() -> None:
    times = [time for time, _ in gauge().stream(lambda _: 0.0, start_ns=0, until_ns=5 * NS_PER_S)]
    latency_ns = 6 * profile("line-mm").latency.u_s * NS_PER_S
    assert all(b - a <= 0.02 * NS_PER_S + latency_ns for a, b in itertools.pairwise(times))
    with pytest.raises(ValueError, match="at least every"):
        next(gauge(period_s=9.0).stream(lambda _: 0.0, start_ns=0))


def test_a_requested_gauge_answers_its_request_and_nothing_else() -> None:
    made = gauge("line-requested-mm", resolution=1_000)
    assert made.answer(b"!\r", lambda _: 190_000.0, 0) == []
    ((time_ns, data),) = made.answer(b"read\r", lambda _: 190_000.0, 7)
    assert time_ns >= 7
    (reading,) = Assembler("g", made.profile).feed(data, time_ns)
    assert (reading.value, reading.unit) == (190_000, Unit.NM)


def test_a_key_press_sends_one_reading() -> None:
    made = gauge("line-key-mm", resolution=1_000)
    _, data = made.press(lambda _: 42_270_400.0, 0)
    (reading,) = Assembler("g", made.profile).feed(data, 0)
    assert reading.value == 42_270_000


def test_each_manner_refuses_the_others() -> None:
    with pytest.raises(ValueError, match="by itself"):
        next(gauge("line-key-mm").stream(lambda _: 0.0, start_ns=0))
    with pytest.raises(ValueError, match="requests"):
        gauge("line-mm").answer(b"read\r", lambda _: 0.0, 0)


def test_plunger_and_encoder_see_the_same_crank() -> None:
    damper = Damper(eccentricity_mm=0.1, eccentricity_deg=30.0, tilt_mrad=0.5, end_float_mm=0.2)
    crank = Crank(-40.0)
    path = BarringHand().bar(random.Random(1), start_deg=-40.0, turn_deg=400.0, start_ns=0)
    crank.follow(path)
    assert rim_nm(damper, crank)(path.end_ns) == pytest.approx(damper.rim_mm(0.0) * 1e6)
    assert face_nm(damper, crank)(path.end_ns) == pytest.approx(damper.face_mm(0.0) * 1e6)
    crank.float_share = 0.5
    assert face_nm(damper, crank)(path.end_ns) == pytest.approx(damper.face_mm(0.0) * 1e6 + 100_000)
    assert encoder_counts(crank, 3600)(0) == pytest.approx(-400.0)
    assert encoder_counts(crank, 3600, reversed_=True)(0) == pytest.approx(400.0)
    box = gauge("encoder-degrees", resolution=1_000)
    box.wrap = TURN_UDEG
    assert box.shown(encoder_udeg(crank)(0), 0) == 320_000_000
    assert box.shown(encoder_udeg(crank, reversed_=True)(0), 0) == 40_000_000
    assert box.shown(359_999_800.0, 0) == 0
