"""Every kept capture, played through the daemon as its user has it: what it publishes is what was shown."""

from __future__ import annotations

import json
import signal
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from config.files import shipped_names
from config.profile import Framing, HidPort, LineFraming, Requested, UsbPort
from drivers.capture import Capture, Piece, read_capture, written
from tests.drivers.kept_captures import FOLDER
from tests.drivers.support import profile
from tests.link.outside import ear, mosquitto
from tests.ringtrue.test_ringtrue_run import ringtrue

pytestmark = pytest.mark.slow

SPEED, SECOND_NS = 10, 10**9
# Seconds in which the daemon has found its broker: nothing of the captures comes before.
QUIET_S = 8.0
ENCODERS = ("encoder-degrees", "encoder-counts", "encoder-index")


def quiet_at_first(capture: Capture, name: str) -> Capture:
    """After so much silence; of a gauge that is asked after requests that stay unanswered for so long."""
    manner = profile(name).manner
    if isinstance(manner, Requested):
        unanswered = round(QUIET_S / manner.timeout_s)
        return replace(
            capture, pieces=[*[Piece(0, manner.request_bytes, sent=True)] * unanswered, *capture.pieces]
        )
    late_ns = round(QUIET_S * SPEED) * SECOND_NS
    pieces = []
    for sooner, piece in pairwise([capture.pieces[0], *capture.pieces]):
        # What parts half a frame from the next must last as long as it did.
        if is_cut(sooner, profile(name).framing) and piece.time_ns - sooner.time_ns > SECOND_NS // 2:
            late_ns += (piece.time_ns - sooner.time_ns) * SPEED
        pieces.append(replace(piece, time_ns=piece.time_ns + late_ns))
    return replace(capture, pieces=pieces, ended_ns=capture.ended_ns + late_ns)


def is_cut(piece: Piece, framing: Framing) -> bool:
    return isinstance(framing, LineFraming) and not piece.data.endswith(framing.terminator_bytes)


def bay(url: str, names: Sequence[str]) -> str:
    """A bay with a gauge of each of these profiles, which has its name."""
    encoder = next(name for name in names if name in ENCODERS)
    text = f'[bay]\nsite = "greywacke"\nname = "bay-2"\n[mqtt]\nurl = "{url}"\n[method]\nfile = "example"\n'
    for place, name in enumerate(names, 1):
        port = f"usb:1-{place}" if isinstance(profile(name).port, UsbPort | HidPort) else f"/dev/none-{name}"
        facts = "resolution_mm = 0.001\nmpe_mm = 0.004" if name not in ENCODERS else ""
        facts += "counts_per_turn = 14400" if name.startswith(("encoder-c", "encoder-i")) else ""
        text += f'[[gauge]]\nid = "{name}"\nprofile = "{name}"\nport = "{port}"\n{facts}\n'
    return text + f'[angle]\nsource = "encoder"\ngauge = "{encoder}"\n'


def golden(name: str) -> list[int]:
    return [int(line.split()[1]) for line in (FOLDER / f"{name}.readings").read_text().splitlines()]


@pytest.mark.parametrize("encoder", ENCODERS)
async def test_what_the_daemon_publishes_is_what_each_gauge_showed(encoder: str, tmp_path: Path) -> None:
    others = [name for name in shipped_names("gauges") if name not in ENCODERS]
    names = [encoder, *(others if encoder == ENCODERS[0] else [])]
    played = []
    for name in names:
        capture = quiet_at_first(read_capture(FOLDER / f"{name}.cap"), name)
        (tmp_path / f"{name}.cap").write_text(written(capture))
        played.append(f"--from-capture={name}={tmp_path / name}.cap?speed={SPEED}")
    async with mosquitto(tmp_path) as broker:
        config = tmp_path / "bay.toml"
        config.write_text(bay(f"mqtt://127.0.0.1:{broker.address.port}", names))
        root = "ringtrue/1/greywacke/bay-2-replay"
        async with (
            ear(broker.address, f"{root}/#") as heard,
            ringtrue("run", "--config", config, *played) as run,
        ):
            await heard.until(lambda all_: any(topic == f"{root}/status" for topic, *_ in all_))
            assert not heard.payloads("/reading"), "it came up too late to be heard from the beginning"
            for name in names:
                wanted = golden(name)
                with suppress(TimeoutError):
                    await heard.until(
                        # A default binds the loop variable.
                        lambda _, name=name, wanted=wanted: (  # type: ignore[misc]
                            len(heard.payloads(f"/{name}/reading")) >= len(wanted)
                        ),
                        patience_s=4 * QUIET_S,
                    )
                said = [json.loads(payload) for payload in heard.payloads(f"/{name}/reading")]
                assert [whole(one) for one in said] == wanted, name
                numbers = [one["seq"] for one in said]
                assert numbers == sorted(set(numbers))
                assert numbers[-1] - numbers[0] == len(wanted) + 1, f"{name}: one was damaged, and one cut"
            run.process.send_signal(signal.SIGTERM)
            assert await run.ended() == 0


def whole(said: dict[str, float]) -> int:
    """The value in nanometres, microdegrees or counts."""
    if "count" in said:
        return round(said["count"])
    return round(said["value_mm" if "value_mm" in said else "value_deg"] * 1_000_000)
