"""Captures: as written so read, refused where they are none, and played as they came."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.files import shipped_names
from config.profile import SerialPort
from config.settings import GaugeSettings
from drivers.assembly import Assembler
from drivers.capture import Capture, Piece, read_capture, written
from drivers.errors import CaptureError, PortAbsentError, PortError
from drivers.state import PortState
from drivers.transports import open_port
from tests.drivers.kept_captures import FOLDER, made
from tests.drivers.support import Heard, free_running, profile, requested, running, settings

SPEED = "?speed=1000"


def kept(tmp_path: Path, *pieces: Piece) -> Path:
    file = tmp_path / "kept.cap"
    file.write_text(written(Capture(pieces, pieces[-1].time_ns, "Ctrl-C")))
    return file


def playing(port: str) -> GaugeSettings:
    """As `run --from-capture` sets a gauge; a bay's own file may not."""
    return settings().model_copy(update={"port": port})


@given(
    st.lists(
        st.tuples(st.integers(0, 10**12), st.binary(min_size=1, max_size=40), st.integers(0, 10**9)),
        max_size=30,
    ),
    st.text(max_size=40),
)
def test_what_is_written_is_read_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, drawn: list[tuple[int, bytes, int]], note: str
) -> None:
    pieces, now_ns = [], 0
    for number, (after_ns, data, early_ns) in enumerate(drawn):
        now_ns += after_ns
        sent = number % 3 == 2
        pieces.append(Piece(now_ns, data, 0 if sent else early_ns, sent))
    file = tmp_path_factory.getbasetemp() / "any.cap"
    file.write_text(written(Capture(pieces, now_ns, "Ctrl-C", {"note": note})))
    read = read_capture(file)
    assert (read.pieces, read.ended_ns, read.reason) == (pieces, now_ns, "Ctrl-C")
    assert read.head["note"] == " ".join(note.split())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not a capture"),
        ("schema = 1\n", "not a capture"),
        ("ringtrue capture 1\nport: 9600 8N1\n", "cut short"),
        ("ringtrue capture 1\n\n< 5 0 2b\n", "cut short"),
        ("ringtrue capture 1\n\n< 5 0 2\nend 5 x\n", ":3: expected"),
        ("ringtrue capture 1\n\n< 5 0\nend 5 x\n", ":3: expected"),
        ("ringtrue capture 1\n\n\nend 5 x\n", ":3: expected"),
        ("ringtrue capture 1\n\n= 5 0 2b\nend 5 x\n", ":3: expected"),
        ("ringtrue capture 1\n\n< 5 0 2b\n< 4 0 2b\nend 5 x\n", "times fall"),
        ("ringtrue capture 1\n\n< 5 0 2b\nend 4 x\n", "times fall"),
    ],
)
def test_what_is_no_whole_capture_is_refused_with_its_line(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "wrong.cap"
    file.write_text(text)
    with pytest.raises(CaptureError, match=said):
        read_capture(file)
    with pytest.raises(PortError, match=said):
        open_port(f"capture:{file}", SerialPort())


def test_a_capture_that_is_not_there_or_has_no_sensible_speed_is_a_port_that_cannot_be_opened(
    tmp_path: Path,
) -> None:
    with pytest.raises(PortAbsentError, match="give a capture's file"):
        open_port(f"capture:{tmp_path / 'none.cap'}", SerialPort())
    file = kept(tmp_path, Piece(1, b"+"))
    for speed in ("0", "-1", "nan", "inf", "quick"):
        with pytest.raises(PortError, match="a speed such as"):
            open_port(f"capture:{file}?speed={speed}", SerialPort())


@pytest.mark.parametrize("name", shipped_names("gauges"))
def test_a_kept_capture_of_each_profile_gives_what_its_gauge_showed(name: str) -> None:
    assembler, readings = Assembler(name, profile(name)), []
    for piece in read_capture(FOLDER / f"{name}.cap").pieces:
        if piece.sent:
            assembler.restart()
        else:
            readings += assembler.feed(piece.data, piece.time_ns, piece.time_ns - piece.early_ns)
    shown = [line.split() for line in (FOLDER / f"{name}.readings").read_text().splitlines()]
    latency_ns = profile(name).latency_ns
    assert [(r.time_ns + latency_ns, r.value) for r in readings] == [(int(t), int(v)) for t, v in shown]
    holes = [later for sooner, later in pairwise(readings) if later.seq > sooner.seq + 1]
    assert len(holes) == 2, "what was damaged or cut took a number"


@pytest.mark.parametrize("name", shipped_names("gauges"))
def test_the_kept_captures_are_those_that_the_simulators_make(name: str) -> None:
    assert (FOLDER / f"{name}.cap").read_text() == written(made(name).capture)
    assert (FOLDER / f"{name}.readings").read_text() == made(name).text


@pytest.mark.slow
async def test_an_instrument_hears_a_capture_once_and_is_then_silent(tmp_path: Path) -> None:
    file = kept(
        tmp_path, Piece(0, b"\n+000.1"), Piece(50_000_000, b"90\r\n"), Piece(90_000_000, b"-000.080\r\n")
    )
    heard = Heard()
    async with running(playing(f"capture:{file}"), free_running(0.1), heard) as instrument:
        await heard.until_readings(1)
        await heard.until_state(PortState.SILENT)
        assert heard.values == [-80_000]
        assert instrument.statistics().openings == 1


@pytest.mark.slow
async def test_what_was_answered_is_answered_again(tmp_path: Path) -> None:
    pieces = [
        Piece(0, b"read\r", sent=True),
        Piece(2_000_000_000, b"+  0.190\r"),
        Piece(3_000_000_000, b"read\r", sent=True),
        Piece(3_001_000_000, b"-  0.080\r"),
    ]
    heard = Heard()
    async with running(playing(f"capture:{kept(tmp_path, *pieces)}{SPEED}"), requested(), heard):
        await heard.until_readings(2)
    assert heard.values == [190_000, -80_000]
