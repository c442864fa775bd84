from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from config.profile import SerialPort
from drivers.errors import PortAbsentError
from drivers.finding import find_port
from drivers.transports import PortInfo, listed_ports
from tests.drivers.support import settings


@dataclass
class Listed:
    device: str
    vid: int | None = 0x1234
    pid: int | None = 0x0001
    serial_number: str | None = "A7"
    location: str | None = "1-2"


USB = {"vendor": 0x1234, "product": 0x0001}


def found(usb: Mapping[str, object], *ports: PortInfo) -> str:
    return find_port(settings(usb=usb), SerialPort(), lambda _: ports)


def test_a_path_is_used_as_it_is_and_its_absence_said(tmp_path: Path) -> None:
    (tmp_path / "here").touch()
    assert find_port(settings(str(tmp_path / "here")), SerialPort()) == str(tmp_path / "here")
    with pytest.raises(PortAbsentError, match="gone is not there: plug the gauge in"):
        find_port(settings(str(tmp_path / "gone")), SerialPort())


def test_a_link_that_leads_nowhere_is_absent(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(tmp_path / "gone")
    with pytest.raises(PortAbsentError):
        find_port(settings(str(tmp_path / "link")), SerialPort())


def test_a_url_is_left_to_whoever_opens_it() -> None:
    assert find_port(settings("socket://127.0.0.1:1"), SerialPort()) == "socket://127.0.0.1:1"


def test_an_identity_is_found_under_any_name() -> None:
    other = Listed("/dev/ttyS0", None, None, None, None)
    assert found(USB, other, Listed("/dev/ttyUSB0")) == "/dev/ttyUSB0"
    assert found(USB, Listed("/dev/ttyUSB4"), other) == "/dev/ttyUSB4"


@pytest.mark.parametrize(
    "usb",
    [USB | {"serial": "A8"}, USB | {"location": "1-3"}, USB | {"vendor": 0x4321}, USB | {"product": 2}],
)
def test_another_identity_is_not(usb: dict[str, object]) -> None:
    with pytest.raises(PortAbsentError, match="is plugged in: plug the gauge in"):
        found(usb, Listed("/dev/ttyUSB0"))


def test_of_two_alike_none_is_guessed() -> None:
    twins = Listed("/dev/ttyUSB1", location="1-1"), Listed("/dev/ttyUSB0", location="1-2")
    with pytest.raises(PortAbsentError) as caught:
        found(USB | {"serial": "A7"}, *twins)
    assert str(caught.value) == (
        "/dev/ttyUSB0 and /dev/ttyUSB1 both have vendor 0x1234, product 0x0001, serial A7: "
        "add serial or location to tell them apart"
    )
    assert found(USB | {"location": "1-1"}, *twins) == "/dev/ttyUSB1"


@pytest.mark.parametrize(
    ("other", "is_alike"),
    [
        (Listed("/dev/other", location="1-3"), True),
        (Listed("/dev/other", serial_number="B2", location="1-3"), False),
        (Listed("/dev/other", pid=2, location="1-3"), False),
        (Listed("/dev/other", location="1-2:1.1"), False),  # the second port of the same adapter
    ],
)
def test_a_name_that_two_adapters_share_is_neither(
    other: PortInfo, is_alike: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """udev's name by identity leads to whichever of two alike came last."""
    monkeypatch.setattr("drivers.finding.BY_ID", f"{tmp_path}/by-id/")
    (tmp_path / "tty").touch()
    (tmp_path / "by-id").mkdir()
    name = tmp_path / "by-id/usb-thing"
    name.symlink_to(tmp_path / "tty")
    location = "1-2:1.0" if ":" in str(other.location) else "1-2"
    listed = [Listed(str(tmp_path / "tty"), location=location), other]
    if is_alike:
        with pytest.raises(PortAbsentError, match="which are alike: say where it is plugged in"):
            find_port(settings(str(name)), SerialPort(), lambda _: listed)
    else:
        assert find_port(settings(str(name)), SerialPort(), lambda _: listed) == str(name)


def test_the_ports_of_this_machine_can_be_listed() -> None:
    assert all(port.device for port in listed_ports(SerialPort()))
