from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from contract.gauge import GaugeFacts
from grading.evidence import Sweep, Thickness
from ringtrue.readings import ReadingsError, read_sweep, read_thickness


def gauge(step_nm: int) -> GaugeFacts:
    return GaugeFacts("typed", step_nm / 1e6 or 0.01, 0.015)


def sweep_of(path: Path) -> Sweep:
    return read_sweep(path, "rim", gauge=gauge, angle_u_deg=2.0)


def thickness_of(path: Path) -> Thickness:
    return read_thickness(path, gauge=gauge)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "readings.csv"


def test_a_sweep_is_read_as_it_was_barred(file: Path) -> None:
    file.write_text("angle_deg,value_mm,time_s\n10,0.12,5\n370.5,-0.1,6.5\n5,.02,6.5\n")
    sweep = sweep_of(file)
    assert sweep.surface == "rim"
    assert sweep.angle_deg.tolist() == [10.0, 370.5, 5.0]
    assert sweep.value_mm.tolist() == [0.12, -0.1, 0.02]
    assert sweep.time_s.tolist() == [0.0, 1.5, 1.5]
    assert sweep.angle_u_deg.tolist() == [2.0] * 3
    assert sweep.gauge.resolution_mm == 0.02


@pytest.mark.parametrize(
    "text",
    [
        "\ufeffangle_deg,value_mm\n0,0.1\n90,0.2\n",
        "angle_deg,value_mm\r\n0,0.1\r\n90,0.2\r\n",
        "angle_deg,value_mm\r0,0.1\r90,0.2",
        "# taken in the rain\n\n angle_deg , value_mm \n  # first half\n 0, +0.1\n90 ,2e-1\n\n",
        "value_mm,angle_deg\n0.1,0\n0.2,90\n",
        "angle_deg,value_mm,,\n0,0.1,,\n90,0.2,,\n,,,\n",
        '"angle_deg","value_mm"\r\n"0","0.1"\r\n90,"0.2"\r\n',
        "\ufeffangle_deg;value_mm;\r\n0;0,1;\r\n90,0;0,2;\r\n",
        "sep=;\nangle_deg;value_mm\n0;.1\n90;0.2\n",
        "angle_deg\tvalue_mm\n0\t0,1\n90\t0,2\n",
        '"# check: rim",\nangle_deg,value_mm\n0,0.1\n90,0.2\n',
    ],
)
def test_what_an_editor_or_a_spreadsheet_does_to_a_file_changes_nothing(file: Path, text: str) -> None:
    file.write_bytes(text.encode())
    sweep = sweep_of(file)
    assert sweep.angle_deg.tolist() == [0.0, 90.0]
    assert sweep.value_mm.tolist() == [0.1, 0.2]


def test_a_minus_as_a_word_processor_sets_it_is_one(file: Path) -> None:
    file.write_text("angle_deg;value_mm\n\N{MINUS SIGN}90;\N{MINUS SIGN}0,1\n0;-0,2\n")
    sweep = sweep_of(file)
    assert sweep.angle_deg.tolist() == [-90.0, 0.0]
    assert sweep.value_mm.tolist() == [-0.1, -0.2]


def test_what_the_needle_showed_between_stops_is_read_where_somebody_looked(file: Path) -> None:
    file.write_text("angle_deg,value_mm,low_mm,high_mm\n0,0.1,,\n45,0.2,0.05,0.4\n90,0.3,,0.4\n")
    sweep = sweep_of(file)
    assert sweep.low_mm is not None
    assert sweep.high_mm is not None
    np.testing.assert_array_equal(sweep.low_mm, [np.nan, 0.05, np.nan])
    np.testing.assert_array_equal(sweep.high_mm, [np.nan, 0.4, 0.4])
    file.write_text("angle_deg,value_mm,low_mm\n0,0.1,\n")
    assert (sweep_of(file).low_mm, sweep_of(file).high_mm) == (None, None)


@given(st.lists(st.integers(-1_000_000_000, 1_000_000_000), min_size=1, max_size=20))
def test_thickness_readings_are_exact_to_the_nanometre(
    tmp_path_factory: pytest.TempPathFactory, nm: list[int]
) -> None:
    file = tmp_path_factory.mktemp("t") / "t.csv"
    rows = "\n".join(f"90,inner,{Decimal(value) / 1_000_000:f}" for value in nm)
    file.write_text(f"station_deg,radius,value_mm\n{rows}\n")
    assert [reading.value_nm for reading in thickness_of(file).readings] == nm


def test_stations_lie_within_one_turn(file: Path) -> None:
    file.write_text("station_deg,radius,value_mm\n360,outer,25\n-90,inner,25\n")
    assert [reading.station_deg for reading in thickness_of(file).readings] == [0.0, 270.0]


def test_a_header_without_rows_is_a_sweep_without_readings(file: Path) -> None:
    file.write_text("angle_deg,value_mm\n")
    sweep = sweep_of(file)
    assert sweep.angle_deg.shape == sweep.value_mm.shape == sweep.time_s.shape == (0,)


@pytest.mark.parametrize(
    "header",
    ["Angle_Deg,VALUE_MM", " angle_deg , value_mm ", '" Angle_deg","Value_mm "', "Angle_Deg;Value_mm"],
)
def test_columns_may_be_named_in_capitals_and_with_blanks_around(file: Path, header: str) -> None:
    parted = ";" if ";" in header else ","
    file.write_text(f"{header}\n0{parted}0.1\n45{parted}0.2\n")
    assert sweep_of(file).value_mm.tolist() == [0.1, 0.2]


GOOD = "angle_deg,value_mm\n0,0.1\n"
WANTED = ":1: header: expected the header angle_deg,value_mm[,time_s][,low_mm][,high_mm], "


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"", ": file: expected the header angle_deg,value_mm, found no line of text"),
        (b"# nothing\n\n", ": file: expected the header angle_deg,value_mm, found no line of text"),
        (b"0,0.1\n45,0.2\n", WANTED + "found '0,0.1'"),
        (
            b"angle,value\n",
            WANTED + "found 'angle,value'",
        ),
        (b"angle_deg,value_mm,mood\n", "found 'angle_deg,value_mm,mood', of which take 'mood' out"),
        (b"angle_deg;value_mm;Mood;time_s;by\n", ", of which take 'mood', 'by' out"),
        (b"angle_deg,value_mm,Value_MM\n", "found 'angle_deg,value_mm,Value_MM'"),
        (b"angle_deg,value_mm,value_mm\n", "found 'angle_deg,value_mm,value_mm'"),
        (
            b"angle_deg;value_mm\n0;1.000,1\n",
            ":2: value_mm: expected a length in mm such as 0.12, found '1.000,1'",
        ),
        (
            b"angle_deg;value_mm\n0;0,1\n45;0.2\n",
            ":3: value_mm: expected decimal commas as above, or nowhere, found '0.2'",
        ),
        (b"angle_deg;value_mm\n0,5,0,1\n", ":2: row: expected 2 cells: angle_deg,value_mm, parted as in the"),
        (
            GOOD.encode() + b'10,"0,12"\n',
            ":3: value_mm: expected a length in mm such as 0.12, with a point, as commas part the cells",
        ),
        (GOOD.encode() + b'10,"0.12\n', ":3: row: expected quoted cells that end where they begin"),
        (b"# check: face\n" + GOOD.encode(), ":1: check: expected readings of rim, as --check says"),
        (
            b"angle_deg,value_mm,low_mm\n0,0.1,\n9,0.2,0.5\n",
            ":3: low_mm: expected at most value_mm, 0.2, found 0.5",
        ),
        (
            b"angle_deg,value_mm,high_mm\n0,0.1,\n9,0.3,0.1\n",
            ":3: high_mm: expected at least value_mm, 0.3, found 0.1",
        ),
        (
            GOOD.encode() + b"10,0,12\n",
            ":3: row: expected 2 cells: angle_deg,value_mm, numbers with a point such",
        ),
        (GOOD.encode() + b"10,0,12\n", "found '10,0,12' with decimal commas"),
        (
            GOOD.encode() + b"10;0,12\n",
            ":3: angle_deg: expected an angle in degrees such as 12.5, found '10;0'",
        ),
        (GOOD.encode() + b"10;0.12\n", "found '10;0.12' with semicolons"),
        (GOOD.encode() + b"10\n", ":3: row: expected 2 cells: angle_deg,value_mm, found '10'"),
        (GOOD.encode() + b"10,\n", ":3: value_mm: expected a length in mm such as 0.12, found nothing"),
        (
            GOOD.encode() + b"ten,0.1\n",
            ":3: angle_deg: expected an angle in degrees such as 12.5, found 'ten'",
        ),
        (GOOD.encode() + b"10,nan\n", "found 'nan'"),
        (GOOD.encode() + b"10,inf\n", "found 'inf'"),
        (GOOD.encode() + b"10,1_0\n", "found '1_0'"),
        (GOOD.encode() + b"10,0x1\n", "found '0x1'"),
        (GOOD.encode() + b"10,1e400\n", ":3: value_mm: expected a length in mm between -1000 and 1000"),
        (GOOD.encode() + b"1e300,0\n", ":3: angle_deg: expected an angle in degrees between"),
        (GOOD.encode() + b"10,0.1\x00\n", "found '0.1\\x00'"),
        (GOOD.encode() + b"10,0.1 mm\n", "found '0.1 mm'"),
        (
            GOOD.encode() + b"10,\xb50.1\n",
            ":3: text: expected UTF-8 text (save the file as CSV, UTF-8), found the",
        ),
        (GOOD.encode() + b"10,\x1b[31m0.1\n", "found '\\x1b[31m0.1'"),
        (b"\xff\xfea\x00n\x00", ":1: text: expected UTF-8 text"),
        (
            b"angle_deg,value_mm,time_s\n0,0,2\n1,0,1\n",
            ":3: time_s: expected times in the order of the readings",
        ),
        (GOOD.encode() + b"9" * 5000 + b",0.1\n", "found"),
    ],
)
def test_a_mistake_is_one_plain_line_with_file_line_found_and_expected(
    file: Path, raw: bytes, message: str
) -> None:
    file.write_bytes(raw)
    with pytest.raises(ReadingsError) as refused:
        sweep_of(file)
    text = str(refused.value)
    assert message in text
    assert text.startswith(str(file))
    assert "\n" not in text
    assert text.isprintable()
    assert len(text) < 300 + len(str(file))
    assert refused.value.exit_code == 3


@pytest.mark.parametrize("radius", ["Outer", "middle", ""])
def test_a_radius_is_outer_or_inner(file: Path, radius: str) -> None:
    file.write_text(f"station_deg,radius,value_mm\n0,{radius},25\n")
    with pytest.raises(ReadingsError, match=":2: radius: expected outer or inner"):
        thickness_of(file)


def refused(file: Path) -> str | None:
    """Why the file is no sweep; None where it is one."""
    try:
        sweep_of(file)
    except ReadingsError as error:
        return str(error)
    return None


@given(st.binary(max_size=300))
def test_no_bytes_whatever_do_anything_but_read_or_be_refused(
    tmp_path_factory: pytest.TempPathFactory, raw: bytes
) -> None:
    file = tmp_path_factory.mktemp("b") / "b.csv"
    file.write_bytes(GOOD.encode() + raw)
    refusal = refused(file)
    if refusal is None:
        assert np.isfinite(sweep_of(file).value_mm).all()
    else:
        assert len(refusal.splitlines()) == 1


NUMBER = st.from_regex(r"[+-]?([0-9]{1,3}(\.[0-9]{0,7})?|\.[0-9]{1,7})", fullmatch=True)


@given(st.lists(st.tuples(NUMBER, NUMBER), min_size=1, max_size=20))
def test_a_file_of_nothing_but_numbers_is_read_as_its_rows_are(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, str]]
) -> None:
    """All columns at once, or row by row, as a comment makes it: not a bit differs."""
    file = tmp_path_factory.getbasetemp() / "both.csv"
    text = "angle_deg,value_mm\n" + "".join(f"{angle},{value}\n" for angle, value in rows)
    file.write_text(text)
    at_once = sweep_of(file)
    file.write_text(f"{text}# in the rain\n")
    by_rows = sweep_of(file)
    assert at_once.gauge == by_rows.gauge
    for name in ("angle_deg", "value_mm", "angle_u_deg", "time_s"):
        assert getattr(at_once, name).tobytes() == getattr(by_rows, name).tobytes()


def test_a_mistake_among_nothing_but_numbers_is_told_by_its_row(file: Path) -> None:
    for cell, said in (("1000.5", "between -1000 and 1000"), ("--1", "a length in mm"), ("", "a length")):
        file.write_text(f"angle_deg,value_mm\n0,0.1\n90,{cell}\n180,0.2\n")
        with pytest.raises(ReadingsError, match=rf"line 3.*value_mm.*{said}|3: value_mm.*{said}"):
            sweep_of(file)
    file.write_text("angle_deg,value_mm,time_s\n0,0.1,2\n90,0.2,1\n")
    with pytest.raises(ReadingsError, match="1 after 2"):
        sweep_of(file)
