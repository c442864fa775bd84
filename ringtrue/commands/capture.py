"""`ringtrue capture`: the bytes of a port with their times, kept in a file."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import UsageError, baud, seconds, serial_frame

if TYPE_CHECKING:
    from config.profile import GaugeProfile, PortSettings
    from drivers.capture import Capture
    from ringtrue.capturing import Asking

EXAMPLE = """\
examples:
  ringtrue capture /dev/ttyUSB0 --seconds 10
  ringtrue capture /dev/ttyUSB0 --baud 4800 --frame 7E1 -o shelf-gauge.cap
  ringtrue capture /dev/ttyUSB0 --profile line-requested-mm --may-transmit
  ringtrue run --from-capture indicator-1=shelf-gauge.cap

exit: 0 something came, and is in the file; 1 nothing came: no file is made; 2 usage;
3 the port cannot be used, or failed (what came before is in the file).
"""


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "capture",
        help="keep the bytes of a port with their times, to be looked at or played again",
        description=(
            "Listens on a port and keeps what comes, byte for byte with its times, until Ctrl-C or for "
            "--seconds. It sends nothing, except to a gauge whose profile says that it must be asked, and "
            "then only with --may-transmit. The file is text, docs/gauges.md says how to read it; it is "
            "made at the end, whole."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("port", help="a device, or a URL that stands for one")
    parser.add_argument(
        "-o", "--output", metavar="FILE", help="where to (default: capture-TIME.cap here; -: standard output)"
    )
    parser.add_argument(
        "--seconds", type=seconds, metavar="N", help="for how long (default: until Ctrl-C, or 16 MB)"
    )
    parser.add_argument("--profile", metavar="NAME", help="a profile's name or file: its port settings")
    parser.add_argument("--baud", type=baud, default=9600, help="speed, without a profile (default: 9600)")
    parser.add_argument(
        "--frame", type=serial_frame, default="8N1", help="bits, parity, stop bits (default: 8N1)"
    )
    parser.add_argument(
        "--may-transmit", action="store_true", help="a gauge of the profile may be asked for its readings"
    )
    parser.add_argument("--note", default="", help="a sentence for whoever reads the file")


def run(args: argparse.Namespace) -> int:
    """Do it. Raises PortError where the port cannot be opened."""
    import asyncio
    from datetime import UTC, datetime

    from drivers.capture import written

    settings, asking, profile = _how(args)
    began = datetime.now(UTC)
    place = Path(args.output or f"capture-{began:%Y%m%dT%H%M%SZ}.cap")
    if args.output != "-" and place.exists():
        raise UsageError("-o", str(place), "the name of a file that is not there yet")
    if args.output != "-" and not os.access(place.absolute().parent, os.W_OK):
        raise UsageError("-o", str(place), "a folder that is there and can be written")
    at = began.isoformat(timespec="seconds").replace("+00:00", "Z")
    capture, failed = asyncio.run(_capture(args, settings, asking, profile, at))
    if failed:
        print(f"{args.port}: {capture.reason}", file=sys.stderr)
    if not capture.heard_bytes:
        print(
            f"nothing came on {args.port}: switch the gauge on, check its cable, press its key; one that "
            "must be asked needs --profile and --may-transmit",
            file=sys.stderr,
        )
        return 3 if failed else 1
    if args.output == "-":
        print(written(capture), end="")
    else:
        fresh = place.with_name(f".{place.name}.{os.getpid()}")
        fresh.write_text(written(capture))
        fresh.replace(place)
        pieces = sum(not piece.sent for piece in capture.pieces)
        print(f"{place}: {capture.heard_bytes} bytes in {pieces} pieces, {capture.ended_ns / 1e9:.1f} s")
    return 3 if failed else 0


def _how(args: argparse.Namespace) -> tuple[PortSettings, Asking | None, GaugeProfile | None]:
    """How the port is set, what is asked on it, and by which profile."""
    from config.profile import Requested
    from ringtrue.arguments import named_profile
    from ringtrue.capturing import Asking

    if args.profile is None:
        if args.may_transmit:
            raise UsageError("--may-transmit", "no --profile", "the profile that says what to ask")
        return args.frame.model_copy(update={"baud": args.baud}), None, None
    profile = named_profile(args.profile)
    if isinstance(profile.manner, Requested) and args.may_transmit:
        return profile.port, Asking(profile.manner.request_bytes, profile.manner.period_s), profile
    return profile.port, None, profile


async def _capture(
    args: argparse.Namespace,
    settings: PortSettings,
    asking: Asking | None,
    profile: GaugeProfile | None,
    began: str,
) -> tuple[Capture, bool]:
    """What came, and whether the port failed."""
    import asyncio
    import signal

    from acquire.clock import RealClock
    from drivers.reader import PortReader
    from drivers.transports import close_port, open_port
    from ringtrue.capturing import Recorder, record, spelled

    clock, loop = RealClock(), asyncio.get_running_loop()
    async with PortReader(clock) as reader:
        port = await asyncio.to_thread(open_port, args.port, settings)
        try:
            recorder = Recorder(clock)
            for number in (signal.SIGINT, signal.SIGTERM):
                loop.add_signal_handler(number, recorder.finish, "Ctrl-C")
            await record(port, reader, recorder, args.seconds, asking)
        finally:
            await asyncio.to_thread(close_port, port)
    head = {"port": spelled(settings), "began": began}
    head |= {"profile": profile.id} if profile is not None else {}
    head |= {"note": args.note} if args.note else {}
    return recorder.capture(head), recorder.failed
