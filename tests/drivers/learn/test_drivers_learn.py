"""Unknown gauges of every archetype are learnt, and never taken for what they are not."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from config.files import shipped_names
from config.profile import (
    CrcCheck,
    FreeRunning,
    GaugeProfile,
    IntegerValue,
    KeyboardPort,
    KeyPress,
    Requested,
    SerialPort,
)
from config.toml import read_toml
from drivers.framings.checks import check_of
from drivers.learn.checks import CRCS, checked
from drivers.learn.speeds import BAUDS, has_lone_bits, likely, next_speed
from drivers.learn.written import as_toml
from drivers.proof import failures
from ringtrue.learning import Learning, Learnt, Move, Trying
from simulators.wire import received
from tests.drivers.learn.judge import outcome
from tests.drivers.learn.kinds import Drawn, apart, drawn, shipped_ones, unset
from tests.drivers.learn.proved import keyed, proved
from tests.drivers.learn.unknown import Unknown
from tests.drivers.support import profile

VARIATIONS, A_TENTH = 200, 20
RIGHT, WRONG = 0.95, 0.005
MINUTE_S = 60.0
Draw = Callable[[int], Drawn]


def table(gauges: Sequence[Drawn]) -> Counter[str]:
    """Learns them all and prints how that ended, archetype by archetype."""
    every: Counter[str] = Counter()
    rows: dict[str, Counter[str]] = {}
    for gauge in gauges:
        answer, why = outcome(gauge)
        # Also at its key, and at speeds that cannot be told apart; what hands take is not counted.
        assert gauge.gauge.listened_s < MINUTE_S, f"{gauge.name}: {gauge.gauge.listened_s} s"
        every[answer] += 1
        rows.setdefault(gauge.name, Counter())[answer] += 1
        if answer != "right":
            print(f"{gauge.name}: {answer}: {why[:400]}")
    answers = ("right", "narrow", "ambiguous", "unknown", "wrong")
    print(f"{'':22}" + "".join(f"{answer:>10}" for answer in answers))
    for name, row in sorted([*rows.items(), ("all", every)]):
        print(f"{name:22}" + "".join(f"{row[answer] or '':>10}" for answer in answers))
    return every


def learnt(unknown: Unknown, **more: Any) -> Learnt:
    return Learning(unknown, unknown, Trying(**{"budget_s": 1e9, **more})).run()


@pytest.mark.slow
def test_every_profile_that_ships_is_learnt() -> None:
    gauges = shipped_ones(1)
    assert {gauge.name for gauge in gauges} == {*shipped_names("gauges")}
    assert table(gauges) == {"right": len(gauges)}


@pytest.mark.slow
def test_a_tenth_of_the_variations_is_learnt_and_none_is_wrong() -> None:
    every = table([drawn(seed) for seed in range(A_TENTH)])
    assert every["wrong"] == 0
    assert every["right"] >= RIGHT * A_TENTH - 1


@pytest.mark.slow
def test_so_are_those_on_no_serial_port() -> None:
    every = table([apart(seed) for seed in range(A_TENTH)])
    assert every["wrong"] == 0
    assert every["right"] >= RIGHT * A_TENTH - 1


@pytest.mark.slow
@pytest.mark.parametrize("draw", [proved, keyed], ids=["check or counter", "key"])
def test_so_are_those_with_a_check_a_counter_or_a_key(draw: Draw) -> None:
    every = table([draw(seed) for seed in range(A_TENTH)])
    assert every["wrong"] == 0
    assert every["right"] >= RIGHT * A_TENTH - 1


@pytest.fixture(scope="module")
def all_of_them() -> dict[Draw, Counter[str]]:
    """What became of all variations so far."""
    return {drawn: Counter(), apart: Counter(), proved: Counter(), keyed: Counter()}


@pytest.mark.heavy
@pytest.mark.parametrize("part", range(VARIATIONS // A_TENTH))
@pytest.mark.parametrize("draw", [drawn, apart, proved, keyed], ids=["serial", "apart", "proved", "keyed"])
def test_variations_are_learnt_and_hardly_ever_wrong(
    draw: Draw, part: int, all_of_them: dict[Draw, Counter[str]]
) -> None:
    """In ten parts, as no test may take as long as all of them do; the last one judges."""
    so_far = all_of_them[draw]
    so_far += table([draw(seed) for seed in range(part * A_TENTH, (part + 1) * A_TENTH)])
    assert so_far["wrong"] <= WRONG * VARIATIONS
    if part == VARIATIONS // A_TENTH - 1:
        print(dict(so_far))
        assert so_far["right"] >= RIGHT * VARIATIONS


@pytest.mark.slow
@pytest.mark.parametrize("name", ["line-mm", "digits-mm", "burst-mm", "binary-mm", "hid-reports", "typed-mm"])
def test_what_is_written_is_a_good_profile_with_its_proof(name: str, tmp_path: Path) -> None:
    gauge = Unknown(profile(name), random.Random(1))
    verdict = learnt(gauge, gauge="shelf", ports=unset(gauge.kind.port)).verdict
    file = tmp_path / "shelf.toml"
    file.write_text(as_toml(verdict.readings[0].profile, "two\nlines"))
    read = read_toml(file, GaugeProfile)
    assert read == verdict.readings[0].profile
    assert failures(read) == []
    assert len(read.proof) >= 4


@pytest.mark.slow
def test_the_manner_and_period_are_those_of_the_gauge() -> None:
    for name, kind in (("line-mm", FreeRunning), ("line-key-mm", KeyPress), ("line-requested-mm", Requested)):
        gauge = Unknown(profile(name), random.Random(2), period_s=0.1, noise=0.3)
        manner = learnt(gauge, may_transmit=True).verdict.readings[0].profile.manner
        assert isinstance(manner, kind)
        if isinstance(manner, FreeRunning):
            assert 0.1 <= manner.period_s <= 0.3
        if isinstance(manner, Requested):
            assert manner.request == "read\r"


@pytest.mark.slow
def test_nothing_is_sent_unless_it_may_be() -> None:
    for name in ("line-requested-mm", "line-key-mm", "line-mm", "binary-mm"):
        gauge = Unknown(profile(name), random.Random(3))
        answer = learnt(gauge)
        assert gauge.asked_with == set()
        assert (answer.verdict.answer == "unknown") is (name == "line-requested-mm")


def test_a_gauge_that_says_nothing_is_unknown() -> None:
    gauge = Unknown(profile("line-requested-mm"), random.Random(4))
    answer = learnt(gauge)
    assert answer.verdict.answer == "unknown"
    assert answer.verdict.why.startswith("nothing was heard")
    assert gauge.moves == ["rest", "press", "done"]


def test_a_time_that_is_too_short_is_said() -> None:
    gauge = Unknown(profile("binary-mm"), random.Random(11))
    answer = learnt(gauge, budget_s=8.0)
    assert answer.verdict.answer == "unknown"
    assert "--seconds" in answer.verdict.why
    assert gauge.listened_s <= 8.0


@pytest.mark.slow
def test_the_step_of_the_display_is_told_with_or_without_its_noise() -> None:
    for noise, step, told in ((0.0, 1_000, 1_000), (0.6, 1_000, 1_000), (0.0, 10_000, 1_000)):
        gauge = Unknown(profile("line-mm"), random.Random(12), noise=noise, step=step)
        assert learnt(gauge).verdict.readings[0].step == told
    coarse = Unknown(profile("digits-mm"), random.Random(12), step=10_000)
    assert learnt(coarse).verdict.readings[0].step == 10_000


def test_a_gauge_that_does_not_move_is_unknown_and_that_is_said() -> None:
    gauge = Unknown(profile("line-mm"), random.Random(5), stuck=True)
    answer = learnt(gauge)
    assert answer.verdict.answer == "unknown"
    assert "the same at every place" in answer.verdict.why


def test_a_gauge_that_is_switched_off_in_between_is_unknown_and_that_is_said() -> None:
    moves: tuple[Move, ...] = ("in", "out")
    for move in moves:
        gauge = Unknown(profile("line-mm"), random.Random(6), goes_off_at=move)
        answer = learnt(gauge)
        assert answer.verdict.answer == "unknown"
        assert "went silent" in answer.verdict.why


@pytest.mark.slow
def test_a_movement_that_was_another_than_was_said_is_never_a_unit() -> None:
    """One that is not as it was said is no power of ten to anything."""
    for said in (Fraction(13, 10), Fraction(1, 2), Fraction(3)):
        gauge = Unknown(profile("line-mm"), random.Random(7))
        assert learnt(gauge, moves=(said, -said)).verdict.answer == "unknown"


@pytest.mark.slow
def test_a_number_of_which_half_was_not_heard_is_ambiguous_and_says_what_would_tell() -> None:
    """Two bytes that were never below nought: two's complement or not, nothing shows."""
    kind = profile("binary-mm")
    assert isinstance(kind.value, IntegerValue)
    two = kind.value.model_copy(update={"length": 2, "size": 2})
    framing = kind.framing.model_copy(update={"length": 5})
    kind = kind.model_copy(update={"value": two, "framing": framing})
    verdict = learnt(Unknown(kind, random.Random(8), offset=15_000_000)).verdict
    assert verdict.answer == "ambiguous"
    assert "below nought" in verdict.why
    assert learnt(Unknown(kind, random.Random(8))).verdict.answer == "found"


@pytest.mark.slow
def test_what_fits_no_archetype_is_unknown() -> None:
    """A burst with two digits that jump about: no number, no mark and no sign."""
    kind = profile("digits-mm")
    gauge = Unknown(kind, random.Random(9))
    plain = gauge._frame

    def restless(at_s: float) -> bytes:
        frame = plain(at_s)
        return frame[:5] + bytes([gauge.rng.randrange(10) << 4 | gauge.rng.randrange(10)])

    gauge._frame = restless  # type: ignore[method-assign]  # put in its place here
    verdict = learnt(gauge).verdict
    assert verdict.answer == "unknown"
    assert not verdict.readings


def test_the_checks_that_are_tried_are_those_of_the_catalogue() -> None:
    """Check values, of the digits 1 to 9, as the catalogue of parametrised CRC algorithms lists them."""
    listed = (0xF4, 0xA1, 0x4B37, 0xBB3D, 0x31C3, 0x29B1, 0x2189, 0xCBF43926)
    for (bits, polynomial, initial, reflected, final_xor), value in zip(CRCS, listed, strict=True):
        own = {"bits": bits, "polynomial": polynomial, "initial": initial, "reflected": reflected}
        check = CrcCheck.model_validate({"kind": "crc", "final_xor": final_xor} | own)
        assert int.from_bytes(check_of(check)(b"123456789"), "big") == value


def test_the_right_speed_is_among_those_at_which_bits_stand_alone() -> None:
    sent = bytes.fromhex("FA 80 00 19 03 EE")
    for baud in BAUDS:
        told: dict[int, bool] = {}
        while (at := next_speed(told, BAUDS)) is not None:
            got = received(sent, SerialPort(baud=baud), SerialPort(baud=at))
            told[at] = has_lone_bits([bytes(byte for _, byte in got)] * 2)
        assert baud in likely(told)
        assert all(baud / 2 < other < 2 * baud for other in likely(told))


@pytest.mark.slow
def test_a_number_that_was_never_above_nought_is_ambiguous_in_packets_too() -> None:
    """Three bytes of which the first is always FF: a mark before two, or the upper end of three."""
    kind = profile("hid-reports")
    verdict = learnt(Unknown(kind, random.Random(8), offset=-15_000_000), ports=unset(kind.port)).verdict
    assert verdict.answer == "ambiguous"
    assert "below nought" in verdict.why


def test_layouts_that_were_not_told_apart_are_ambiguous_until_they_are() -> None:
    """The minus of one is the 6 of another: -1.131 is typed as 61.131 is."""
    kind = profile("typed-mm")
    value = {"kind": "pattern", "pattern": r"(?P<value>-?\d+\.\d{3})", "template": "{:.3f}", "unit": "mm"}
    proof = [{"hex": "00", "rejected": True}]
    own = {"value": value, "port": {"kind": "keyboard", "layout": "french"}, "proof": proof}
    kind = GaugeProfile.model_validate(kind.model_dump(by_alias=True, exclude_defaults=True) | own)
    below = Unknown(kind, random.Random(8), offset=-5_000_000)
    below.travel = 2.0
    verdict = learnt(below, ports=unset(kind.port)).verdict
    assert verdict.answer == "ambiguous"
    assert "two layouts of its keys fit: zero it amid its travel" in verdict.why
    (found,) = learnt(Unknown(kind, random.Random(8)), ports=unset(kind.port)).verdict.readings
    assert isinstance(found.profile.port, KeyboardPort)
    assert found.profile.port.layout == "french"


def test_a_check_that_fails_once_is_none() -> None:
    rng = random.Random(10)
    frames = [bytes([0xA5, *data, sum(data) & 0xFF]) for data in (rng.randbytes(4) for _ in range(8))]
    assert [framing.check.kind for framing in checked(frames, 0.5)] == ["sum"]
    frames[3] = frames[3][:-1] + bytes([frames[3][-1] ^ 1])
    assert list(checked(frames, 0.5)) == []
    assert list(checked(frames[:3], 0.5)) == [], "three frames prove nothing"
