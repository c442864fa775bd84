"""Rules of udev by which the bay's user, and nobody else, may open the gauges of a configuration.

Only what the configuration names by its USB identity gets one: a rule for every keyboard would let the bay's
user read what is typed on any.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from config.profile import (
    GaugeProfile,
    HidPort,
    KeyboardPort,
    PlainDevice,
    PortSettings,
    SerialPort,
    UsbPort,
)
from config.settings import Settings
from config.toml import read_toml
from config.usb import UsbIdentity
from drivers.finding import Placed
from drivers.switches import port_settings

GROUP = "dialout"
"""Debian's group of serial ports; one group is enough for all kinds."""
HEAD = """\
# Made by ringtrue gauges --udev: lets the group {group} open the gauges of {bay}.
# Goes into /etc/udev/rules.d/; then: udevadm control --reload, udevadm trigger."""


def rules(settings: Settings) -> list[str]:
    """The file's lines; comments alone where nothing needs a rule."""
    lines = [line for name, placed, port in _placed(settings) for line in _of(name, placed, port)]
    if all(line.startswith("#") for line in lines):
        return ["# No rule is needed:", *lines]
    head = HEAD.format(group=GROUP, bay=f"{settings.bay.site}/{settings.bay.name}")
    return [*head.splitlines(), *lines]


def groups(settings: Settings) -> list[str]:
    """What else is needed, in sentences."""
    ports = [port for _, placed, port in _placed(settings) if placed.usb is not None or _is_here(placed)]
    if not ports:
        return ["no group is needed: no gauge is on a device of this machine"]
    said = [f"the daemon's user must be in the group {GROUP}: sudo usermod -aG {GROUP} ringtrue"]
    more = []
    if any(isinstance(port, HidPort | UsbPort) for port in ports):
        more.append("  DeviceAllow=char-usb_device rw")
    if any(isinstance(port, KeyboardPort) for port in ports):
        more.append("  DeviceAllow=char-input r")
    if more:
        said += [
            "under systemd it may open serial ports alone until `systemctl edit ringtrue` lets it more:",
            "  [Service]",
        ]
    return said + more


def _placed(settings: Settings) -> Iterator[tuple[str, Placed, PortSettings]]:
    """What each gauge is called, where it is, and how its port is set; the switch for marks too."""
    for gauge in settings.gauge:
        yield gauge.id, gauge, read_toml(Path(gauge.profile), GaugeProfile).port
    if (press := settings.angle.press) is not None:
        yield f"the {press.by} for marks", press, port_settings(press)


def _is_here(placed: Placed) -> bool:
    """Whether it is a device of this machine, and no URL."""
    return placed.port is not None and "://" not in placed.port


def _of(name: str, placed: Placed, port: PortSettings) -> list[str]:
    if placed.usb is not None:
        return [f"# {name}", *_rule(placed.usb, port)]
    if not _is_here(placed) or isinstance(port, SerialPort | PlainDevice):
        return [f"# {name}: {placed.port}, which needs none"]
    return [f"# {name}: {placed.port} has a rule only where usb says what it is (ringtrue gauges prints it)"]


def _rule(usb: UsbIdentity, port: PortSettings) -> list[str]:
    may = f'GROUP="{GROUP}", MODE="0660"'
    if isinstance(port, KeyboardPort):
        # What reads it for desktops and logins leaves it alone: it types into nothing else, also while no
        # daemon runs.
        alone = 'ENV{LIBINPUT_IGNORE_DEVICE}="1"'
        return [f'SUBSYSTEM=="input", KERNEL=="event*", {_match(usb, "ATTRS")}, {may}, {alone}']
    if isinstance(port, HidPort | UsbPort):
        rules = [f'SUBSYSTEM=="usb", ENV{{DEVTYPE}}=="usb_device", {_match(usb, "ATTR")}, {may}']
        if isinstance(port, HidPort):  # so that `ringtrue gauges` may look at it beside its driver
            rules.append(f'SUBSYSTEM=="hidraw", {_match(usb, "ATTRS")}, {may}')
        return rules
    # A service that looks for modems would write into a gauge.
    return [f'SUBSYSTEM=="tty", {_match(usb, "ATTRS")}, {may}, ENV{{ID_MM_PORT_IGNORE}}="1"']


def _match(usb: UsbIdentity, attribute: str) -> str:
    """The device, wherever it is plugged in: places are the configuration's affair."""
    said = {"idVendor": f"{usb.vendor:04x}", "idProduct": f"{usb.product:04x}"}
    if usb.serial is not None:
        # A serial number is the device's own text: what udev would read as a pattern stands for any letter.
        said["serial"] = "".join(
            letter if letter.isalnum() or letter in "-_.:/" else "?" for letter in usb.serial
        )
    return ", ".join(f'{attribute}{{{name}}}=="{value}"' for name, value in said.items())
