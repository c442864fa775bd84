"""Gauges on one port: refused under whatever names, unless a box sends them on one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from config.bay import read_bay
from config.files import shipped
from config.profile import GaugeProfile
from config.sharing import place
from config.toml import read_toml
from tests.config.test_config_bay import problems
from tests.config.test_config_settings import GOOD

FIRST, SECOND = "channels-first-mm", "channels-second-mm"
USB = "usb = { vendor = 0x1209, product = 1 }"
FACTS = "resolution_mm = 0.001\nmpe_mm = 0.004\n"
OWN = "a port of its own; or, where a box sends both on a line, profiles that each have a channel"
APART = "what tells the two apart: a serial for each of them, or a location for each"
HEAD = '[bay]\nsite = "greywacke"\nname = "bay-2"\n[method]\nfile = "example"\n'
TAIL = '[angle]\nsource = "marks"\nmarks_deg = [0, 120]\n'


def bay(*gauges: tuple[str, str], more: str = "") -> str:
    """A bay with gauges of these profiles at these places."""
    text = HEAD
    for number, (profile, where) in enumerate(gauges, 1):
        text += f'[[gauge]]\nid = "gauge-{number}"\nprofile = "{profile}"\n{where}\n{FACTS}'
    return text + TAIL + more


def own(folder: Path, name: str, old: str, new: str) -> str:
    text = shipped("gauges", name).read_text()
    assert old in text
    (folder / f"own-{name}.toml").write_text(text.replace(old, new, 1))
    return f"own-{name}.toml"


def port(name: str) -> str:
    return f'port = "{name}"'


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("/dev/ttyS9", "/dev/ttyS9"),
        ("{folder}/by-id", "{folder}/tty"),
        ("socket://box:4000", "socket://box:4000"),
        ("socket://box:4000", "SOCKET://BOX:4000?logging=debug"),
        ("socket://localhost:4000", "rfc2217://127.0.0.1:4000"),
        ("usb:1-2", "usb:1-2"),
    ],
)
def test_two_on_one_port_are_refused_by_one_line(tmp_path: Path, one: str, other: str) -> None:
    (tmp_path / "tty").touch()
    (tmp_path / "by-id").symlink_to(tmp_path / "tty")
    one, other = (name.format(folder=tmp_path) for name in (one, other))
    profile = "usb-lines" if one.startswith("usb:") else "line-mm"
    (line,) = problems(tmp_path, bay((profile, port(one)), (profile, port(other))))
    assert line.startswith(f'bay.toml:15: gauge gauge-2 port: expected {OWN}, found "')
    assert line.endswith(", which is the port of gauge gauge-1 too")


@pytest.mark.parametrize(
    ("one", "other"),
    [("/dev/ttyS8", "/dev/ttyS9"), ("socket://box:4000", "socket://box:4001"), ("usb:1-2", "usb:1-2.1")],
)
def test_two_on_two_ports_are_two(tmp_path: Path, one: str, other: str) -> None:
    profile = "usb-lines" if one.startswith("usb:") else "line-mm"
    (tmp_path / "bay.toml").write_text(bay((profile, port(one)), (profile, port(other))))
    assert len(read_bay(tmp_path / "bay.toml", {}).profiles) == 2


def test_a_url_that_is_none_is_a_place_of_its_own() -> None:
    assert place("socket://box:many") == ("socket://box:many",)
    assert place("loop://") == ("loop://",)


@pytest.mark.parametrize("where", [port("/dev/ttyS9"), port("socket://box:4000"), USB])
def test_channels_of_one_box_are_two_gauges_of_one_port(tmp_path: Path, where: str) -> None:
    (tmp_path / "bay.toml").write_text(bay((FIRST, where), (SECOND, where)))
    assert len(read_bay(tmp_path / "bay.toml", {}).profiles) == 2


def test_a_channel_is_one_gauge_and_what_is_common_must_be(tmp_path: Path) -> None:
    where = port("/dev/ttyS9")
    (line,) = problems(tmp_path, bay((FIRST, where), (FIRST, where)))
    assert "expected a profile of another channel than first, or a port of its own" in line
    for old, new in (("baud = 115200", "baud = 9600"), ("period_s = 0.5", "period_s = 0.4")):
        other = own(tmp_path, SECOND, old, new)
        (line,) = problems(tmp_path, bay((FIRST, where), (other, where)))
        assert "expected profiles that have port and manner in common" in line
    (line,) = problems(tmp_path, bay((FIRST, where), ("line-mm", where)))
    assert f"expected {OWN}" in line


@pytest.mark.parametrize(
    ("one", "other", "may_be_one"),
    [
        ("", "", True),
        ('serial = "A7"', "", True),
        ('serial = "A7"', 'serial = "A7"', True),
        ('serial = "A7"', 'location = "1-2"', True),
        ('serial = "A7"', 'serial = "B2"', False),
        ('location = "1-1"', 'location = "1-2"', False),
        ('serial = "A7", location = "1-1"', 'serial = "A7", location = "1-2"', False),
        ('serial = "A7", location = "1-1"', 'serial = "A7"', True),
    ],
)
def test_two_gauges_that_may_be_one_device_must_be_told_apart(
    tmp_path: Path, one: str, other: str, may_be_one: bool
) -> None:
    """Else, with one of two adapters alike unplugged, the other would be taken for it."""
    usb = "usb = {{vendor = 0x1209, product = 1{}{}}}"
    text = GOOD.replace('port = "/dev/serial/by-id/one"', usb.format(", " if one else "", one)).replace(
        "usb = {vendor = 0x1209, product = 1}\n[angle]",
        usb.format(", " if other else "", other) + "\n[angle]",
    )
    if may_be_one:
        (line,) = problems(tmp_path, text)
        assert line.startswith(f"bay.toml:16: gauge encoder-1 usb: expected {APART}")
    else:
        (tmp_path / "bay.toml").write_text(text)
        assert len(read_bay(tmp_path / "bay.toml", {}).profiles) == 2


def test_two_interfaces_of_one_device_are_two(tmp_path: Path) -> None:
    one, other = (
        own(tmp_path, name, 'kind = "usb"', f'kind = "usb"\ninterface = {n}')
        for n, name in enumerate(("usb-lines", "usb-requested"))
    )
    for where in (port("usb:1-2"), USB):
        (tmp_path / "bay.toml").write_text(bay((one, where), (other, where)))
        assert len(read_bay(tmp_path / "bay.toml", {}).profiles) == 2


def test_a_foot_switch_wants_a_port_of_its_own(tmp_path: Path) -> None:
    press = f'[angle.press]\nkind = "modem-line"\n{port("/dev/ttyS9")}\n'
    (line,) = problems(tmp_path, bay(("line-mm", port("/dev/ttyS9")), more=press))
    assert f"angle.press port: expected {OWN}, found" in line


def test_which_channel_a_key_is_for_nothing_tells() -> None:
    table = read_toml(shipped("gauges", "modem-line-mm"), GaugeProfile).model_dump(by_alias=True)
    with pytest.raises(ValueError, match="which one its key is for is not told"):
        GaugeProfile.model_validate(table | {"channel": "A"})
