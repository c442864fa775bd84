from __future__ import annotations

from pathlib import Path

import pytest

from drivers.places import is_at, place_of


@pytest.fixture
def devices(tmp_path: Path) -> Path:
    """What a kernel has in /sys: a device at a hub of a PCI controller, and one of a board's own."""
    found = tmp_path / "bus"
    found.mkdir()
    for path in ("pci0000:00/0000:00:04.0/usb1/1-2/1-2.3", "platform/fe980000.usb/usb3/3-1"):
        (tmp_path / "devices" / path).mkdir(parents=True)
        (found / Path(path).name).symlink_to(tmp_path / "devices" / path)
    return found


@pytest.mark.parametrize(
    ("location", "place"),
    [
        ("1-2.3", "0000:00:04.0/2.3"),
        ("1-2.3:1.1", "0000:00:04.0/2.3:1.1"),
        ("3-1", "fe980000.usb/1"),
        ("4-1", None),
        ("ttyS0", None),
        (None, None),
    ],
)
def test_a_place_is_the_controller_and_the_sockets_from_there(
    location: str | None, place: str | None, devices: Path
) -> None:
    assert place_of(location, devices) == place


def test_a_bus_that_was_numbered_anew_is_the_same_place(devices: Path) -> None:
    before = place_of("1-2.3", devices)
    hub = devices.parent / "devices/pci0000:00/0000:00:04.0"
    (hub / "usb1").rename(hub / "usb7")
    (hub / "usb7/1-2/1-2.3").rename(hub / "usb7/1-2/7-2.3")
    (hub / "usb7/1-2").rename(hub / "usb7/7-2")
    (devices / "7-2.3").symlink_to(hub / "usb7/7-2/7-2.3")
    assert place_of("7-2.3", devices) == before


def test_what_the_kernel_calls_it_and_its_place_both_do(devices: Path) -> None:
    assert is_at("1-2.3", "1-2.3", devices)
    assert is_at("1-2.3", "0000:00:04.0/2.3", devices)
    assert not is_at("1-2.3", "0000:00:04.0/2", devices)
    assert not is_at(None, "1-2.3", devices)
