from __future__ import annotations

import pytest

from config.files import shipped
from config.profile import GaugeProfile
from config.toml import read_toml
from drivers.arrival import PERIODS, PROMPT_NS, Arrivals
from drivers.assembly import Assembler
from drivers.encoding import encode

MS = 1_000_000


def paced(number: int = 20, period_ns: int = 20 * MS, *, even: bool = True) -> tuple[Arrivals, int]:
    """One that has had frames at an even pace, and when the last came."""
    arrivals = Arrivals(even=even)
    for n in range(1, number + 1):
        assert arrivals.of(1, n * period_ns - 5 * MS, n * period_ns) == ([n * period_ns], 0)
    return arrivals, number * period_ns


def test_what_is_read_as_it_comes_has_its_time() -> None:
    assert Arrivals(even=False).of(1, 0, PROMPT_NS) == ([PROMPT_NS], 0)
    assert Arrivals(even=True).of(3, 70, 70) == ([70, 70, 70], 0)


@pytest.mark.parametrize("stalled_ms", [21, 40, 90, 101, 300])
def test_an_even_stream_goes_on_at_its_pace_while_nobody_reads(stalled_ms: int) -> None:
    arrivals, last = paced()
    since, by = last + MS, last + stalled_ms * MS
    number = stalled_ms // 20
    times, u_ns = arrivals.of(number, since, by)
    truth = [last + n * 20 * MS for n in range(1, number + 1)]
    assert times == truth
    assert u_ns == round(20 * MS / 12**0.5)
    assert arrivals.of(1, truth[-1] + 19 * MS, truth[-1] + 20 * MS) == ([truth[-1] + 20 * MS], 0)


@pytest.mark.parametrize("number", [1, 5, 12, 16])
def test_where_the_number_does_not_fit_the_pace_only_the_two_times_are_known(number: int) -> None:
    arrivals, last = paced()
    since, by = last + MS, last + 201 * MS
    times, u_ns = arrivals.of(number, since, by)
    assert u_ns == round(200 * MS / 12**0.5)
    assert times == sorted(times)
    assert since < times[0] <= times[-1] < by


def test_an_uneven_or_unknown_pace_is_none() -> None:
    keyed, last = paced(even=False)
    fresh, _ = paced(PERIODS)
    uneven, _ = paced()
    uneven.of(1, last + 39 * MS, last + 40 * MS)
    restarted, _ = paced()
    restarted.restart()
    for arrivals in (keyed, fresh, uneven, restarted):
        _, u_ns = arrivals.of(5, last + 41 * MS, last + 141 * MS)
        assert u_ns == round(100 * MS / 12**0.5)


def test_the_readings_carry_it_with_their_latency_taken_off() -> None:
    profile = read_toml(shipped("gauges", "line-mm"), GaugeProfile)
    assembler = Assembler("indicator-1", profile)
    line = encode(190_000, profile)
    assembler.feed(line, MS, MS)  # what comes first may be half a frame
    (prompt,) = assembler.feed(line, 10 * MS, 8 * MS)
    assert (prompt.time_ns, prompt.u_ns) == (10 * MS - profile.latency_ns, 0)
    late = assembler.feed(line * 3, 310 * MS, 10 * MS)
    assert [reading.time_ns + profile.latency_ns for reading in late] == [85 * MS, 160 * MS, 235 * MS]
    assert {reading.u_ns for reading in late} == {round(300 * MS / 12**0.5)}
