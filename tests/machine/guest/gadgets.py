"""In the machine: three USB devices that its kernel simulates itself, each on a controller of its own.

A gauge of the HID class that reads -0.190 mm, one with endpoints of its own that answers 12.3456 mm, a modem
whose DSR is on while somebody on its side has its port open: a foot switch to the tests. Written for the
interpreter alone, as nothing of ours is to be on this side.

`python gadgets.py` sets them up and stays; `python gadgets.py --without hid` takes one out, `--with hid` puts
it back.
"""

from __future__ import annotations

import contextlib
import os
import struct
import subprocess
import sys
import threading
import time
from pathlib import Path

GADGETS = Path("/sys/kernel/config/usb_gadget")
# Vendor-defined; one input report of four bytes with the number 1 (HID 1.11, 6.2.2).
REPORT = bytes.fromhex("06 00FF 0901 A101 8501 1500 26FF00 7508 9504 0902 8102 C0")
HID_READING = bytes.fromhex("01 00 42FFFF")
VENDOR_ANSWER = bytes.fromhex("01 06 0001E240")
# linux/usb/functionfs.h: version 2 of descriptors, for full and high speed; strings.
_DESCRIPTORS_V2, _STRINGS, _FULL_AND_HIGH = 3, 2, 3
_INTERFACE, _ENDPOINT, _BULK = 4, 5, 2


def made(name: str, product: int, serial: str, function: str) -> Path:
    """A device with one function, not plugged in yet."""
    device = GADGETS / name
    for folder in ("strings/0x409", "configs/c.1", f"functions/{function}"):
        (device / folder).mkdir(parents=True, exist_ok=True)
    (device / "idVendor").write_text("0x1209")
    (device / "idProduct").write_text(hex(product))
    (device / "strings/0x409/serialnumber").write_text(serial)
    (device / "strings/0x409/product").write_text(f"simulated {name}")
    return device


def plug(name: str) -> None:
    """Into the controller that is its own."""
    device = GADGETS / name
    for function in (device / "functions").iterdir():
        link = device / "configs/c.1" / function.name
        if not link.exists():
            link.symlink_to(function)
    controllers = sorted(path.name for path in Path("/sys/class/udc").iterdir())
    number = ("hid", "vendor", "modem").index(name)
    (device / "UDC").write_text(controllers[number])


def unplug(name: str) -> None:
    """Out again."""
    (GADGETS / name / "UDC").write_text("\n")


def hid() -> None:
    device = made("hid", 2, "H1", "hid.g0")
    for key, value in (
        ("protocol", b"0"),
        ("subclass", b"0"),
        ("report_length", b"5"),
        ("report_desc", REPORT),
    ):
        (device / "functions/hid.g0" / key).write_bytes(value)
    plug("hid")
    while True:
        time.sleep(0.08)
        # Opened anew each time, and not waited on: who waits while it is unplugged is not woken when it
        # is back.
        with contextlib.suppress(OSError):
            far = os.open("/dev/hidg0", os.O_WRONLY | os.O_NONBLOCK)
            try:
                os.write(far, HID_READING)
            finally:
                os.close(far)


def vendor() -> None:
    made("vendor", 3, "V1", "ffs.v0")
    Path("/run/ffs").mkdir()
    subprocess.run(["mount", "-t", "functionfs", "v0", "/run/ffs"], check=True)
    head = os.open("/run/ffs/ep0", os.O_RDWR)
    full, high = (
        struct.pack("<9B", 9, _INTERFACE, 0, 0, 2, 0xFF, 0, 0, 1)
        + struct.pack("<BBBBHB", 7, _ENDPOINT, 0x81, _BULK, size, 0)
        + struct.pack("<BBBBHB", 7, _ENDPOINT, 0x02, _BULK, size, 0)
        for size in (64, 512)
    )
    body = struct.pack("<II", 3, 3) + full + high
    os.write(head, struct.pack("<III", _DESCRIPTORS_V2, 12 + len(body), _FULL_AND_HIGH) + body)
    name = struct.pack("<H", 0x409) + b"gauge\0"
    os.write(head, struct.pack("<IIII", _STRINGS, 16 + len(name), 1, 1) + name)
    plug("vendor")
    to_host, from_host = os.open("/run/ffs/ep1", os.O_RDWR), os.open("/run/ffs/ep2", os.O_RDWR)
    while True:
        if os.read(from_host, 512) == b"read":
            os.write(to_host, VENDOR_ANSWER)


def modem() -> None:
    made("modem", 4, "M1", "acm.g0")
    plug("modem")


def main() -> None:
    if sys.argv[1:2] == ["--without"]:
        unplug(sys.argv[2])
    elif sys.argv[1:2] == ["--with"]:
        plug(sys.argv[2])
    else:
        subprocess.run(
            "mountpoint -q /sys/kernel/config || mount -t configfs none /sys/kernel/config", shell=True
        )
        for gauge in (hid, vendor):
            threading.Thread(target=gauge, daemon=True).start()
        modem()
        threading.Event().wait()


if __name__ == "__main__":
    main()
