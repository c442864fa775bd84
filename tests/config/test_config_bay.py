"""A bay's configuration together with the files it names."""

from __future__ import annotations

from pathlib import Path

import pytest

from config.bay import read_bay
from config.errors import ConfigError
from config.files import shipped
from config.profile import GaugeProfile
from config.toml import read_toml
from tests.config.test_config_settings import GOOD


def problems(folder: Path, text: str) -> list[str]:
    file = folder / "bay.toml"
    file.write_text(text)
    with pytest.raises(ConfigError) as caught:
        read_bay(file, {})
    return [str(problem).replace(f"{folder}/", "") for problem in caught.value.problems]


def test_a_good_bay(tmp_path: Path) -> None:
    (tmp_path / "bay.toml").write_text(GOOD)
    bay = read_bay(tmp_path / "bay.toml", {})
    assert bay.method.id == "example"
    assert {gauge: profile.id for gauge, profile in bay.profiles.items()} == {
        "indicator-1": "line-mm",
        "encoder-1": "encoder-degrees",
    }


def test_mistakes_of_method_and_profile_come_together(tmp_path: Path) -> None:
    (tmp_path / "m.toml").write_text(shipped("methods", "example").read_text() + "\nnonsense = 1\n")
    (tmp_path / "g.toml").write_text(shipped("gauges", "line-mm").read_text().replace('"mm"', '"furlong"', 1))
    found = problems(tmp_path, GOOD.replace('"example"', '"m.toml"').replace('"line-mm"', '"g.toml"'))
    assert [line.partition(":")[0] for line in found] == ["m.toml", "g.toml"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            '"encoder-degrees"',
            '"line-mm"',
            "bay.toml:19: angle.gauge: expected the encoder, a gauge that gives deg or count",
        ),
        ('"line-mm"', '"encoder-degrees"', "bay.toml:8: gauge indicator-1: expected one that gives mm or in"),
        ('"encoder-degrees"', '"encoder-counts"', "bay.toml:13: gauge encoder-1: expected counts_per_turn"),
        (
            "usb = {",
            "counts_per_turn = 9\nusb = {",
            "bay.toml:16: gauge encoder-1: expected no counts_per_turn",
        ),
    ],
)
def test_a_gauge_must_suit_what_the_bay_wants_of_it(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert any(said in line for line in problems(tmp_path, GOOD.replace(old, new, 1)))


def test_a_length_gauge_named_as_encoder_is_what_is_told(tmp_path: Path) -> None:
    """Not that the real encoder has no resolution."""
    found = problems(tmp_path, GOOD.replace('gauge = "encoder-1"', 'gauge = "indicator-1"'))
    assert any("angle.gauge: expected the encoder" in line and "indicator-1" in line for line in found)
    assert not any("resolution_mm" in line for line in found)


def test_marks_with_an_encoder_left_in_says_what_to_take_out(tmp_path: Path) -> None:
    """README's complete example with only `source` changed, and then with its first message obeyed."""
    marks = GOOD.replace('source = "encoder"', 'source = "marks"')
    (line,) = problems(tmp_path, marks)
    assert line.startswith("bay.toml:19: angle.gauge: expected no gauge")
    assert 'take out this line, and the whole [[gauge]] with id = "encoder-1"' in line
    (line,) = problems(tmp_path, marks.replace('gauge = "encoder-1"\n', ""))
    assert line.startswith("bay.toml:15: gauge encoder-1: expected")
    assert 'take out this whole [[gauge]], as source is "marks"' in line


def test_a_length_gauge_without_its_facts_is_told_with_marks_too(tmp_path: Path) -> None:
    bare = GOOD.replace("resolution_mm = 0.001\nmpe_mm = 0.004\n", "")
    marks = bare.replace('source = "encoder"\ngauge = "encoder-1"', 'source = "marks"')
    found = problems(tmp_path, marks)
    assert any("gauge indicator-1 resolution_mm: expected it" in line for line in found)


@pytest.mark.parametrize(
    ("profile", "port", "said"),
    [
        ("hid-reports", "/dev/hidraw0", 'usb in its place, or where it is plugged in ("usb:1-2")'),
        ("usb-lines", "socket://127.0.0.1:4000", "usb in its place, or where it is plugged in"),
        ("typed-mm", "usb:1-2", "usb in its place, or an input device such as one of /dev/input/by-id"),
        ("line-mm", "usb:1-2", "a device such as /dev/ttyUSB0, a URL, or usb in its place"),
        ("hid-reports", "usb:1-2.3", None),
        ("typed-mm", "/dev/input/event5", None),
    ],
)
def test_a_port_must_be_named_as_its_kind_is(
    tmp_path: Path, profile: str, port: str, said: str | None
) -> None:
    text = GOOD.replace('"line-mm"', f'"{profile}"').replace('"/dev/serial/by-id/one"', f'"{port}"')
    assert port in text
    if said is None:
        (tmp_path / "bay.toml").write_text(text)
        assert read_bay(tmp_path / "bay.toml", {}).profiles["indicator-1"].id == profile
    else:
        (line,) = problems(tmp_path, text)
        assert f"gauge indicator-1 port: expected {said}" in line
        assert line.startswith("bay.toml:")


def test_a_gauge_may_be_later_than_its_profile_says(tmp_path: Path) -> None:
    file = tmp_path / "bay.toml"
    file.write_text(GOOD.replace("usb = {", "latency_s = 0.02\nlatency_u_s = 0.005\nusb = {"))
    profiles = read_bay(file, {}).profiles
    own, other = profiles["encoder-1"].latency, profiles["indicator-1"].latency
    assert (own.latency_s, own.u_s) == (0.02, 0.005)
    assert profiles["encoder-1"].latency_ns == 20_000_000
    assert other == read_toml(shipped("gauges", "line-mm"), GaugeProfile).latency
    file.write_text(GOOD.replace("usb = {", "latency_u_s = 0.005\nusb = {"))
    own = read_bay(file, {}).profiles["encoder-1"].latency
    assert (own.latency_s, own.u_s) == (0.0, 0.005)
